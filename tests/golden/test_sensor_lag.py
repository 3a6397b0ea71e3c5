"""Sensor lag against algebra and against scipy.signal."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.signal import lfilter, lsim, savgol_filter

from ebbline.core.breath.lag import lag, unlag, unlag_exact
from ebbline.core.breath.response import Response, noise_gain, rise_10_90_s, step_response, t90_s

T90_10 = Response(delay_s=0.0, tau_s=10.0 / math.log(10.0), tau2_s=0.0)


def test_a_t90_of_10_s_is_a_time_constant_of_4_34294_s() -> None:
    """Source: S = 1 - exp(-t/tau), so t90 = ln 10 tau."""
    assert_allclose(T90_10.tau_s, 4.34294, atol=5e-6)
    assert_allclose(t90_s(T90_10), 10.0)
    shown = step_response(T90_10, np.array([5.0, 10.0, 15.0, 20.0]))
    assert_allclose(shown, [0.683772, 0.900000, 0.968377, 0.990000], atol=5e-7)


def test_the_rise_from_10_to_90_percent_takes_ln_9_time_constants() -> None:
    """Source: check value 2.2 tau (textbook); ln 9 = 2.1972 exactly."""
    assert_allclose(rise_10_90_s(T90_10) / T90_10.tau_s, math.log(9.0))


def test_two_equal_poles_take_3_8897_time_constants_to_90_percent() -> None:
    """Source: 1 - (1 + x) exp(-x) = 0.9, the 90 % quantile of the gamma distribution of shape 2."""
    from scipy.stats import gamma

    equal = Response(delay_s=0.0, tau_s=2.0, tau2_s=2.0)
    assert_allclose(t90_s(equal), 2.0 * gamma.ppf(0.9, 2.0), rtol=1e-9)


def test_the_exact_inverse_of_a_sampled_step_is_1_from_the_second_sample_on() -> None:
    """Source: x[n] = (y[n] - a y[n-1])/(1 - a), by algebra."""
    shown = step_response(T90_10, np.arange(0.0, 20.0, 0.1))
    assert_allclose(unlag_exact(shown, dt_s=0.1, tau_s=T90_10.tau_s)[1:], 1.0)


def test_the_noise_gain_at_10_hz_and_a_t90_of_1_s_is_6_209() -> None:
    """Source: sqrt(1 + a²)/(1 - a) with a = exp(-0.1 ln 10) = 0.7943."""
    assert_allclose(noise_gain(0.1, 1.0 / math.log(10.0)), 6.209, atol=0.0005)


def test_8_s_of_gas_at_a_t90_of_10_s_read_84_15_percent() -> None:
    """Source: 1 - 10^(-0.8)."""
    assert_allclose(step_response(T90_10, np.array([8.0]))[0], 0.8415, atol=0.00005)


def test_one_pole_shows_what_a_digital_filter_gives_for_a_held_gas() -> None:
    """Source: scipy.signal.lfilter([1 - a], [1, -a]) is exact for a gas held between samples.

    Straight pieces with a jump over a microsecond hold it just as well, to one part in a million.
    """
    alpha = math.exp(-0.1 / T90_10.tau_s)
    held = np.random.default_rng(9).uniform(0.0, 50.0, 60)
    wanted = lfilter([1.0 - alpha], [1.0, -alpha], held)
    start = 0.1 * np.arange(60)
    time = np.stack([start, start + 0.1 - 1e-6], axis=1).ravel()
    time, gas = np.append(time - 0.1, 5.9), np.append(np.repeat(held, 2), held[-1])
    # The first value is the state before the record, which the filter has at 0.
    time, gas = np.insert(time, 0, -0.1 - 1e-6), np.insert(gas, 0, 0.0)
    shown = np.interp(start, time, lag(time, gas, T90_10))
    assert_allclose(shown, wanted, atol=5e-4)


@pytest.mark.parametrize(("tau_s", "tau2_s"), [(4.0, 1.5), (2.0, 2.0), (4.0, 0.05)])
def test_two_poles_show_what_the_state_space_gives(tau_s: float, tau2_s: float) -> None:
    """Source: scipy.signal.lsim, which takes the input as straight between samples."""
    system = (
        np.array([[-1.0 / tau_s, 0.0], [1.0 / tau2_s, -1.0 / tau2_s]]),
        np.array([[1.0 / tau_s], [0.0]]),
        np.array([[0.0, 1.0]]),
        np.array([[0.0]]),
    )
    time = np.arange(0.0, 60.0, 0.1)
    gas = np.cumsum(np.random.default_rng(6).normal(size=time.size))
    gas -= gas[0]
    _, wanted, _ = lsim(system, gas, time)
    response = Response(delay_s=0.0, tau_s=tau_s, tau2_s=tau2_s)
    assert_allclose(lag(time, gas, response), wanted, atol=1e-10)


def test_least_squares_inverts_at_least_as_well_as_a_savitzky_golay_filter() -> None:
    """Source: scipy.signal.savgol_filter, x = y + tau dy/dt, quadratic, at its best window here.

    A slow sensor (t90 10 s), a breath from 10 to 25 s, noise of sd 0.3 ppm; rms error over 15
    seeded traces, each method at the best of its settings.
    """
    fine = np.arange(0.0, 30.0, 0.01)
    plateau = 30.0 + 0.32 * (fine - 10.0)
    breath = np.where(fine < 25.0, plateau / (1.0 + np.exp(-(fine - 10.375) / 0.075)), 0.0)
    time, gas, clean = fine[::10], breath[::10], lag(fine, breath, T90_10)[::10]

    def error(of: str, setting: float) -> float:
        squares = []
        for seed in range(15):
            shown = clean + np.random.default_rng(seed).normal(0.0, 0.3, time.size)
            if of == "least squares":
                found = unlag(time, shown, T90_10, smoothing_s=setting).value
            else:
                smooth = savgol_filter(shown, int(setting), 2)
                rate = savgol_filter(shown, int(setting), 2, deriv=1, delta=0.1)
                found = smooth + T90_10.tau_s * rate
            squares.append(np.mean((found - gas)[5:-5] ** 2))
        return float(np.sqrt(np.mean(squares)))

    best = min(error("least squares", scale) for scale in (0.15, 0.2, 0.25, 0.3))
    other = min(error("savitzky-golay", width) for width in (5, 7, 9, 11, 13, 15))
    assert best < other
    assert_allclose([best, other], [2.15, 2.2], atol=0.1)
