from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ebbline.core.clinic.clock import (
    Anchor,
    ClockStep,
    Decision,
    Drift,
    Stamp,
    compare,
    minutes_since,
)
from ebbline.core.errors import FieldError

LONDON = ZoneInfo("Europe/London")
NEW_YORK = ZoneInfo("America/New_York")

NINE = datetime(2026, 11, 27, 9, 0, tzinfo=UTC)
WITHOUT_ZONE = NINE.replace(tzinfo=None)
THEN = Anchor("run-1", 5000.0, NINE)


def later(
    *, steady_s: float, wall_s: float, boot_id: str = "run-1", tolerance_s: float = 2.0
) -> Drift:
    """Return what is found when the clocks have gone on by so much."""
    now = Anchor(boot_id, 5000.0 + steady_s, NINE + timedelta(seconds=wall_s))
    return compare(THEN, now, tolerance_s=tolerance_s)


@pytest.mark.parametrize(
    ("steady_s", "wall_s", "expected"),
    [
        (600.0, 600.0, Drift("none", 0.0, 600.0)),
        (600.0, 602.0, Drift("none", 2.0, 600.0)),
        (600.0, 598.0, Drift("none", -2.0, 600.0)),
        (600.0, 602.5, Drift("jump", 2.5, 600.0)),
        (600.0, 4200.0, Drift("jump", 3600.0, 600.0)),
        (600.0, -3000.0, Drift("jump", -3600.0, 600.0)),
        (0.0, 0.0, Drift("none", 0.0, 0.0)),
    ],
)
def test_within_one_run_a_jump_is_what_the_wall_clock_moved_beyond_the_steady_one(
    steady_s: float, wall_s: float, expected: Drift
) -> None:
    """By more than the tolerance, in either direction."""
    assert later(steady_s=steady_s, wall_s=wall_s) == expected


def test_after_a_restart_a_jump_forward_cannot_be_known() -> None:
    """The time away is what the wall clock says; the steady clock says nothing across runs."""
    assert later(steady_s=-4990.0, wall_s=1800.0, boot_id="run-2") == Drift("restart", None, 1800.0)
    assert later(steady_s=-4990.0, wall_s=0.0, boot_id="run-2") == Drift("restart", None, 0.0)


def test_after_a_restart_a_wall_clock_before_the_anchor_was_set_back() -> None:
    """By more than the difference; how long it was away is not known."""
    assert later(steady_s=1.0, wall_s=-0.5, boot_id="run-2") == Drift("backwards", -0.5, None)


@pytest.mark.parametrize("zone", [LONDON, NEW_YORK])
@pytest.mark.parametrize("change", ["spring", "autumn"])
def test_a_change_to_or_from_summer_time_is_no_jump(zone: ZoneInfo, change: str) -> None:
    """Dates of 2026: London 29 March and 25 October, New York 8 March and 1 November (tz data)."""
    month, day, first, last = {
        (LONDON, "spring"): (3, 29, 0, 2),
        (LONDON, "autumn"): (10, 25, 0, 1),
        (NEW_YORK, "spring"): (3, 8, 1, 3),
        (NEW_YORK, "autumn"): (11, 1, 0, 1),
    }[zone, change]
    before = datetime(2026, month, day, first, 30, tzinfo=zone)
    # In autumn 01:30 comes twice, in London and in New York; the second one is meant.
    after = datetime(2026, month, day, last, 30, tzinfo=zone, fold=1)
    hours = 1.0 if change == "spring" else 2.0
    found = compare(
        Anchor("run-1", 0.0, before), Anchor("run-1", hours * 3600.0, after), tolerance_s=1.0
    )
    assert found == Drift("none", 0.0, hours * 3600.0)
    assert minutes_since(Stamp(before, 0), Stamp(after, 0), []) == hours * 60.0


def test_times_in_different_zones_are_one_time_line() -> None:
    """New York is 5 h behind UTC in November."""
    there = datetime(2026, 11, 27, 4, 45, tzinfo=NEW_YORK)
    assert minutes_since(Stamp(NINE, 0), Stamp(there, 0), []) == 45.0


def at(hour: int, minute: int, steps_seen: int) -> Stamp:
    """Return a stamp on the day of the test."""
    return Stamp(NINE.replace(hour=hour, minute=minute), steps_seen)


def step(minutes: float, decision: Decision) -> ClockStep:
    """Return a jump by so many minutes."""
    return ClockStep(NINE, 60.0 * minutes, decision)


T0 = at(9, 0, 0)


@pytest.mark.parametrize(
    ("minutes", "stamp", "by_steady", "by_wall"),
    [
        (60.0, at(10, 45, 1), 45.0, 105.0),
        (-60.0, at(8, 45, 1), 45.0, -15.0),
        (-60.0, at(9, 0, 1), 60.0, 0.0),
        (0.5, at(9, 30, 1), 29.5, 30.0),
    ],
)
def test_a_jump_moves_no_minute_unless_a_person_keeps_to_the_wall_clock(
    minutes: float, stamp: Stamp, by_steady: float, by_wall: float
) -> None:
    """Open and follow count alike, so that deciding to follow moves nothing."""
    assert minutes_since(T0, stamp, [step(minutes, "open")]) == by_steady
    assert minutes_since(T0, stamp, [step(minutes, "follow")]) == by_steady
    assert minutes_since(T0, stamp, [step(minutes, "keep")]) == by_wall


def test_of_one_clock_time_that_was_shown_twice_the_count_of_jumps_tells_which_it_was() -> None:
    """The clock went back an hour at 09:40: 09:30 came before and again 50 min later."""
    back = [step(-60.0, "open")]
    assert minutes_since(T0, at(9, 30, 0), back) == 30.0
    assert minutes_since(T0, at(9, 30, 1), back) == 90.0


def test_a_jump_before_t0_or_after_the_moment_counts_for_nothing() -> None:
    """Only those between the two."""
    steps = [step(60.0, "open"), step(-7.0, "open"), step(500.0, "open")]
    assert minutes_since(at(9, 0, 1), at(9, 20, 1), steps) == 20.0
    assert minutes_since(at(9, 0, 1), at(9, 13, 2), steps) == 20.0


def test_a_moment_before_t0_has_a_negative_minute_across_a_jump_too() -> None:
    """A fasting sample at 08:50, a jump of an hour, minute 0 at 10:00: 10 min before it."""
    assert minutes_since(at(10, 0, 1), at(8, 50, 0), [step(60.0, "open")]) == -10.0


def test_each_jump_is_decided_on_its_own() -> None:
    """Half an hour asleep is kept, a correction by 10 min is not."""
    steps = [step(30.0, "keep"), step(10.0, "follow")]
    assert minutes_since(T0, at(10, 0, 2), steps) == 50.0


EVENTS = st.lists(
    st.tuples(st.integers(1, 3600), st.none() | st.integers(-90000, 90000)), max_size=8
)


@given(EVENTS, st.integers(0, 8))
def test_minutes_are_the_time_that_truly_passed_however_the_wall_clock_was_set(
    events: list[tuple[int, int | None]], start: int
) -> None:
    """A simulated bench: time runs, jumps come between the stamps, and nobody decides anything."""
    true_s, set_s = 0, 0
    steps: list[ClockStep] = []
    stamps: list[tuple[int, Stamp]] = [(0, Stamp(NINE, 0))]
    for passed, jump in events:
        true_s += passed
        if jump is not None:
            set_s += jump
            steps.append(ClockStep(NINE + timedelta(seconds=true_s + set_s), float(jump), "open"))
        stamps.append((true_s, Stamp(NINE + timedelta(seconds=true_s + set_s), len(steps))))
    t0_s, t0 = stamps[start % len(stamps)]
    for when_s, stamp in stamps:
        assert minutes_since(t0, stamp, steps) == pytest.approx((when_s - t0_s) / 60.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: later(steady_s=-1.0, wall_s=10.0),
            (
                "steady_s: a steady clock cannot go back within one run of the machine; "
                "allowed: 5000 or more; came: 4999"
            ),
        ),
        (
            lambda: later(steady_s=1.0, wall_s=1.0, tolerance_s=-1.0),
            "tolerance_s: no tolerance; allowed: 0 or more; came: -1",
        ),
        (
            lambda: later(steady_s=1.0, wall_s=1.0, tolerance_s=float("nan")),
            "tolerance_s: no tolerance; allowed: 0 or more; came: nan",
        ),
        (
            lambda: compare(THEN, Anchor("run-1", 5001.0, WITHOUT_ZONE), tolerance_s=1.0),
            (
                "utc: a time without its zone; allowed: a time with its zone; "
                "came: 2026-11-27T09:00:00"
            ),
        ),
        (
            lambda: minutes_since(T0, Stamp(WITHOUT_ZONE, 0), []),
            (
                "utc: a time without its zone; allowed: a time with its zone; "
                "came: 2026-11-27T09:00:00"
            ),
        ),
        (
            lambda: minutes_since(T0, at(9, 30, 1), []),
            "at: has not seen the jumps on record; allowed: 0 to 0 jumps; came: 1",
        ),
        (
            lambda: minutes_since(at(9, 0, -1), at(9, 30, 0), [step(1.0, "open")]),
            "t0: has not seen the jumps on record; allowed: 0 to 1 jumps; came: -1",
        ),
    ],
)
def test_clocks_that_cannot_be_compared_are_refused(call: Any, message: str) -> None:
    """With what was allowed and what came."""
    with pytest.raises(FieldError) as caught:
        call()
    assert str(caught.value) == message


def test_a_fixed_offset_is_a_zone() -> None:
    """Any aware time will do."""
    there = datetime(2026, 11, 27, 10, 30, tzinfo=timezone(timedelta(hours=1)))
    assert minutes_since(T0, Stamp(there, 0), []) == 30.0
