import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from ebbline.core.breath.reasons import Outside
from ebbline.core.breath.response import Response
from ebbline.core.breath.samples import COLUMNS, column, rows_of
from ebbline.core.breath.sensor import Sensors
from ebbline.core.breath.trace import Trace
from ebbline.core.errors import InputError
from ebbline.simulate.blow import known_sensors, trace_of, virtual_blow
from ebbline.simulate.ranges import TYPICAL, Kind, Span
from tests.core.breath.givens import (
    BLIND,
    FAST,
    LONG,
    STREAM,
    a_reducer,
    a_sensor,
    a_trace,
    assert_same,
    by_hand,
    in_blocks,
    reasons_of,
    reduced,
    settings_of,
)
from tests.helpers import known

Float = NDArray[np.float64]
# Blows at rates for which a trace is at most a few thousand samples.
RANGES = replace(TYPICAL, rate_hz=Span(2.0, 20.0))
KINDS: tuple[Kind, ...] = ("stream", "chamber", "bag")


def simulated(kind: Kind, seed: int) -> tuple[Trace, dict[str, Any]]:
    """Return an invented blow with all that can happen to it, and what it is reduced with."""
    rng = np.random.default_rng(seed)
    blow = virtual_blow(rng, ranges=RANGES, kind=kind, events=None)
    sensors = known_sensors(rng, blow, u_tau_fraction=0.02, u_delay_s=0.05)
    return trace_of(blow), {"sensors": sensors, "method": "bag" if kind == "bag" else "blow"}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(8))
def test_a_whole_trace_and_its_samples_one_by_one_give_the_same_bits(kind: Kind, seed: int) -> None:
    """Values, reasons, covariance, zeros and times of simulated blows."""
    trace, given = simulated(kind, seed)
    assert_same(reduced(trace, **given), in_blocks(rows_of(trace), [1], **given))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(8, 20))
def test_blocks_of_any_size_give_the_same_bits(kind: Kind, seed: int) -> None:
    """Random blocks of up to 60 samples."""
    trace, given = simulated(kind, seed)
    sizes = np.random.default_rng(seed).integers(1, 60, 50).tolist()
    assert_same(reduced(trace, **given), in_blocks(rows_of(trace), sizes, **given))


@pytest.mark.parametrize("silent", [(-30.0, 0.5), (-9.0, 0.5), (0.4, 9.0), (4.0, 15.0)])
def test_a_silent_marker_gives_the_same_bits_too(silent: tuple[float, float]) -> None:
    """Before, during and after the breath."""
    rows, given = by_hand("stream")
    rows[(rows[:, 0] > silent[0]) & (rows[:, 0] < silent[1]), column("o2_pct")] = np.nan
    assert_same(in_blocks(rows, [len(rows)], **given), in_blocks(rows, [1], **given))


def test_samples_with_names_are_the_same_as_rows() -> None:
    """A channel that did not come is a gap."""
    rows, given = by_hand("stream")
    reducer = a_reducer(**given)
    for row in rows:
        named = zip(COLUMNS, row[1:].tolist(), strict=True)
        reducer.add(float(row[0]), {name: value for name, value in named if math.isfinite(value)})
    assert_same(reducer.finish(), in_blocks(rows, [len(rows)], **given))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("size", [1, 2000])
def test_samples_after_the_end_change_nothing(kind: Kind, size: int) -> None:
    """Neither another breath nor numbers that no gas can have."""
    rows, given = by_hand(kind)
    plain = in_blocks(rows, [len(rows)], **given)
    after = rows[:, 0] > known(plain.times.done_s)
    assert after.any()
    other = rows.copy()
    other[after, 1:5] = [200.0, 50.0, 14.0, 5.0]
    other[-1, 1:] = 9999.0
    found = in_blocks(other, [size], **given)
    assert_same(found, plain)
    assert found.outside == ()
    assert_same(in_blocks(rows[~after], [size], **given), plain)


def test_a_cycle_that_is_over_stays_over() -> None:
    """Finishing twice gives the same, and what is fed between is not looked at."""
    rows, given = by_hand("stream")
    reducer = a_reducer(**given)
    reducer.feed(rows[rows[:, 0] < 6.0])
    one = reducer.finish()
    reducer.feed(rows[rows[:, 0] >= 6.0])
    assert_same(reducer.finish(), one)


@pytest.mark.parametrize(
    ("kind", "until_s", "quality"),
    [("stream", -5.0, "refused"), ("stream", 6.0, "accepted"), ("stream", 12.0, "accepted"),
     ("chamber", 6.0, "refused"), ("chamber", 16.0, "refused"), ("bag", 5.0, "refused"),
     ("stream", 2.0, "refused")],
)  # fmt: skip
def test_a_cycle_can_be_ended_early(kind: Kind, until_s: float, quality: str) -> None:
    """It is judged by what was seen; done with the last sample."""
    rows, given = by_hand(kind)
    part = rows[rows[:, 0] <= until_s]
    for sizes in ([1], [len(part)]):
        found = in_blocks(part, sizes, **given)
        assert (found.quality, found.times.done_s) == (quality, until_s)
        if until_s < 0.0:
            assert reasons_of(found) == [("no_breath", "no breath was seen")]


def test_a_cycle_without_a_single_sample_has_seen_nothing() -> None:
    """Cancelled before it began."""
    found = a_reducer().finish()
    assert reasons_of(found) == [("no_breath", "no breath was seen")]
    assert (found.times.done_s, found.times.onset_s) == (None, None)


def test_held_gas_that_is_known_while_the_end_of_the_blow_is_confirmed_is_done_then() -> None:
    """A sensor of 1 s: known before the 5 s are over in which more breath could have come."""
    quick = a_sensor(
        regime="chamber",
        response=Response(delay_s=0.2, tau_s=1.0, tau2_s=0.0),
        u_tau_fraction=0.005,
        noise=0.2,
    )
    sensors: Sensors = {**STREAM, "h2_ppm": quick, "ch4_ppm": quick}
    trace = a_trace(sensors=dict(sensors), seed=2)
    given: dict[str, Any] = {"sensors": sensors, "settings": settings_of(trim_s=0.1)}
    found = reduced(trace, **given)
    # Half of the response was seen by 11.0 s, and the blow was known to be over at 15.3 s.
    assert 10.8 < known(found.times.done_s) < 12.0
    waited_s = known(found.times.done_s) - known(found.times.held_s)
    assert_allclose(known(found.times.waited_s), waited_s)
    assert found.values["h2_ppm"].count >= 3
    assert_same(found, in_blocks(rows_of(trace), [1], **given))


def test_without_a_marker_a_key_says_when_it_began() -> None:
    """Given with the trace or pressed while it runs, it is the same."""
    trace = a_trace(sensors=BLIND["sensors"], seed=9, time=LONG, held=True)
    found = reduced(trace, begun_s=0.0, **BLIND)
    assert found.quality == "accepted"
    assert (found.times.onset_s, found.times.held_s) == (0.0, 0.0)
    assert abs(found.values["h2_ppm"].raw - 40.0) < 2.0 * found.values["h2_ppm"].u
    reducer = a_reducer(**BLIND)
    for row in rows_of(trace):
        if row[0] == 0.0:
            reducer.begin(0.0)
        reducer.feed(row[None, :])
    assert_same(reducer.finish(), found)


def test_without_marker_and_time_nothing_shows_when_breath_began() -> None:
    """A whole trace is refused; a running cycle waits for the key."""
    trace = a_trace(sensors=BLIND["sensors"], seed=9, time=LONG, held=True)
    with pytest.raises(InputError) as caught:
        reduced(trace, **BLIND)
    assert str(caught.value) == (
        "reduction: nothing shows when breath began; allowed: O2 or CO2 among the channels, or the "
        "time at which it began; came: h2_ppm and no time"
    )
    reducer = a_reducer(**BLIND)
    reducer.feed(rows_of(trace))
    assert reducer.phase == "room"
    assert reasons_of(reducer.finish()) == [("no_breath", "no breath was seen")]


def test_a_key_does_not_matter_where_a_marker_shows_it() -> None:
    """O2 is believed, not the hand."""
    trace = a_trace(seed=1)
    assert_same(reduced(trace, begun_s=4.0), reduced(trace))


def test_numbers_outside_physical_limits_take_no_part_in_anything() -> None:
    """They are gaps to the arithmetic, the marker's too, and kept in the order of time."""
    rows, given = by_hand("stream")
    wrong, gaps = rows.copy(), rows.copy()
    for at_s, name, value in (
        (-30.0, "h2_ppm", 3000.0),
        (-20.0, "o2_pct", 0.0),
        (3.0, "o2_pct", 99.0),
        (5.0, "h2_ppm", -21.0),
    ):
        place = np.argmin(np.abs(rows[:, 0] - at_s))
        channel = COLUMNS.index(name) + 1
        wrong[place, channel], gaps[place, channel] = value, np.nan
    assert (wrong[:, 1] == 3000.0).any()
    for size in (1, 5000):
        found = in_blocks(wrong, [size], **given)
        plain = in_blocks(gaps, [size], **given)
        assert dict(found.values) == dict(plain.values)
        assert dict(found.zeros) == dict(plain.zeros)
        assert found.times == plain.times
        assert found.outside == (
            Outside(-30.0, "h2_ppm", 3000.0),
            Outside(-20.0, "o2_pct", 0.0),
            Outside(3.0, "o2_pct", 99.0),
            Outside(5.0, "h2_ppm", -21.0),
        )


def test_numbers_outside_limits_before_the_zero_s_window_are_forgotten() -> None:
    """What an analyser sent while nobody blew is not held against the next breath."""
    rows = rows_of(a_trace(time=np.arange(-900, 181) / 10.0, seed=3))
    rows[0, 1] = 4000.0
    for size in (1, 5000):
        found = in_blocks(rows, [size])
        assert (found.outside, found.quality) == ((), "accepted")


def test_rows_that_are_given_are_not_changed() -> None:
    """The trace belongs to whoever reads the analyser."""
    rows, given = by_hand("stream")
    rows[800, 1] = 9999.0
    before = rows.copy()
    in_blocks(rows, [len(rows)], **given)
    np.testing.assert_array_equal(rows, before)


def test_memory_stays_flat_while_it_waits() -> None:
    """Eight hours at 10 Hz in blocks of a minute, and then a breath as good as any."""
    reducer = a_reducer()
    minute = np.tile([0.0, 0.0, 0.0, 20.9, 0.04, np.nan], (600, 1))
    for start in range(8 * 60):
        minute[:, 0] = -28_900.0 + 60.0 * start + np.arange(600) / 10.0
        reducer.feed(minute)
    rows = rows_of(a_trace(seed=1, time=np.arange(-1000, 181) / 10.0))
    reducer.feed(rows)
    assert_same(reducer.finish(), in_blocks(rows, [len(rows)]))


def test_a_blow_seen_by_carbon_dioxide_alone_is_reduced_too() -> None:
    """The marker rises instead of falling; the alveolar fraction is that of CO2."""
    sensors: Sensors = {"h2_ppm": FAST, "co2_pct": STREAM["co2_pct"]}
    found = reduced(a_trace(seed=1), sensors=sensors)
    assert found.quality == "accepted"
    assert found.reading is not None
    assert_allclose(known(found.reading.alveolar_fraction), 5.16 / 4.96, atol=0.01)
    assert_allclose([known(found.times.onset_s), known(found.times.end_s)], [0.0, 10.0], atol=0.1)


@pytest.mark.parametrize(
    ("time_s", "came"), [(5.0, "5 s"), (4.9, "4.9 s"), (float("nan"), "nan s")]
)
def test_samples_that_do_not_come_in_the_order_of_time_are_refused(
    time_s: float, came: str
) -> None:
    """And nothing of them is taken, however many came with the wrong one."""
    reducer = a_reducer()
    reducer.add(5.0, {"o2_pct": 20.9})
    rows = np.full((2, 6), np.nan)
    rows[:, 0] = [time_s, 9.0]
    with pytest.raises(InputError) as caught:
        reducer.feed(rows)
    assert str(caught.value) == (f"reduction: time does not rise; allowed: after 5 s; came: {came}")
    reducer.add(5.1, {"o2_pct": 20.9})
    assert reducer.progress.at_s == 5.1
