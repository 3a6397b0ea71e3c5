"""What holds for every trace that is reduced."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.samples import column, rows_of
from ebbline.core.breath.sensor import Sensor
from ebbline.core.breath.trace import Channel
from tests.core.breath.givens import (
    BAG,
    CHAMBER,
    STREAM,
    a_trace,
    assert_same,
    in_blocks,
    known_times,
    to_the_end,
)

Float = NDArray[np.float64]
# 78 s of room air, so that the zero has all of its window, and time for the slow sensors.
TIME = np.arange(-780, 700) / 10.0
SENSORS: dict[str, dict[Channel, Sensor]] = {"stream": STREAM, "chamber": CHAMBER, "bag": BAG}
KINDS = sorted(SENSORS)
SILENCE = (0.0, 0.0, 20.9, 0.04, np.nan)
SEEDS = st.integers(0, 2**32 - 1)


def given_of(kind: str) -> dict[str, Any]:
    """Return what a kind of breath is reduced with."""
    return {"sensors": SENSORS[kind], "method": "bag" if kind == "bag" else "blow"}


def rows_with(kind: str, seed: int, *, noise: float = 1.0, **breath: float) -> Float:
    """Return a breath with noise, ``noise`` times that of its sensors."""
    sensors = {
        name: replace(sensor, noise=noise * sensor.noise) for name, sensor in SENSORS[kind].items()
    }
    above: dict[Channel, float] = {
        "h2_ppm": breath.get("h2_ppm", 40.0),
        "ch4_ppm": breath.get("ch4_ppm", 12.0),
    }
    trace = a_trace(time=TIME, sensors=sensors, seed=seed, held=kind == "bag", breath=above)
    return rows_of(trace)


def reduced(rows: Float, kind: str, **changes: Any) -> Reduction:
    """Reduce rows as one block."""
    return in_blocks(rows, [len(rows)], **(given_of(kind) | changes))


def offset_of(found: Reduction, name: Channel) -> float:
    """Return the zero that a channel was given."""
    zero = found.zeros[name].zero
    assert zero is not None
    return zero.offset


def assert_close(one: Reduction, other: Reduction, *, atol: float) -> None:
    """Values and uncertainties agree, and what is said of them is the same."""
    assert (one.quality, one.reasons) == (other.quality, other.reasons)
    assert set(one.values) == set(other.values)
    for name, value in one.values.items():
        assert_allclose(
            [value.raw, value.u, value.peak, value.last],
            [getattr(other.values[name], part) for part in ("raw", "u", "peak", "last")],
            rtol=0,
            atol=atol,
        )
    assert_allclose(one.covariance_used, other.covariance_used, rtol=0, atol=100.0 * atol)


@settings(max_examples=40)
@given(st.sampled_from(KINDS), SEEDS, st.floats(-9.0, 9.0), st.floats(-9.0, 9.0))
def test_a_constant_in_the_gases_of_the_test_moves_only_their_zeros(
    kind: str, seed: int, by_h2: float, by_ch4: float
) -> None:
    """Up to the 10 ppm that count as breath that remains."""
    rows = rows_with(kind, seed)
    moved = rows.copy()
    moved[:, column("h2_ppm")] += by_h2
    moved[:, column("ch4_ppm")] += by_ch4
    before, after = reduced(rows, kind), reduced(moved, kind)
    assert_close(after, before, atol=1e-9)
    assert_allclose(offset_of(after, "h2_ppm") - offset_of(before, "h2_ppm"), by_h2, atol=1e-9)
    assert_allclose(offset_of(after, "ch4_ppm") - offset_of(before, "ch4_ppm"), by_ch4, atol=1e-9)


@settings(max_examples=30)
@given(st.sampled_from(KINDS), SEEDS, st.floats(-0.3, 0.3), st.floats(-0.3, 0.3))
def test_a_constant_in_a_marker_moves_no_value_by_what_counts(
    kind: str, seed: int, by_o2: float, by_co2: float
) -> None:
    """It is watched before its zero is known, so the front is dated a little differently."""
    rows = rows_with(kind, seed)
    moved = rows.copy()
    moved[:, column("o2_pct")] += by_o2
    moved[:, column("co2_pct")] += by_co2
    before, after = reduced(rows, kind), reduced(moved, kind)
    assert after.quality == before.quality == "accepted"
    assert_allclose(offset_of(after, "o2_pct") - offset_of(before, "o2_pct"), by_o2, atol=0.005)
    assert_allclose(known_times(after)[:2], known_times(before)[:2], atol=0.15)
    for name, value in before.values.items():
        assert_allclose(after.values[name].raw, value.raw, rtol=0, atol=0.3 * value.u)


@settings(max_examples=30)
@given(st.sampled_from(KINDS), SEEDS, st.floats(-1e4, 1e4))
def test_a_time_shift_changes_nothing(kind: str, seed: int, by_s: float) -> None:
    """The same breath on another clock: times move with it, values do not."""
    rows = rows_with(kind, seed)
    moved = rows.copy()
    moved[:, 0] += by_s
    before, after = reduced(rows, kind), reduced(moved, kind)
    assert_close(after, before, atol=1e-9)
    assert_allclose(known_times(after), np.array(known_times(before)) + by_s, rtol=0, atol=1e-9)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(5))
def test_more_noise_never_lowers_an_uncertainty(kind: str, seed: int) -> None:
    """The same draws, larger, in profile and trace alike; held gas is watched to the end.

    Without the part of the gain, which is a fraction of whatever value the noise makes.
    """
    stated = []
    for factor in (0.5, 1.0, 2.0, 4.0):
        sensors = {
            name: replace(sensor, noise=factor * sensor.noise)
            for name, sensor in SENSORS[kind].items()
        }
        rows = rows_with(kind, seed, noise=factor)
        found = reduced(rows, kind, sensors=sensors, settings=to_the_end())
        parts = [replace(found.values[name].budget, calibration=0.0) for name in SENSORS[kind]]
        stated.append([part.total for part in parts])
        assert found.times.done_s == pytest.approx(
            {"stream": 15.3, "chamber": 69.2, "bag": 59.3}[kind], abs=0.15
        )
    assert np.all(np.diff(np.array(stated), axis=0) >= 0.0)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(5))
def test_noise_that_no_profile_knows_does_not_lower_an_uncertainty(kind: str, seed: int) -> None:
    """The profile stays; only the hydrogen of the trace becomes noisier, with the same draws.

    Below the profile's noise it may not matter; what is left moves with the estimate itself.
    """
    quiet = rows_with(kind, seed, noise=1e-6)
    noise = (rows_with(kind, seed) - quiet)[:, column("h2_ppm")]
    stated = []
    for factor in (1.0, 1.5, 2.0, 3.0):
        rows = rows_with(kind, seed)
        rows[:, column("h2_ppm")] = quiet[:, column("h2_ppm")] + factor * noise
        found = reduced(rows, kind, settings=to_the_end())
        part = found.values["h2_ppm"].budget
        stated.append(np.hypot(part.noise, part.zero))
    assert np.all(np.diff(stated) > -0.001 * np.array(stated)[:-1])
    assert stated[-1] > 1.5 * stated[0]


@settings(max_examples=40)
@given(st.sampled_from(KINDS), SEEDS, st.integers(1, 400), st.integers(1, 400))
def test_silence_before_and_after_changes_nothing(
    kind: str, seed: int, before: int, after: int
) -> None:
    """Room air older than the zero's window, and room air after the end: the same bits."""
    rows = rows_with(kind, seed)
    plain = reduced(rows, kind)
    first = np.tile([0.0, *SILENCE], (before, 1))
    first[:, 0] = rows[0, 0] - np.arange(before, 0, -1) / 10.0
    last = np.tile([0.0, *SILENCE], (after, 1))
    last[:, 0] = rows[-1, 0] + np.arange(1, after + 1) / 10.0
    assert_same(reduced(np.concatenate([first, rows, last]), kind), plain)


@settings(max_examples=25)
@given(
    st.sampled_from(KINDS),
    SEEDS,
    st.lists(st.integers(1, 300), min_size=1, max_size=8),
    st.sets(st.integers(0, TIME.size - 1), max_size=150),
)
def test_blocks_and_gaps_give_the_same_bits(
    kind: str, seed: int, sizes: list[int], lost: set[int]
) -> None:
    """Lost lines and lost markers, cut anywhere."""
    rows = rows_with(kind, seed)
    holes = sorted(lost)
    rows[holes[::2], column("o2_pct")] = np.nan
    kept = np.delete(rows, holes[1::2], axis=0)
    assert_same(reduced(kept, kind), in_blocks(kept, sizes, **given_of(kind)))
