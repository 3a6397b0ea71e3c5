import math

import numpy as np
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from ebbline.core.breath.blow import Blow
from ebbline.core.breath.cycle import Cycle
from ebbline.core.breath.room import Room
from ebbline.core.breath.samples import Samples, column, rows_of
from tests.core.breath.givens import (
    DILUTION,
    STREAM,
    TIME,
    a_trace,
    settings_of,
)

Float = NDArray[np.float64]


def blown(rows: Float, **changes: float) -> tuple[Blow, Samples, int, bool]:
    """Follow the blow in rows, room air before it first."""
    samples = Samples()
    cycle = Cycle(STREAM, "blow", settings_of(**changes), DILUTION)
    room = Room(cycle, samples, None)
    used, seen = room.feed(rows)
    assert seen
    assert cycle.watched is not None
    blow = Blow(cycle, samples, cycle.watched, room.seen_s)
    more, over = blow.feed(rows[used:])
    return blow, samples, used + more, over


def test_the_end_lies_between_the_last_clear_sample_and_the_turn_at_the_inlet() -> None:
    """Breath to 10 s: delay and the way to the turn are taken off, and 10 s is in between."""
    blow, samples, used, over = blown(rows_of(a_trace()))
    clear_s, turn_s = blow.end_s
    assert over
    assert not blow.again
    # Shown to fall from 10.2 s on, so 10.3 s is the first that may turn; three are averaged.
    fallen = 0.05 / ((20.9 - 13.5) / 7.0)
    lag_s = 0.2 - 0.3 * math.log(1.0 - fallen)
    assert_allclose([clear_s, turn_s], [10.0 - lag_s, 10.3 - lag_s], atol=1e-6)
    assert clear_s < 10.0 < turn_s
    # Confirmed 5 s later, and all of it kept.
    assert_allclose(samples.rows[-1, 0], 15.3)
    assert_allclose(TIME[used - 1], 15.3)


def test_a_blow_that_goes_on_ends_at_the_latest() -> None:
    """With 6 s allowed, the first sample later than that after breath was seen is the last."""
    blow, samples, _, over = blown(rows_of(a_trace()), longest_blow_s=6.0)
    assert over
    assert_allclose(samples.rows[-1, 0], 6.3)
    assert_allclose(blow.end_s, [6.1, 6.1])


def test_a_blow_that_is_cut_off_ends_with_its_last_sample() -> None:
    """The trace stops at 7 s; less the delay that is 6.8 s at the inlet."""
    rows = rows_of(a_trace())
    blow, _, _, over = blown(rows[rows[:, 0] <= 7.0])
    assert not over
    assert_allclose(blow.end_s, [6.8, 6.8])


def test_breath_after_room_air_is_told() -> None:
    """O2 at room air from 5 to 6 s; the end is that of the second breath."""
    rows = rows_of(a_trace())
    rows[(rows[:, 0] >= 5.0) & (rows[:, 0] < 6.0), column("o2_pct")] = 20.9
    blow, _, _, over = blown(rows)
    assert over
    assert blow.again
    assert blow.end_s[0] < 10.0 < blow.end_s[1]


def test_the_number_averaged_comes_from_the_rate_before_the_blow() -> None:
    """At 2 Hz one sample is averaged, so clear and turn are neighbours."""
    rows = rows_of(a_trace(time=np.arange(-140, 37) / 2.0))
    blow, _, _, _ = blown(rows)
    assert_allclose(blow.end_s[1] - blow.end_s[0], 0.5)
