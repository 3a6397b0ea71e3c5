"""Times of lines: the instrument's own clock while it can be trusted, else by arrival."""

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from ebbline.adapters.instrument.line_times import LineTimes


def timed(
    pairs: Sequence[tuple[float, float | None]], *, wraps: bool = False
) -> tuple[list[float], list[str]]:
    """Return the times of lines by (arrival, instrument's clock), and what was said."""
    times = LineTimes(wraps=wraps)
    found = [times.line(arrived_s, clock_s) for arrived_s, clock_s in pairs]
    return [at_s for at_s, _ in found], [words for _, words in found if words]


def test_lines_in_one_piece_are_spread_over_the_time_since_the_piece_before() -> None:
    """A USB adapter that hands on four lines every 0.4 s: one each 0.1 s."""
    times = LineTimes(wraps=False)
    assert_allclose(times.arrivals(0.4, 4), [0.1, 0.2, 0.3, 0.4])
    assert_allclose(times.arrivals(0.8, 4), [0.5, 0.6, 0.7, 0.8])
    assert times.arrivals(0.9, 0) == []
    assert_allclose(times.arrivals(1.0, 2), [0.9, 1.0])


def test_lines_after_a_silence_are_not_spread_over_it() -> None:
    """Two lines at once after 3 s: 0.15 s apart where 0.1 s is usual."""
    times = LineTimes(wraps=False)
    for tenth in range(1, 10):
        times.arrivals(tenth / 10.0, 1)
    assert_allclose(times.arrivals(3.9, 2), [3.75, 3.9])


def test_a_clock_that_agrees_gives_its_own_distances() -> None:
    """Lines every 0.1 s by the instrument, which arrive up to 0.1 s late in pieces."""
    clock = 50.05 + 0.1 * np.arange(200)
    late = np.where(np.arange(200) % 4 == 3, 0.0, 0.1)
    at_s, said = timed(list(zip(clock - 50.0 + late, clock, strict=True)))
    assert said == []
    # 1 %, since the clock is drawn to arrival by a twentieth a second.
    assert_allclose(np.diff(at_s), 0.1, atol=1e-3)


@pytest.mark.parametrize("rate", [0.99, 1.0, 1.01])
def test_a_clock_that_runs_a_little_wrong_stays_with_the_time_of_arrival(rate: float) -> None:
    """For an hour, within 0.25 s, and nothing is said."""
    arrived = 0.1 * np.arange(1, 36_000)
    at_s, said = timed(list(zip(arrived, 7.03 + rate * arrived, strict=True)))
    assert said == []
    assert_allclose(at_s, arrived, atol=0.25)


def test_a_clock_that_runs_wrong_by_a_tenth_is_told() -> None:
    """It is 0.5 s off after some seconds."""
    arrived = 0.1 * np.arange(1, 200)
    at_s, said = timed(list(zip(arrived, 0.05 + 1.1 * arrived, strict=True)))
    assert len(said) == 1
    assert said[0].startswith("jumps by +0.5")
    assert np.all(np.diff(at_s) > 0.0)


@pytest.mark.parametrize(
    ("after", "words"),
    [
        (60.0, "jumps by +59.00 s against the time of arrival"),
        (0.05, "goes back, from 1.95 to 0.05 s"),
    ],
)
def test_after_a_jump_times_are_those_of_arrival(after: float, words: str) -> None:
    """It is said once, and the distances of the lines are kept."""
    arrived = 0.05 + 0.1 * np.arange(60)
    clock = np.where(arrived < 2.0, arrived, arrived - arrived[20] + after)
    clock[20:] += 1.0 if after > 1.0 else 0.0
    at_s, said = timed(list(zip(arrived, clock, strict=True)))
    assert said == [words.replace("59.00", f"{after + 1.0 - arrived[20]:.2f}")]
    assert_allclose(at_s, arrived, atol=1e-9)


def test_a_clock_that_stands_still_is_told_within_two_seconds() -> None:
    """Arrival goes on."""
    arrived = 0.05 + 0.1 * np.arange(40)
    at_s, said = timed([(float(one), min(float(one), 1.05)) for one in arrived])
    assert said == ["stands still at 1.05 s"]
    assert_allclose(at_s, arrived, atol=1e-9)
    before = [(float(one), min(float(one), 1.05)) for one in arrived if one < 1.05 + 1.4]
    assert timed(before)[1] == []


@pytest.mark.parametrize(("step", "rate"), [(1.0, 10.0), (1.0, 0.95), (0.6, 1.0), (0.1, 20.0)])
def test_a_coarse_clock_is_no_fault_and_no_help(step: float, rate: float) -> None:
    """Whole seconds, hundredths of minutes, or tenths at twenty lines a second: by arrival."""
    arrived = np.arange(1, 400) / rate + 0.03
    clock = step * np.floor(arrived / step)
    at_s, said = timed(list(zip(arrived, clock, strict=True)))
    assert said == []
    assert_allclose(at_s, arrived, atol=0.1)
    assert_allclose(np.diff(at_s)[10:], 1.0 / rate, atol=0.06)


def test_a_coarse_clock_that_jumps_is_told() -> None:
    """By more than its step."""
    arrived = 0.1 * np.arange(1, 60)
    clock = np.floor(arrived) + np.where(arrived > 3.0, 5.0, 0.0)
    assert len(timed(list(zip(arrived, clock, strict=True)))[1]) == 1


def test_midnight_is_no_jump_for_a_clock_of_the_day() -> None:
    """23:59:59.9 is followed by 00:00:00.0."""
    arrived = 0.05 + 0.1 * np.arange(60)
    clock = np.mod(86_398.0 + arrived, 86_400.0)
    pairs: list[tuple[float, float | None]] = list(zip(arrived, clock, strict=True))
    at_s, said = timed(pairs, wraps=True)
    assert said == []
    assert_allclose(at_s, arrived, atol=1e-6)
    assert len(timed(pairs, wraps=False)[1]) == 1


def test_a_link_that_was_opened_again_trusts_the_clock_again() -> None:
    """The instrument may have been switched off, and its clock has begun again."""
    times = LineTimes(wraps=False)
    times.line(1.0, 500.05)
    assert times.line(1.1, 3.0) == (1.1, "goes back, from 500.05 to 3 s")
    times.opened(5.0)
    assert times.line(5.5, 0.05)[1] == ""
    at_s, words = times.line(5.7, 0.15)
    assert at_s == pytest.approx(5.6, abs=2e-3)
    assert words == ""


@given(
    pairs=st.lists(
        st.tuples(
            st.floats(0.0, 0.5),
            st.one_of(st.none(), st.floats(0.0, 1e6)),
        ),
        max_size=40,
    )
)
def test_times_rise_strictly_whatever_the_clocks_do(
    pairs: list[tuple[float, float | None]],
) -> None:
    """And stay within half a second of arrival, but for lines that come at one moment."""
    times = LineTimes(wraps=False)
    arrived_s, last_s = 0.0, -1.0
    for gap_s, clock_s in pairs:
        arrived_s += gap_s
        at_s, _ = times.line(arrived_s, clock_s)
        assert at_s > last_s
        assert abs(at_s - arrived_s) < 0.52 + 1e-3 * len(pairs)
        last_s = at_s
