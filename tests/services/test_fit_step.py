import math
from typing import Literal

import numpy as np
import pytest

from ebbline.core.breath.response import Response, step_response
from ebbline.core.breath.trace import Trace
from ebbline.core.errors import InputError
from ebbline.services.fit_step import FitStep, StepFit
from tests.services.instruments import ARecord, Shelf, an_instrument


def a_step(response: Response, *, at_s: float = 20.0, end_s: float = 120.0) -> ARecord:
    """Return a record of H2 that steps from 0 to 50 ppm, with 0.3 ppm of noise; seed fixed."""
    time_s = np.arange(0.0, end_s, 0.5)
    noise = 0.3 * np.random.default_rng(7).standard_normal(time_s.size)
    shown = 50.0 * step_response(response, time_s - at_s) + noise
    trace = Trace(
        time_s=time_s, h2_ppm=shown, ch4_ppm=None, o2_pct=None, co2_pct=None, flow_l_per_s=None
    )
    return ARecord("step.csv", trace, invented=True)


def fitted(
    response: Response, *, poles: Literal[1, 2], channel: str = "h2_ppm", at_s: float = 20.0
) -> StepFit:
    """Return what is fitted to a step of such a sensor."""
    shelf = Shelf(an_instrument(), a_step(response))
    return FitStep(shelf.read_trace)("step.csv", channel=channel, at_s=at_s, poles=poles)


ONE = Response(delay_s=1.0, tau_s=8.0, tau2_s=0.0)
TWO = Response(delay_s=1.0, tau_s=8.0, tau2_s=3.0)


def test_a_response_is_found_within_its_uncertainty() -> None:
    """Within four standard uncertainties, of a record with noise."""
    found = fitted(ONE, poles=1)
    fit = found.fit
    assert abs(fit.response.tau_s - 8.0) < 4.0 * fit.u_tau_s
    assert abs(fit.response.delay_s - 1.0) < 4.0 * fit.u_delay_s
    assert fit.residual_sd == pytest.approx(0.3, rel=0.15)
    assert (found.file, found.channel, found.invented) == ("step.csv", "h2_ppm", True)


def test_of_one_pole_t90_is_ln_10_and_the_rise_ln_9_time_constants() -> None:
    """And its uncertainty goes with that of the time constant."""
    found = fitted(ONE, poles=1)
    tau_s, u_tau_s = found.fit.response.tau_s, found.fit.u_tau_s
    assert found.t90_s == pytest.approx(math.log(10.0) * tau_s, rel=1e-12)
    assert found.rise_10_90_s == pytest.approx(math.log(9.0) * tau_s, rel=1e-12)
    assert found.settled_s == pytest.approx(
        found.fit.response.delay_s + math.log(100.0) * tau_s, rel=1e-12
    )
    assert found.u_t90_s == pytest.approx(math.log(10.0) * u_tau_s, rel=1e-6)
    assert found.u_tau_fraction == pytest.approx(u_tau_s / tau_s, rel=1e-12)


def test_of_two_poles_the_sum_of_the_time_constants_is_surer_than_either() -> None:
    """They are fitted against each other; u follows from draws about the fit as well."""
    found = fitted(TWO, poles=2)
    response, taus = found.fit.response, found.fit.covariance[1:, 1:]
    whole_s = response.tau_s + response.tau2_s
    assert found.u_tau_fraction * whole_s < found.fit.u_tau_s
    # A quarter of the spread keeps the draws where t90 is a straight line in the time constants.
    drawn = np.random.default_rng(3).multivariate_normal(
        (response.tau_s, response.tau2_s), taus / 16.0, 4000
    )
    from ebbline.core.breath.response import t90_s

    t90s = [t90_s(Response(delay_s=0.0, tau_s=a, tau2_s=b)) for a, b in drawn]
    assert 4.0 * float(np.std(t90s)) == pytest.approx(found.u_t90_s, rel=0.08)


def test_a_channel_that_is_not_there_is_refused() -> None:
    """With those that are."""
    with pytest.raises(InputError) as caught:
        fitted(ONE, poles=1, channel="h2")
    assert str(caught.value) == ("step.csv: no such channel to fit; allowed: h2_ppm; came: h2")


def test_a_record_without_a_step_there_is_refused_by_file_and_channel() -> None:
    """Here the step is said to be after the end."""
    with pytest.raises(InputError, match=r"^step\.csv, h2_ppm: response fit: the step is at the"):
        fitted(ONE, poles=1, at_s=500.0)
