import math
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from ebbline.core.breath.plateau import Plateau, fit_plateau
from ebbline.core.breath.response import Response
from tests.core.breath.givens import a_sensor, passing

Float = NDArray[np.float64]
TIME = np.arange(-20, 120) / 10.0
ONE = Response(delay_s=0.2, tau_s=0.3, tau2_s=0.0)
TWO = Response(delay_s=0.2, tau_s=0.8, tau2_s=0.3)
KINDS = [ONE, TWO]


def line(response: Response = ONE, slope: float = 0.5) -> Float:
    """Return a plateau as it is shown: breath from 0 to 10 s, 40 ppm when it ends."""
    return passing(TIME, response, room=0.0, breath=40.0, slope=slope, to_s=10.0)


def scatter(sd: float, seed: int = 8) -> Float:
    """Return noise for each sample."""
    return sd * np.random.default_rng(seed).normal(size=TIME.size)


def maybe(value: Float, response: Response = ONE, **changes: Any) -> Plateau | None:
    """Fit the plateau from 1 to 9.7 s at the inlet."""
    sensor = a_sensor(response=response, noise=changes.pop("noise", 0.5))
    given: dict[str, Any] = {
        "onset_s": 0.0,
        "window_s": (1.0, 9.7),
        "end_s": 10.0,
        "u_zero": 0.1,
        "slope_fraction_per_s": 0.0,
        "u_slope_fraction_per_s": 0.005,
        "fewest": 3,
    }
    return fit_plateau(TIME, value, sensor, **(given | changes))


def fitted(value: Float, response: Response = ONE, **changes: Any) -> Plateau:
    """Fit a plateau that is there."""
    found = maybe(value, response, **changes)
    assert found is not None
    return found


@pytest.mark.parametrize("response", KINDS)
@pytest.mark.parametrize("slope", [0.5, 0.0, -0.3])
@pytest.mark.parametrize("start_s", [0.3, 1.0])
def test_a_line_behind_a_lag_comes_back_with_its_slope(
    response: Response, slope: float, start_s: float
) -> None:
    """Early windows too, in which most of the front is still remembered; little is assumed."""
    found = fitted(
        line(response, slope),
        response,
        window_s=(start_s, 9.7),
        noise=1e-3,
        u_slope_fraction_per_s=10.0,
    )
    assert_allclose(found.value, 40.0, rtol=1e-6)
    assert_allclose(found.slope_per_s, slope, rtol=1e-6, atol=2e-6)
    assert found.misfit < 1e-3


@pytest.mark.parametrize("response", KINDS)
def test_the_lag_is_taken_out_without_amplifying_noise(response: Response) -> None:
    """The sd of 600 seeded fits is what is stated, and much less than that of one sample."""
    rng = np.random.default_rng(17)
    clean = line(response)
    fits = [fitted(clean + 0.5 * rng.normal(size=TIME.size), response) for _ in range(600)]
    sd = np.std([fit.value for fit in fits])
    assert_allclose(sd, np.sqrt(np.mean([fit.budget.noise**2 for fit in fits])), rtol=0.1)
    assert_allclose([fit.noise_gain for fit in fits], [fit.budget.noise / 0.5 for fit in fits])
    assert np.max([fit.noise_gain for fit in fits]) < 0.4
    # Drawn to a flat line by 0.5 % a second, the value is off by less than its uncertainty.
    assert abs(np.mean([fit.value for fit in fits]) - 40.0) < 0.1
    slopes = [fit.slope_per_s for fit in fits]
    assert_allclose(np.std(slopes), np.mean([fit.u_slope_per_s for fit in fits]), rtol=0.15)


@pytest.mark.parametrize("wild", [30.0, -30.0, 1000.0])
def test_one_wild_sample_hardly_moves_the_line(wild: float) -> None:
    """However wild: less than half of what noise alone does; a mean would move by wild/87."""
    clean = line() + scatter(0.5)
    spoiled = clean.copy()
    spoiled[70] += wild
    plain, found = fitted(clean), fitted(spoiled)
    assert abs(found.value - plain.value) < 0.5 * plain.budget.noise
    assert abs(found.slope_per_s - plain.slope_per_s) < 0.5 * plain.u_slope_per_s
    assert_allclose(found.largest_residual, abs(wild) / 0.5, rtol=0.1)


def test_the_uncertainty_grows_where_samples_scatter_by_more_than_the_profile_says() -> None:
    """Same draws; never smaller with more noise."""
    clean = line()
    noise = [fitted(clean + scatter(sd)).budget.noise for sd in (0.0, 0.5, 1.0, 2.0, 4.0)]
    assert np.all(np.diff(noise) > 0.0)
    assert noise[3] > 1.5 * noise[1]


def test_a_noisier_sensor_never_knows_better() -> None:
    """Profile and draws grow together."""
    clean = line()
    u = [fitted(clean + scatter(sd), noise=sd).budget.noise for sd in (0.1, 0.2, 0.5, 1.0, 2.0)]
    assert np.all(np.diff(u) > 0.0)


def test_too_few_values_are_no_plateau() -> None:
    """Gaps do not count, nor does what was at the inlet before or after."""
    shown = np.full(TIME.size, np.nan)
    shown[[40, 60, 80]] = 40.0
    shown[[5, 139]] = 40.0
    assert fitted(shown).count == 3
    assert maybe(shown, fewest=4) is None
    shown[60] = np.nan
    assert maybe(shown) is None


def test_the_window_is_at_the_inlet_with_both_ends() -> None:
    """From 1.0 to 9.7 s at the inlet: shown from 1.2 to 9.9 s, so 88 samples over 8.7 s."""
    shown = line()
    found = fitted(shown, window_s=(0.99, 9.71))
    assert found.count == 88
    assert_allclose(found.span_s, 8.7)
    other = shown.copy()
    other[(TIME < 1.15) | (TIME > 9.95)] = 99.0
    assert fitted(other, window_s=(0.99, 9.71)) == found


def test_the_level_is_the_median_and_drift_is_a_share_of_it() -> None:
    """A rise of 0.5 a second over 8.7 s at about 37.5."""
    found = fitted(line(), noise=1e-3, u_slope_fraction_per_s=10.0, window_s=(0.99, 9.71))
    used = line()[(TIME > 1.15) & (TIME < 9.95)]
    assert_allclose(found.level, np.median(used))
    assert_allclose(found.drift_share, 0.5 * 8.7 / found.level, rtol=1e-5)
    assert fitted(np.zeros(TIME.size)).drift_share == 0.0


def test_residuals_are_told_in_the_profile_s_noise() -> None:
    """One ppm up and down in turn, at a noise of 0.5: 2 and 4; the line is not moved by them."""
    shown = line(slope=0.0) + (-1.0) ** np.arange(TIME.size)
    found = fitted(shown, window_s=(5.0, 9.7))
    assert_allclose(found.largest_residual, 2.0, rtol=0.05)
    assert_allclose(found.misfit, 4.0, rtol=0.05)
    assert_allclose(found.value, 40.0, atol=0.15)


@pytest.mark.parametrize("response", KINDS)
def test_delay_and_lag_count_by_the_slope(response: Response) -> None:
    """A time error d moves a line by slope times d; u(lag) is 2 % of it and u(delay) 0.05 s."""
    found = fitted(line(response), response, noise=1e-3)
    timing_s = math.hypot(0.02 * (response.tau_s + response.tau2_s), 0.05)
    assert_allclose(found.budget.response, 0.5 * timing_s, rtol=1e-3)
    assert found.budget.zero == 0.1
    assert (found.budget.resolution, found.budget.calibration) == (0.0, 0.0)


def test_what_is_known_of_the_slope_stands_where_the_samples_say_little() -> None:
    """Three samples in 0.2 s at a noise of 0.5: the slope is what was known before looking."""
    few = np.where((TIME > 5.0) & (TIME < 5.35), 40.0, np.nan)
    known: dict[str, Any] = {"slope_fraction_per_s": 0.0025, "u_slope_fraction_per_s": 0.0025}
    found = fitted(few, **known)
    assert_allclose(found.slope_per_s, 0.1, rtol=1e-3)
    # Carried on from 5.2 s less delay and lag to the end at 10 s.
    assert_allclose(found.value, 40.0 + 0.1 * (10.0 - (5.2 - 0.2 - 0.3)), rtol=1e-3)
    # Many samples at little noise overrule it.
    assert_allclose(fitted(line(), noise=1e-3, **known).slope_per_s, 0.5, rtol=1e-5)
    assert_allclose(fitted(-few, **known).slope_per_s, -0.1, rtol=1e-3)
