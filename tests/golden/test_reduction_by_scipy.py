"""Steps of the reduction against scipy: smoothing, peaks, slopes, and the response of a sensor."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, signal, stats

from ebbline.adapters.files.library import load_library
from ebbline.core.breath.cycle import Watched
from ebbline.core.breath.front import Turn
from ebbline.core.breath.held import HeldGas
from ebbline.core.breath.plateau import fit_plateau
from ebbline.core.breath.response import (
    Response,
    step_rate_per_s,
    step_response,
    time_to_share_s,
)
from ebbline.core.breath.sensor import Sensor, rounding_left

LIBRARY = load_library()
TWO_POLES = Response(delay_s=0.4, tau_s=8.0, tau2_s=2.0)


def sensor(response: Response, *, noise: float, resolution: float = 0.0) -> Sensor:
    """Return what is known of a sensor whose time constants are exact."""
    return Sensor(
        regime="stream",
        response=response,
        u_tau_fraction=0.0,
        u_delay_s=0.0,
        noise=noise,
        noise_fraction=0.0,
        resolution=resolution,
        u_drift_per_h=0.0,
        u_gain_fraction=None,
        lowest=-50.0,
        highest=500.0,
    )


def turn(interval_s: float, noise: float) -> Turn:
    """Return what watches O2 for a turn."""
    o2 = sensor(Response(delay_s=0.0, tau_s=0.1, tau2_s=0.0), noise=noise)
    marker = LIBRARY.dilution.markers[0]
    return Turn(Watched("o2_pct", marker, o2), LIBRARY.reduction, interval_s)


def test_the_marker_is_smoothed_as_by_a_moving_average() -> None:
    """scipy.signal.lfilter with equal weights over 0.3 s, where it has all of them."""
    shares = np.random.default_rng(1).normal(1.0, 0.1, 400)
    ours = turn(0.02, 0.1).smooth(shares)
    theirs = signal.lfilter(np.full(15, 1.0 / 15.0), [1.0], shares)
    assert_allclose(ours[14:], theirs[14:], rtol=1e-12)


@pytest.mark.parametrize("inhaled", [False, True], ids=["one blow", "an inhalation in it"])
def test_an_inhalation_is_a_second_peak(inhaled: bool) -> None:
    """scipy.signal.find_peaks with the turn's own step as prominence finds one peak or two."""
    rng = np.random.default_rng(2)
    time_s = np.arange(0.0, 20.0, 0.05)
    share = np.interp(time_s, [0.0, 1.0, 1.3, 9.0, 9.3, 20.0], [0.0, 0.0, 0.98, 1.0, 0.0, 0.0])
    if inhaled:
        share = share * np.interp(time_s, [5.0, 5.2, 5.6, 5.9], [1.0, 0.3, 0.3, 1.0])
    share += rng.normal(0.0, 0.01, time_s.size)
    watch = turn(0.05, 0.07)
    watch.feed(time_s, share)
    peaks, _ = signal.find_peaks(watch.smooth(share), prominence=watch.step)
    assert peaks.size == (2 if inhaled else 1)
    assert watch.again is inhaled


def test_the_rate_of_a_step_response_is_its_derivative() -> None:
    """Integrated by scipy from the step on, it gives the response back; by lsim as an impulse."""
    for response in (TWO_POLES, Response(delay_s=0.2, tau_s=3.0, tau2_s=0.0)):
        for end_s in (1.0, 5.0, 30.0):
            whole, _ = integrate.quad(
                lambda t, r=response: float(step_rate_per_s(r, np.array([t]))[0]),
                response.delay_s,
                end_s,
                epsabs=1e-12,
            )
            expected = float(step_response(response, np.array([end_s]))[0])
            assert whole == pytest.approx(expected, abs=1e-9)
    # (8 s + 1)(2 s + 1) = 16 s² + 10 s + 1.
    system = ([1.0], [16.0, 10.0, 1.0])
    since, impulse = signal.impulse(system, T=np.linspace(0.0, 40.0, 401))
    assert_allclose(step_rate_per_s(TWO_POLES, since + 0.4), impulse, atol=1e-6)


def test_the_time_to_a_share_is_where_the_step_has_it() -> None:
    """ln 100 tau to 99 % with one pole; by the response itself with two."""
    one = Response(delay_s=0.0, tau_s=5.0, tau2_s=0.0)
    assert time_to_share_s(0.99, one) == pytest.approx(5.0 * math.log(100.0))
    for share in (0.1, 0.5, 0.9, 0.99):
        at_s = time_to_share_s(share, TWO_POLES)
        reached = step_response(TWO_POLES, np.array([0.4 + at_s]))[0]
        assert reached == pytest.approx(share, abs=1e-12)


def test_held_gas_is_found_as_by_least_squares() -> None:
    """Least squares by numpy of the same two columns, the gas and a zero."""
    rng = np.random.default_rng(4)
    time_s = np.arange(0.25, 40.0, 0.25)
    shown = 60.0 * step_response(TWO_POLES, time_s) + rng.normal(0.0, 0.8, time_s.size)
    gas = HeldGas(sensor(TWO_POLES, noise=0.8), start_s=0.0, u_start_s=0.0, u_zero=1e6, fewest=3)
    running = gas.feed(time_s, shown)
    used = time_s >= TWO_POLES.delay_s
    columns = np.stack([step_response(TWO_POLES, time_s), np.ones(time_s.size)], axis=1)[used]
    theirs, *_ = np.linalg.lstsq(columns, shown[used], rcond=None)
    covariance = 0.8**2 * np.linalg.inv(columns.T @ columns)
    assert running.value[-1] == pytest.approx(theirs[0], rel=1e-6)
    # The scatter seen may raise it a little above what the profile says.
    assert running.u[-1] == pytest.approx(math.sqrt(covariance[0, 0]), rel=0.1)
    assert running.u[-1] >= math.sqrt(covariance[0, 0]) * (1.0 - 1e-9)


def test_the_plateau_has_the_slope_of_theil_and_sen() -> None:
    """scipy.stats.theilslopes on the part past the lag, within its own 95 % interval."""
    rng = np.random.default_rng(5)
    quick = Response(delay_s=0.0, tau_s=0.05, tau2_s=0.0)
    time_s = np.arange(0.0, 6.0, 0.05)
    shown = 50.0 + 0.4 * time_s + rng.normal(0.0, 0.5, time_s.size)
    shown[::17] += rng.choice([-8.0, 8.0], shown[::17].size)
    plateau = fit_plateau(
        time_s,
        shown,
        sensor(quick, noise=0.5),
        onset_s=-2.0,
        window_s=(0.0, 6.0),
        end_s=6.0,
        u_zero=0.0,
        slope_fraction_per_s=0.0,
        u_slope_fraction_per_s=1.0,
        fewest=3,
    )
    theirs = stats.theilslopes(shown, time_s)
    assert plateau is not None
    assert theirs.low_slope <= plateau.slope_per_s <= theirs.high_slope
    assert plateau.value == pytest.approx(50.0 + 0.4 * 5.95, abs=0.4)


@pytest.mark.parametrize("ratio", [0.0, 0.1, 0.2, 0.3, 0.5])
def test_what_rounding_leaves_is_that_of_many_rounded_means(ratio: float) -> None:
    """The root mean square error of the expected rounded value, by scipy's normal distribution."""
    step = 2.0
    places = (np.arange(200) + 0.5) / 200.0
    steps = np.arange(-12, 14)
    errors = []
    for place in places:
        if ratio == 0.0:
            errors.append(round(place) - place)
            continue
        upper = stats.norm.cdf((steps + 0.5 - place) / ratio)
        lower = stats.norm.cdf((steps - 0.5 - place) / ratio)
        errors.append(float(np.sum(steps * (upper - lower))) - place)
    expected = step * math.sqrt(float(np.mean(np.square(errors))))
    given = sensor(
        Response(delay_s=0.0, tau_s=1.0, tau2_s=0.0), noise=ratio * step, resolution=step
    )
    assert rounding_left(given, 0.0) == pytest.approx(expected, rel=1e-3, abs=1e-6)
