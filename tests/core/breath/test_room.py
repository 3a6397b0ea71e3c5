import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from ebbline.core.breath.cycle import Cycle
from ebbline.core.breath.room import Room, zero_of
from ebbline.core.breath.samples import Samples, column, rows_of
from ebbline.core.breath.trace import Channel
from tests.core.breath.givens import (
    DILUTION,
    FAST,
    SETTINGS,
    STREAM,
    TIME,
    a_reducer,
    a_trace,
    without,
)

Float = NDArray[np.float64]
CYCLE = Cycle(STREAM, "blow", SETTINGS, DILUTION)
BLIND = Cycle({"h2_ppm": FAST}, "bag", SETTINGS, without(DILUTION, "o2", "co2"))
# What breath at 0 s is shown as: 20 % of the way 0.2 s and -ln(0.8) times 0.3 s later.
WAY_S = 0.2 - 0.3 * math.log(0.8)
# Delay and lag of the marker, and the guard.
LEAD_S = 0.2 + 0.3 + 1.5


def waited(rows: Float, cycle: Cycle = CYCLE, begun_s: float | None = None) -> tuple[Room, Samples]:
    """Return the stage after rows in which breath was seen."""
    samples = Samples()
    room = Room(cycle, samples, begun_s)
    _, seen = room.feed(rows)
    assert seen
    return room, samples


def with_room(name: Channel, shown: Float) -> Float:
    """Return the rows of a noise-free blow in which a channel shows this in room air."""
    rows = rows_of(a_trace())
    rows[: shown.size, column(name)] = shown
    return rows


def why(name: Channel, rows: Float) -> tuple[str, ...]:
    """Return what speaks against a channel's zero."""
    room, _ = waited(rows)
    return room.zeros()[name].reasons


def test_breath_is_seen_when_the_marker_shows_it_and_dated_to_the_inlet() -> None:
    """The crossing between samples, less delay and lag: within the bend of the line, 0.01 s."""
    room, samples = waited(rows_of(a_trace()))
    assert_allclose(room.seen_s, WAY_S, atol=0.01)
    assert_allclose(room.onset_s, 0.0, atol=0.01)
    assert_allclose(room.seen_s - room.onset_s, WAY_S)
    # Half an interval, and the delay as well as it is known.
    assert_allclose(room.u_onset_s, math.hypot(0.05, 0.05))
    # Samples go on to the second one past the share, at 0.4 s, and no farther.
    assert_allclose(samples.rows[-1, 0], 0.4)


def test_the_zero_is_taken_from_a_minute_that_ends_before_any_channel_sees_breath() -> None:
    """Guard, delay and lag before the crossing; nothing older is kept."""
    room, samples = waited(rows_of(a_trace()))
    window_s = room.window_s(room.seen_s)
    assert_allclose(window_s, [room.seen_s - LEAD_S - 60.0, room.seen_s - LEAD_S])
    assert_allclose(samples.rows[0, 0], TIME[window_s[0] <= TIME][0])
    zero = room.zeros()["h2_ppm"].zero
    assert zero is not None
    used = TIME[(window_s[0] <= TIME) & (window_s[1] >= TIME)]
    assert zero.window_s == (used[0], used[-1])


def test_the_zero_of_each_channel_is_what_it_shows_above_room_air() -> None:
    """Offsets within the limits are found to the last digit, and nothing speaks against them."""
    rows = rows_of(a_trace())
    offsets: dict[Channel, float] = {"h2_ppm": 3.0, "ch4_ppm": -2.0, "o2_pct": 0.1, "co2_pct": 0.05}
    for name, offset in offsets.items():
        rows[:, column(name)] += offset
    room, _ = waited(rows)
    for name, zeroing in room.zeros().items():
        assert zeroing.zero is not None
        assert zeroing.reasons == ()
        assert_allclose(zeroing.zero.offset, offsets[name], rtol=1e-9)
        assert_allclose(zeroing.zero.drift_per_s, 0.0, atol=1e-12)


BEFORE = TIME[TIME < -1.0]


@pytest.mark.parametrize(
    ("name", "shown", "reasons"),
    [
        # Noise 0.5 over 600 samples and a known drift of 2 an hour: 5 times 1.3e-3 a second.
        (
            "h2_ppm",
            0.02 * (BEFORE + 1.8),
            ("room air not steady: it moves by 0.02 a second, at most 0.00651 is allowed",),
        ),
        # Half of the samples 2 above, half 2 below; 3 times the noise of 0.5 is allowed.
        (
            "ch4_ppm",
            2.0 * (-1.0) ** np.arange(BEFORE.size),
            ("room air not steady: it scatters by 2, at most 1.5 is allowed",),
        ),
        (
            "h2_ppm",
            np.full(BEFORE.size, 11.0),
            ("breath gas remains: 11 above room air, at most 10 is allowed",),
        ),
        (
            "co2_pct",
            np.full(BEFORE.size, 0.64),
            ("breath gas remains: 0.6 above room air, at most 0.5 is allowed",),
        ),
        (
            "o2_pct",
            np.full(BEFORE.size, 20.3),
            ("O2 of room air is 20.30 %, 20.9 ± 0.5 % is allowed",),
        ),
        (
            "o2_pct",
            np.full(BEFORE.size, 21.5),
            (
                "breath gas remains: 0.6 above room air, at most 0.5 is allowed",
                "O2 of room air is 21.50 %, 20.9 ± 0.5 % is allowed",
            ),
        ),
        (
            "h2_ppm",
            np.full(BEFORE.size, np.nan),
            ("too few samples in room air: 0, at least 3 are needed",),
        ),
        (
            "h2_ppm",
            np.where(BEFORE < -40.0, np.nan, 0.0),
            ("room air too short: 38.2 s, at least 50 s are needed",),
        ),
    ],
)
def test_room_air_that_gives_no_zero_is_told_in_words(
    name: Channel, shown: Float, reasons: tuple[str, ...]
) -> None:
    """Each channel speaks for itself; the others are not touched."""
    rows = with_room(name, shown)
    assert why(name, rows) == reasons
    room, _ = waited(rows)
    assert [other for other, zeroing in room.zeros().items() if zeroing.reasons] == [name]


def test_the_limit_of_a_drift_is_noise_and_known_drift() -> None:
    """By hand: five times the root of the two squares."""
    window = TIME[(TIME >= -61.7) & (TIME <= -1.8)]
    spread = np.sum((window - window.mean()) ** 2)
    limit = 5.0 * math.hypot(0.5 / math.sqrt(spread), 2.0 / 3600.0)
    assert f"{limit:.3g}" == "0.00651"


def test_without_a_marker_a_person_says_when() -> None:
    """The sample at that time or the first after it is the first of the breath."""
    rows = rows_of(a_trace(sensors={"h2_ppm": FAST}))
    room, samples = waited(rows, BLIND, begun_s=-0.05)
    assert (room.seen_s, room.onset_s, room.u_onset_s) == (-0.05, -0.05, 1.0)
    # The guard, and three standard uncertainties of the key.
    assert_allclose(room.lead_s, 4.5)
    assert_allclose(samples.rows[[0, -1], 0], [-64.5, 0.0])


def test_without_a_marker_nothing_happens_until_then() -> None:
    """Neither without a time nor before it."""
    rows = rows_of(a_trace(sensors={"h2_ppm": FAST}))
    for begun_s in (None, 99.0):
        used, seen = Room(BLIND, Samples(), begun_s).feed(rows)
        assert (used, seen) == (len(rows), False)


def test_memory_stays_flat_over_hours_of_room_air() -> None:
    """Eight hours at 10 Hz, in blocks and one by one: little more than the window is kept."""
    samples = Samples()
    room = Room(CYCLE, samples, None)
    rows = np.tile([0.0, 0.0, 0.0, 20.9, 0.04, np.nan], (288_000, 1))
    rows[:, 0] = np.arange(288_000) / 10.0
    longest = largest = 0
    blocks = [rows[i : i + 10] for i in range(0, 280_000, 10)]
    blocks += [rows[i : i + 1] for i in range(280_000, 288_000)]
    for block in blocks:
        assert room.feed(block) == (len(block), False)
        whole = samples.rows.base
        assert whole is not None
        longest, largest = max(longest, len(samples.rows)), max(largest, len(whole))
    assert longest <= (60.0 + LEAD_S + SETTINGS.confirm_s) * 10.0 + 11
    assert largest <= 2 * (longest + 10)


def test_a_silent_marker_does_not_let_memory_grow() -> None:
    """An hour without O2; what is kept is as much as ever."""
    reducer = a_reducer()
    rows = np.tile([0.0, 0.0, 0.0, np.nan, 0.04, np.nan], (3600, 1))
    for start in range(10):
        rows[:, 0] = np.arange(3600) + 3600.0 * start
        reducer.feed(rows)
        assert reducer.progress.room_s == 60.0
    kept = reducer.finish()
    assert kept.times.done_s == 35_999.0
    samples = Samples()
    room = Room(CYCLE, samples, None)
    room.feed(rows)
    assert len(samples.rows) < 70


def test_a_long_gap_of_the_marker_before_breath_costs_room_air() -> None:
    """Breath dated to somewhere in 30 s of silence; what was let go meanwhile is not missed."""
    rows = rows_of(a_trace(time=np.arange(-900, 181) / 10.0))
    silent = (rows[:, 0] > -30.0) & (rows[:, 0] < 0.45)
    rows[silent, column("o2_pct")] = np.nan
    room, samples = waited(rows)
    assert room.onset_s < -20.0
    # As if each sample had come by itself: 5 s before the last silent one, and the window before.
    assert_allclose(samples.rows[0, 0], np.ceil((0.5 - 5.0 - LEAD_S - 60.0) * 10.0) / 10.0)
    # The marker shows 0.668 of the way at 0.5 s: the line from -30 s passes 0.2 at -20.87 s, so the
    # window ends at -22.9 s.
    assert why("h2_ppm", rows) == ("room air too short: 43.6 s, at least 50 s are needed",)


def test_the_zero_of_a_channel_is_that_of_the_window_given() -> None:
    """Taken by itself, outside of a cycle."""
    rows = rows_of(a_trace())
    rows[:, column("h2_ppm")] = 1.5
    zero = zero_of("h2_ppm", rows, (-60.0, 0.0), CYCLE).zero
    assert zero is not None
    assert_allclose([zero.offset, zero.at_s], [1.5, 0.0])
    # The noise of the profile where the minute shows none.
    assert_allclose(zero.u_error(np.array([-30.0])), 0.5 / math.sqrt(601), rtol=1e-3)
