"""The uncertainty of plateau and held gas against draws of everything uncertain.

The propagation of distributions of JCGM 101:2008, with its own rule for validating first order
(8.2) at one significant digit: each estimate is made anew from drawn noise, zero, time constants
and start, and both ends of the 95 % interval must agree.
"""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from ebbline.core.breath.held import HeldGas
from ebbline.core.breath.plateau import fit_plateau
from ebbline.core.breath.response import Response, step_response
from ebbline.core.breath.sensor import Sensor
from tests.golden.test_additive_examples import tolerance

Float = NDArray[np.float64]

DRAWS = 4000


def sensor(regime: str, tau_s: float, tau2_s: float) -> Sensor:
    """Return what is known of a sensor: 2 % of its time constants, 0.05 s of its delay."""
    return Sensor(
        regime="stream" if regime == "stream" else "chamber",
        response=Response(delay_s=0.3, tau_s=tau_s, tau2_s=tau2_s),
        u_tau_fraction=0.02,
        u_delay_s=0.05,
        noise=1.0,
        noise_fraction=0.0,
        resolution=0.0,
        u_drift_per_h=0.0,
        u_gain_fraction=None,
        lowest=-50.0,
        highest=500.0,
    )


def agrees(u: float, errors: Float) -> None:
    """Assert that the ends of first order and of the draws agree to one digit of u."""
    low, high = np.quantile(errors, [0.025, 0.975])
    # The draws' own ends scatter: two standard errors of a quantile of a normal variable.
    scatter = 2.0 * 2.67 * u / math.sqrt(errors.size)
    delta = tolerance(u, 1) + scatter
    assert abs(-1.96 * u - low) <= delta
    assert abs(1.96 * u - high) <= delta


@pytest.mark.parametrize(("gas_ppm", "until_s"), [(100.0, 12.0), (100.0, 30.0), (15.0, 20.0)])
def test_held_gas_scatters_as_its_uncertainty_says(gas_ppm: float, until_s: float) -> None:
    """Two poles of 8 s and 2 s, at 5 Hz; start unknown to 0.2 s, zero to 0.3 ppm."""
    known = sensor("chamber", 8.0, 2.0)
    rng = np.random.default_rng(int(until_s))
    time_s = np.arange(0.2, until_s, 0.2)
    values, u = np.empty(DRAWS), np.empty(DRAWS)
    for i in range(DRAWS):
        factor = 1.0 + 0.02 * rng.standard_normal()
        true = Response(
            delay_s=0.3 + 0.05 * rng.standard_normal(), tau_s=8.0 * factor, tau2_s=2.0 * factor
        )
        late_s = 0.2 * rng.standard_normal()
        shown = gas_ppm * step_response(true, time_s - late_s)
        shown += 0.3 * rng.standard_normal() + rng.standard_normal(time_s.size)
        gas = HeldGas(known, start_s=0.0, u_start_s=0.2, u_zero=0.3, fewest=3)
        running = gas.feed(time_s, shown)
        values[i], u[i] = running.value[-1], running.u[-1]
    agrees(float(np.median(u)), values - gas_ppm)
    assert np.mean(np.abs(values - gas_ppm) <= 1.96 * u) == pytest.approx(0.95, abs=0.02)


@pytest.mark.parametrize("span_s", [2.0, 6.0])
def test_a_plateau_scatters_as_its_uncertainty_says(span_s: float) -> None:
    """A line of unknown slope after a front through a lag of 0.3 s, at 10 Hz."""
    known = sensor("stream", 0.3, 0.1)
    rng = np.random.default_rng(int(span_s))
    time_s = np.arange(0.0, span_s + 1.0, 0.1)
    level, lag_s = 80.0, 0.4
    values, u = np.empty(DRAWS), np.empty(DRAWS)
    for i in range(DRAWS):
        slope = level * (0.0025 + 0.002 * rng.standard_normal())
        line = level + slope * (time_s - 0.3 - lag_s - (span_s + 0.5))
        # What is left of the front dies away with the two time constants.
        left = level * (1.0 - step_response(known.response, time_s))
        shown = line - left + rng.standard_normal(time_s.size)
        plateau = fit_plateau(
            time_s,
            shown,
            known,
            onset_s=0.0,
            window_s=(0.7, span_s + 0.5),
            end_s=span_s + 0.5,
            u_zero=0.0,
            slope_fraction_per_s=0.0025,
            u_slope_fraction_per_s=0.002,
            fewest=3,
        )
        assert plateau is not None
        values[i], u[i] = plateau.value, plateau.budget.total
    agrees(float(np.median(u)), values - level)
    assert np.mean(np.abs(values - level) <= 1.96 * u) == pytest.approx(0.95, abs=0.02)
