import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy.signal import lsim

from ebbline.core.errors import SettingError
from ebbline.simulate.lines import Lines, Sampling, draw_lines
from ebbline.simulate.sensor import Float, VirtualSensor, held_gas, respond, sense, t90_s

PERFECT = VirtualSensor(
    regime="stream",
    delay_s=0.0,
    tau_s=0.0,
    tau2_s=0.0,
    noise=0.0,
    noise_fraction=0.0,
    offset=0.0,
    drift_per_h=0.0,
    gain_error=0.0,
    step=0.0,
    lowest=-1e6,
    highest=1e6,
    cross_factor=0.0,
)
GRID = np.arange(0.0, 60.0005, 0.005)
EVERY = Lines(time_s=GRID[::20], dropped=np.zeros(len(GRID[::20]), dtype=np.bool_))


def shown(
    sensor: VirtualSensor, truth: Float, *, seed: int = 1, other: Float | None = None
) -> Float:
    """Return what a sensor shows at every 20th point of the grid."""
    rng = np.random.default_rng(seed)
    found = sense(rng, time_s=GRID, truth=truth, other=other, sensor=sensor, lines=EVERY)
    return found.shown


def wave() -> Float:
    """Return a signal with steps, ramps and a long wave."""
    return np.where(GRID < 5.0, 2.0, 30.0 + 8.0 * np.sin(GRID / 3.0) + np.maximum(GRID - 40.0, 0.0))


@pytest.mark.parametrize("tau_s", [0.003, 0.05, 0.4343, 4.343, 26.06])
def test_one_pole_is_the_one_of_scipy(tau_s: float) -> None:
    """lsim takes a signal as straight between its points, as this filter does."""
    system = ([1.0], [tau_s, 1.0])
    signal = wave()
    expected = lsim(system, signal - signal[0], GRID)[1] + signal[0]
    assert_allclose(respond(GRID, signal, tau_s), expected, atol=1e-7)


@pytest.mark.parametrize("tau_s", [0.05, 4.343, 26.06])
def test_one_pole_is_its_recursion_step_by_step(tau_s: float) -> None:
    """The difference equation as it is written, to rounding."""
    alpha = math.exp(-0.005 / tau_s)
    keep = (1.0 - alpha) * tau_s / 0.005
    signal = wave()
    expected = [signal[0]]
    for before, now in pairwise(signal):
        expected.append(alpha * expected[-1] + (1.0 - keep) * now + (keep - alpha) * before)
    assert_allclose(respond(GRID, signal, tau_s), expected, atol=1e-9)


def test_a_steady_gas_is_shown_as_it_is_until_it_changes() -> None:
    """To the last bit, so that room air before a blow is room air."""
    step = held_gas(GRID, before=20.87, held=14.2, from_s=30.0)
    lagged = respond(GRID, step, 3.0)
    assert_array_equal(lagged[GRID < 30.0], 20.87)
    assert lagged[-1] < 14.3


def test_two_poles_in_a_row_are_the_second_order_of_scipy() -> None:
    """The second pole's input is not straight between points; a fine grid makes that small."""
    tau, tau2 = 0.8, 0.3
    system = ([1.0], [tau * tau2, tau + tau2, 1.0])
    signal = wave()
    expected = lsim(system, signal - signal[0], GRID)[1] + signal[0]
    found = shown(replace(PERFECT, tau_s=tau, tau2_s=tau2), signal)
    assert_allclose(found, expected[::20], atol=2e-3)


@pytest.mark.parametrize(("tau_s", "tau2_s"), [(4.34294, 0.0), (3.0, 1.0), (2.0, 2.0), (0.1, 0.5)])
def test_the_time_to_90_percent_is_that_of_the_simulated_step(tau_s: float, tau2_s: float) -> None:
    """Measured on what the sensor shows; the delay comes on top."""
    step = held_gas(GRID, before=0.0, held=1.0, from_s=2.0)
    sensor = replace(PERFECT, regime="chamber", delay_s=1.25, tau_s=tau_s, tau2_s=tau2_s)
    lines = Lines(GRID, np.zeros(len(GRID), dtype=np.bool_))
    rng = np.random.default_rng(0)
    found = sense(rng, time_s=GRID, truth=step, other=None, sensor=sensor, lines=lines)
    reached = GRID[np.argmax(found.shown >= 0.9)]
    assert_allclose(reached - 2.0 - 1.25, t90_s(tau_s, tau2_s), atol=0.01)


def test_one_pole_reaches_90_percent_in_ln_10_time_constants() -> None:
    """And a t90 of 10 s leaves 84.15 % of the step after 8 s."""
    assert_allclose(t90_s(1.0, 0.0), math.log(10.0), rtol=1e-12)
    step = held_gas(GRID, before=0.0, held=1.0, from_s=0.0025)
    lagged = respond(GRID, step, 10.0 / math.log(10.0))
    assert_allclose(lagged[1600], 0.8415, atol=3e-4)
    assert_allclose(lagged[[1000, 2000, 3000, 4000]], [0.683772, 0.9, 0.968377, 0.99], atol=3e-4)


def test_a_ramp_is_read_low_by_rate_times_time_constant() -> None:
    """Once the response has settled."""
    assert_allclose(respond(GRID, 0.5 * GRID, 2.0)[-1], 0.5 * (60.0 - 2.0), rtol=1e-9)


def test_a_perfect_sensor_shows_the_truth_and_keeps_it_beside() -> None:
    """Nothing is lost on the way."""
    rng = np.random.default_rng(0)
    found = sense(rng, time_s=GRID, truth=wave(), other=None, sensor=PERFECT, lines=EVERY)
    assert_allclose(found.shown, wave()[::20], rtol=1e-12)
    assert_array_equal(found.truth, wave()[::20])
    assert_array_equal(found.time_s, GRID[::20])
    assert not found.saturated.any()


def test_gain_offset_and_drift_are_added_to_the_lagged_value() -> None:
    """36 ppm an hour are 0.6 ppm after a minute."""
    sensor = replace(PERFECT, gain_error=0.1, offset=-2.0, drift_per_h=36.0)
    assert_allclose(shown(sensor, np.full_like(GRID, 50.0)), 53.0 + 0.01 * EVERY.time_s, rtol=1e-9)


def test_another_gas_is_read_as_this_one() -> None:
    """A fifth of it, through the same response."""
    sensor = replace(PERFECT, cross_factor=0.2, tau_s=3.0)
    found = shown(sensor, np.full_like(GRID, 10.0), other=wave())
    assert_allclose(found, 10.0 + 0.2 * respond(GRID, wave(), 3.0)[::20], rtol=1e-9)


@pytest.mark.parametrize(("level", "sd"), [(0.0, 1.5), (40.0, math.hypot(1.5, 2.0))])
def test_the_scatter_over_seeds_is_the_noise_that_was_set(level: float, sd: float) -> None:
    """1.5 ppm and 5 % of the value; neighbours in time are independent."""
    sensor = replace(PERFECT, noise=1.5, noise_fraction=0.05)
    off = np.array([shown(sensor, np.full_like(GRID, level), seed=s) - level for s in range(40)])
    assert_allclose(off.std(), sd, rtol=0.02)
    assert_allclose(off.mean(), 0.0, atol=0.03)
    assert abs(float(np.corrcoef(off[:, :-1].ravel(), off[:, 1:].ravel())[0, 1])) < 0.02


def test_values_are_whole_steps_of_the_display() -> None:
    """A fine noise over many steps leaves an error spread evenly over one of them."""
    sensor = replace(PERFECT, step=0.5)
    values = shown(sensor, 0.37 * GRID)
    assert_allclose(values / 0.5, np.round(values / 0.5), atol=1e-9)
    off = values - 0.37 * EVERY.time_s
    assert np.abs(off).max() <= 0.25 + 1e-9
    assert_allclose(off.std(), 0.5 / math.sqrt(12.0), rtol=0.05)


def test_beyond_its_range_a_sensor_shows_the_end_of_it() -> None:
    """And the truth says so."""
    sensor = replace(PERFECT, lowest=0.0, highest=20.0)
    rng = np.random.default_rng(0)
    truth = GRID - 10.0
    found = sense(rng, time_s=GRID, truth=truth, other=None, sensor=sensor, lines=EVERY)
    assert_array_equal(found.shown, np.clip(truth[::20], 0.0, 20.0))
    assert_array_equal(found.saturated, (truth[::20] < 0.0) | (truth[::20] > 20.0))


def test_a_dropped_line_shows_nothing() -> None:
    """Not zero, and not the value before."""
    lines = draw_lines(np.random.default_rng(3), Sampling(100.0, 0.0, 0.25), 60.0)
    rng = np.random.default_rng(0)
    found = sense(rng, time_s=GRID, truth=wave(), other=None, sensor=PERFECT, lines=lines)
    assert_array_equal(np.isnan(found.shown), lines.dropped)
    assert_allclose(lines.dropped.mean(), 0.25, atol=0.02)
    assert not np.isnan(found.truth).any()


@settings(deadline=None, max_examples=60)
@given(
    tau=st.floats(0.0, 60.0), scale=st.floats(-5.0, 5.0), shift=st.floats(-100.0, 100.0),
    onset=st.floats(0.0, 50.0),
)  # fmt: skip
def test_the_response_is_linear_and_stays_between_the_values_of_a_step(
    tau: float, scale: float, shift: float, onset: float
) -> None:
    """For every time constant."""
    step = held_gas(GRID, before=0.0, held=1.0, from_s=onset)
    lagged = respond(GRID, step, tau)
    assert lagged.min() >= -1e-9
    assert lagged.max() <= 1.0 + 1e-9
    assert np.all(np.diff(lagged) >= -1e-9)
    assert_allclose(respond(GRID, scale * step + shift, tau), scale * lagged + shift, atol=1e-7)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"tau_s": -1.0}, "sensor tau_s cannot be used; allowed: 0 or more; came: -1"),
        ({"noise": math.nan}, "sensor noise cannot be used; allowed: 0 or more; came: nan"),
        ({"step": math.inf}, "sensor step cannot be used; allowed: 0 or more; came: inf"),
        (
            {"lowest": 5.0, "highest": 5.0},
            "sensor range cannot be used; allowed: lowest below highest; came: 5 to 5",
        ),
    ],
)
def test_a_sensor_that_cannot_be_computed_with_is_refused(
    change: dict[str, Any], text: str
) -> None:
    """The message names the setting."""
    with pytest.raises(SettingError) as caught:
        replace(PERFECT, **change)
    assert str(caught.value) == f"virtual {text}"


@pytest.mark.parametrize("time_s", [[0.0], [0.0, 1.0, 3.0], [0.0, 1.0, math.nan]])
def test_a_grid_that_is_not_even_is_refused(time_s: list[float]) -> None:
    """The response is exact on an even one."""
    with pytest.raises(SettingError) as caught:
        respond(time_s, np.zeros(len(time_s)), 1.0)
    assert str(caught.value) == (
        "virtual sensor grid cannot be used; allowed: two or more points in even steps; came: "
        f"{len(time_s)} points"
    )
