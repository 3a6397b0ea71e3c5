import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray

from ebbline.core.breath.held import HeldGas, Running
from ebbline.core.breath.response import Response
from ebbline.core.breath.sensor import Sensor
from tests.core.breath.givens import a_sensor, step

Float = NDArray[np.float64]
TIME = np.arange(1, 600) / 10.0
ONE = Response(delay_s=0.5, tau_s=12.0, tau2_s=0.0)
TWO = Response(delay_s=0.5, tau_s=12.0, tau2_s=3.0)
KINDS = [ONE, TWO]
NAMES = ("value", "u", "share", "count", "misfit")


def a_gas(
    sensor: Sensor, *, u_start_s: float = 0.3, u_zero: float = 0.1, fewest: int = 3
) -> HeldGas:
    """Return a channel that holds gas from 0 s on, of which nothing was seen."""
    return HeldGas(sensor, start_s=0.0, u_start_s=u_start_s, u_zero=u_zero, fewest=fewest)


def slow(response: Response, noise: float = 0.5, u_tau_fraction: float = 0.02) -> Sensor:
    """Return a slow sensor."""
    return a_sensor(regime="chamber", response=response, noise=noise, u_tau_fraction=u_tau_fraction)


def noisy(response: Response, sd: float, seed: int = 1) -> Float:
    """Return what a step of 40 ppm is shown as."""
    return 40.0 * step(TIME, response) + sd * np.random.default_rng(seed).normal(size=TIME.size)


def in_parts(gas: HeldGas, shown: Float, cuts: list[int]) -> list[Float]:
    """Return the estimates after each sample of a record cut into blocks."""
    ends = [0, *cuts, TIME.size]
    parts = [
        gas.feed(TIME[start:stop], shown[start:stop])
        for start, stop in pairwise(ends)
        if stop > start
    ]
    return [np.concatenate([getattr(part, name) for part in parts]) for name in NAMES]


def same(one: Running, other: list[Float]) -> None:
    """Estimates are the same to the last bit."""
    for name, values in zip(NAMES, other, strict=True):
        assert_array_equal(getattr(one, name), values)


@pytest.mark.parametrize("response", KINDS)
@pytest.mark.parametrize("above", [40.0, 3.0, -6.9])
def test_a_step_without_noise_gives_its_gas_from_the_first_estimate_on(
    response: Response, above: float
) -> None:
    """What is known of times and zero draws nothing where they are right."""
    found = a_gas(slow(response)).feed(TIME, above * step(TIME, response))
    told = np.isfinite(found.value)
    # Times before three u(start) past the delay would need second order in the start.
    assert TIME[told][0] == pytest.approx(0.5 + 3.0 * math.hypot(0.3, 0.05) + 0.3, abs=0.1)
    assert told[np.argmax(told) :].all()
    assert_allclose(found.value[told], above, rtol=1e-9)
    assert_allclose(found.misfit[told], 0.0, atol=1e-9)
    assert_array_equal(np.isnan(found.u), ~told)
    assert_allclose(found.share, step(TIME, response))


@pytest.mark.parametrize("response", KINDS)
def test_every_sample_makes_it_better_known(response: Response) -> None:
    """From a step without noise: the uncertainty falls with each sample, to 1 % of the first."""
    found = a_gas(slow(response)).feed(TIME, 40.0 * step(TIME, response))
    u = found.u[np.isfinite(found.u)]
    assert np.all(np.diff(u) < 0.0)
    assert u[-1] < 0.01 * u[0]
    # All that is left in the end: zero, and samples of noise 0.5.
    assert 0.05 < u[-1] < 0.15


@pytest.mark.parametrize("response", KINDS)
@pytest.mark.parametrize("factor", [0.98, 1.02])
def test_time_constants_off_by_their_uncertainty_stay_within_that_of_the_estimate(
    response: Response, factor: float
) -> None:
    """2 % off, 2 % stated: never farther than one standard uncertainty, and not by chance."""
    taken = Response(delay_s=0.5, tau_s=12.0 * factor, tau2_s=response.tau2_s * factor)
    found = a_gas(slow(taken)).feed(TIME, 40.0 * step(TIME, response))
    told = np.isfinite(found.value)
    off_in_u = (found.value - 40.0)[told] / found.u[told]
    assert np.max(np.abs(off_in_u)) < 1.0
    assert np.max(np.abs(off_in_u)) > 0.5


@pytest.mark.parametrize("response", KINDS)
def test_a_start_and_a_zero_off_by_their_uncertainty_stay_within_that_of_the_estimate(
    response: Response,
) -> None:
    """0.3 s late, and 0.1 ppm high; a little of second order on top."""
    found = a_gas(slow(response)).feed(TIME, 40.0 * step(TIME - 0.3, response))
    told = np.isfinite(found.value)
    assert np.max(np.abs((found.value - 40.0)[told] / found.u[told])) < 1.3
    found = a_gas(slow(response)).feed(TIME, 0.1 + 40.0 * step(TIME, response))
    assert np.max(np.abs((found.value - 40.0)[told] / found.u[told])) < 1.0


@pytest.mark.parametrize("response", KINDS)
def test_the_stated_uncertainty_is_that_of_many_draws(response: Response) -> None:
    """Noise, time constants, start and zero all drawn; 400 draws, so about 3.5 % of the sd."""
    rng = np.random.default_rng(21)
    at = [100, 150, 400]
    off = np.empty((400, len(at)))
    u = np.empty_like(off)
    for draw in range(400):
        factor = 1.0 + 0.02 * rng.normal()
        true = Response(delay_s=0.5, tau_s=12.0 * factor, tau2_s=response.tau2_s * factor)
        shown = 40.0 * step(TIME - math.hypot(0.3, 0.05) * rng.normal(), true)
        shown += 0.1 * rng.normal() + 0.5 * rng.normal(size=TIME.size)
        found = a_gas(slow(response)).feed(TIME, shown)
        off[draw], u[draw] = found.value[at] - 40.0, found.u[at]
    assert_allclose(np.sqrt(np.mean(off**2, axis=0)), np.sqrt(np.mean(u**2, axis=0)), rtol=0.12)
    assert_allclose(off.mean(axis=0) / u.mean(axis=0), 0.0, atol=0.2)


def test_a_quiet_sensor_without_unknowns_is_weighted_least_squares() -> None:
    """One unknown: sum of g y over sum of g², and its standard error, by hand."""
    sensor = slow(ONE, u_tau_fraction=0.0)
    gas = HeldGas(
        a_sensor(
            regime="chamber", response=ONE, noise=0.5, u_tau_fraction=0.0, u_delay_s=0.0
        ),
        start_s=0.0, u_start_s=0.0, u_zero=1e-6, fewest=3,
    )  # fmt: skip
    shown = noisy(ONE, 0.45)
    found = gas.feed(TIME, shown)
    share = np.where(TIME >= 0.5, step(TIME, ONE), 0.0)
    assert sensor.noise == 0.5
    assert_allclose(found.value[-1], np.sum(share * shown) / np.sum(share**2), rtol=1e-6)
    assert_allclose(found.u[-1], 0.5 / np.sqrt(np.sum(share**2)), rtol=1e-3)


@pytest.mark.parametrize("response", KINDS)
def test_the_parts_of_the_budget_add_up_to_the_running_uncertainty(response: Response) -> None:
    """As squares, without rounding and calibration, for quiet and for scattering samples."""
    for sd in (0.0, 0.5, 3.0):
        gas = a_gas(slow(response))
        found = gas.feed(TIME, noisy(response, sd))
        part = gas.budget()
        assert_allclose(part.total, found.u[-1], rtol=1e-9)
        assert (part.resolution, part.calibration) == (0.0, 0.0)
        assert min(part.noise, part.zero, part.response) > 0.01


def test_each_part_of_the_budget_is_there_for_its_own_cause() -> None:
    """A zero that is known leaves no part of it; times that are known leave none of theirs."""
    shown = noisy(TWO, 0.5)
    sure = a_gas(slow(TWO), u_zero=1e-6)
    sure.feed(TIME, shown)
    assert sure.budget().zero < 1e-5
    assert sure.budget().response > 0.02
    quick = a_sensor(regime="chamber", response=TWO, u_tau_fraction=0.0, u_delay_s=0.0)
    prompt = a_gas(quick, u_start_s=0.0)
    prompt.feed(TIME, shown)
    assert prompt.budget().response < 1e-5
    assert prompt.budget().zero > 0.05


@settings(max_examples=40)
@given(
    st.lists(st.integers(0, TIME.size), max_size=15).map(sorted),
    st.sets(st.integers(0, TIME.size - 1), max_size=60),
    st.sampled_from(KINDS),
)
def test_blocks_of_any_size_give_the_same_bits(
    cuts: list[int], gaps: set[int], response: Response
) -> None:
    """One record at once against the same cut anywhere, with gaps."""
    shown = noisy(response, 0.5)
    shown[sorted(gaps)] = np.nan
    whole = a_gas(slow(response)).feed(TIME, shown)
    same(whole, in_parts(a_gas(slow(response)), shown, cuts))


def test_one_by_one_gives_the_same_bits() -> None:
    """As an analyser sends them."""
    shown = noisy(TWO, 0.5)
    whole = a_gas(slow(TWO)).feed(TIME, shown)
    same(whole, in_parts(a_gas(slow(TWO)), shown, list(range(1, TIME.size))))


def test_a_gap_is_as_if_no_sample_had_come() -> None:
    """The estimate stays, the count waits, the time goes on; after it nothing is missed."""
    shown = noisy(TWO, 0.5)
    gap = slice(100, 200)
    holed = shown.copy()
    holed[gap] = np.nan
    found = a_gas(slow(TWO)).feed(TIME, holed)
    for name in ("value", "u", "count", "misfit"):
        assert_array_equal(getattr(found, name)[gap], getattr(found, name)[99])
    assert_allclose(found.share, step(TIME, TWO), atol=1e-15)
    kept = np.delete(np.arange(TIME.size), np.arange(100, 200))
    without = a_gas(slow(TWO)).feed(TIME[kept], shown[kept])
    for name in NAMES:
        assert_array_equal(getattr(found, name)[kept], getattr(without, name))


@pytest.mark.parametrize("response", KINDS)
def test_more_noise_never_lowers_the_uncertainty(response: Response) -> None:
    """The same draws, larger, by a sensor whose profile says so."""
    u = [
        a_gas(slow(response, noise)).feed(TIME, noisy(response, noise)).u
        for noise in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
    ]
    told = np.isfinite(u[0])
    assert np.all(np.diff(np.stack(u)[:, told], axis=0) > 0.0)


@pytest.mark.parametrize("response", KINDS)
def test_noise_that_the_profile_does_not_know_raises_the_uncertainty(response: Response) -> None:
    """Up to the profile's 0.5 it stays, but for what moves with the estimate; beyond, it grows."""
    u = np.stack(
        [
            a_gas(slow(response)).feed(TIME, noisy(response, sd)).u[[60, 100, 200, 400]]
            for sd in (0.0, 0.2, 0.5, 1.0, 2.0, 5.0)
        ]
    )
    assert_allclose(u[:3], np.broadcast_to(u[0], (3, 4)), rtol=0.01)
    assert np.all(np.diff(u[2:], axis=0) > 0.4 * u[2])


def test_a_noise_that_grows_with_the_gas_is_weighed_by_it() -> None:
    """Higher values count less where they are noisier, so the estimate is less well known."""
    sensor = a_sensor(regime="chamber", response=TWO, noise=0.5, noise_fraction=0.05)
    even = a_gas(slow(TWO)).feed(TIME, 40.0 * step(TIME, TWO))
    found = a_gas(sensor).feed(TIME, 40.0 * step(TIME, TWO))
    assert_allclose(found.value[-1], 40.0, rtol=1e-9)
    assert found.u[-1] > 1.5 * even.u[-1]


def test_too_few_values_tell_nothing() -> None:
    """The count runs from the first usable sample; the estimate comes with the tenth."""
    found = a_gas(slow(ONE), fewest=10).feed(TIME, 40.0 * step(TIME, ONE))
    assert_array_equal(np.isfinite(found.value), found.count >= 10)
    assert found.count[-1] == TIME.size - np.argmax(found.count > 0)


def test_a_start_that_is_hardly_known_makes_it_wait() -> None:
    """u²/(2 tau²) e^(-t/tau) of the gas is left out at first order; it waits for 0.005."""
    found = a_gas(slow(ONE), u_start_s=4.0).feed(TIME, 40.0 * step(TIME, ONE))
    first_s = TIME[np.argmax(found.count > 0)]
    u = math.hypot(4.0, 0.05)
    settled = 12.0 * math.log(u * u / (2.0 * 144.0 * 0.005))
    assert_allclose(first_s, 0.5 + max(3.0 * u, settled), atol=0.1)
    assert settled > 3.0 * u


def test_watching_can_end_inside_a_block() -> None:
    """Settled on one sample, it is as if the later ones had not come."""
    shown = noisy(TWO, 0.5)
    long, short = a_gas(slow(TWO)), a_gas(slow(TWO))
    found = long.feed(TIME, shown)
    long.settle(149)
    expected = short.feed(TIME[:150], shown[:150])
    assert long.budget() == short.budget()
    one = found.at(149)
    for name in NAMES:
        assert_array_equal(getattr(one, name), getattr(expected, name)[-1:])


def test_gas_that_does_not_settle_as_the_sensor_should_leaves_more_over() -> None:
    """A leak that halves the gas in 20 s: the misfit says so, and the uncertainty grows."""
    leaking = 40.0 * step(TIME, ONE) * np.exp(-TIME / 29.0)
    found = a_gas(slow(ONE)).feed(TIME, leaking)
    steady = a_gas(slow(ONE)).feed(TIME, noisy(ONE, 0.5))
    assert found.misfit[-1] > 10.0
    assert 0.7 < steady.misfit[-1] < 1.3
    assert found.u[-1] > 3.0 * steady.u[-1]
