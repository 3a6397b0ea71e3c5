from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray

from ebbline.core.breath.cycle import Watched
from ebbline.core.breath.front import Onset, Turn
from tests.core.breath.givens import MARKERS, a_sensor, settings_of

Float = NDArray[np.float64]
# A marker whose noise is so small that the turn is the settings' share, 5 % of the way.
QUIET = Watched("o2_pct", MARKERS[0], a_sensor(noise=0.001, lowest=-1.0, highest=25.0))
NOISY = Watched("o2_pct", MARKERS[0], a_sensor(noise=0.49, lowest=-1.0, highest=25.0))
# Three samples at 10 Hz are averaged.
TENTHS = np.arange(200) / 10.0


def a_turn(watched: Watched = QUIET, interval_s: float = 0.1, **changes: float) -> Turn:
    """Return a watcher that has seen nothing."""
    return Turn(watched, settings_of(**changes), interval_s)


def the_onset(share: Float, time: Float = TENTHS) -> tuple[int | None, Onset]:
    """Return what a whole record says."""
    onset = Onset(0.2)
    return onset.feed(time[: share.size], share), onset


def held_then(*parts: tuple[float, int]) -> Float:
    """Return shares that hold for so many samples each."""
    return np.concatenate([np.full(count, share) for share, count in parts])


def test_breath_is_certain_at_the_second_value_in_a_row() -> None:
    """The line from 0.1 at 0.2 s to 0.5 at 0.3 s passes 0.2 at 0.225 s."""
    hit, onset = the_onset(np.array([0.0, 0.0, 0.1, 0.5, 0.9, 1.0]))
    assert hit == 4
    assert_allclose([onset.before_s, onset.crossing_s, onset.first_s], [0.2, 0.225, 0.3])


def test_one_value_alone_is_no_breath() -> None:
    """A single wild value is passed over; what counts is the pair after it."""
    hit, onset = the_onset(np.array([0.0, 0.9, 0.0, 0.1, 0.3, 0.9]))
    assert hit == 5
    assert_allclose([onset.before_s, onset.crossing_s, onset.first_s], [0.3, 0.35, 0.4])
    assert the_onset(np.array([0.0, 0.9, 0.0, 0.9, 0.0]))[0] is None


def test_the_share_itself_is_not_past_it() -> None:
    """It has to be more."""
    assert the_onset(np.array([0.0, 0.2, 0.2, 0.2]))[0] is None


def test_gaps_are_passed_over() -> None:
    """Two values with gaps between them are in a row; the index counts the gaps."""
    hit, onset = the_onset(np.array([0.0, np.nan, 0.4, np.nan, np.nan, 0.9]))
    assert hit == 5
    assert_allclose([onset.before_s, onset.crossing_s, onset.first_s], [0.0, 0.1, 0.2])
    assert the_onset(np.full(5, np.nan))[0] is None


def test_a_record_that_begins_in_breath_begins_at_its_first_value() -> None:
    """There is nothing before it to draw a line from."""
    hit, onset = the_onset(np.array([0.9, 1.0, 1.0]))
    assert hit == 1
    assert (onset.before_s, onset.crossing_s, onset.first_s) == (0.0, 0.0, 0.0)


def test_before_breath_nothing_is_claimed() -> None:
    """Times are not numbers until they are known."""
    _, onset = the_onset(np.zeros(9))
    assert_array_equal([onset.before_s, onset.crossing_s, onset.first_s], np.full(3, np.nan))


def test_room_air_that_comes_back_ends_the_blow_after_a_while() -> None:
    """Room air from 5.0 s: the mean of three is low at once, and 5 s later the blow is over."""
    turn = a_turn()
    share = held_then((1.0, 50), (0.0, 150))
    hit = turn.feed(TENTHS, share)
    assert_allclose([turn.at_s, turn.clear_s, turn.peak, turn.step], [5.0, 4.7, 1.0, 0.05])
    assert hit == 100
    assert not turn.again


def test_the_last_clear_sample_is_before_all_that_were_averaged() -> None:
    """A fall of 0.02 a sample: the mean of three is 0.06 below its highest at the fourth."""
    turn = a_turn()
    share = np.concatenate([np.ones(50), 1.0 - 0.02 * np.arange(1, 40)])
    turn.feed(TENTHS[:89], share)
    # Means from 5.0 s on: 0.9933, 0.98, 0.96, 0.94.
    assert_allclose([turn.at_s, turn.clear_s], [5.3, 5.0])


def test_a_dip_that_is_not_deep_enough_is_no_turn() -> None:
    """4 % is within what counts as a plateau; 6 % is not."""
    for low, turned in ((0.96, False), (0.94, True)):
        turn = a_turn()
        turn.feed(TENTHS, held_then((1.0, 50), (low, 10), (1.0, 140)))
        assert np.isfinite(turn.at_s) == turned or turn.again == turned


def test_breath_after_a_turn_is_a_second_one() -> None:
    """Room air from 5 to 6 s, breath to 10 s, then room air for good: the last turn counts."""
    turn = a_turn()
    hit = turn.feed(TENTHS, held_then((1.0, 50), (0.0, 10), (0.9, 40), (0.0, 100)))
    assert turn.again
    assert_allclose([turn.at_s, turn.clear_s, turn.peak], [10.0, 9.7, 0.9])
    assert hit == 150


def test_breath_that_comes_later_than_that_belongs_to_nobody() -> None:
    """The blow was over 5 s after the turn."""
    turn = a_turn()
    hit = turn.feed(TENTHS, held_then((1.0, 50), (0.0, 60), (1.0, 90)))
    assert hit == 100
    assert not turn.again


def test_noise_alone_seldom_turns() -> None:
    """With an sd of 7 % of the way a turn is seven sd of the mean of three; blows of 10 s."""
    rng = np.random.default_rng(6)
    turned = 0
    for _ in range(1000):
        turn = a_turn(NOISY)
        assert_allclose(turn.step, 7.0 * 0.07 / np.sqrt(3.0))
        turn.feed(TENTHS[:100], 1.0 + 0.07 * rng.normal(size=100))
        turned += bool(np.isfinite(turn.at_s) or turn.again)
    assert turned <= 2


def test_one_high_value_at_the_start_is_no_height_to_fall_from() -> None:
    """The mean of three counts, not that of the first one or two alone."""
    turn = a_turn(NOISY)
    assert turn.feed(TENTHS, held_then((1.4, 1), (1.0, 199))) is None
    assert np.isnan(turn.at_s)
    assert_allclose(turn.peak, 3.4 / 3.0)


@pytest.mark.parametrize(
    ("interval_s", "count"), [(1.0, 1), (0.5, 1), (0.1, 3), (0.01, 30), (0.001, 30)]
)
def test_as_many_are_averaged_as_the_rate_gives(interval_s: float, count: int) -> None:
    """0.3 s of samples, at least one and at most 30."""
    assert_allclose(a_turn(NOISY, interval_s).step, max(0.05, 0.49 / np.sqrt(count)))


def test_gaps_in_a_blow_are_passed_over() -> None:
    """What is averaged are the last values that came; the index counts the gaps."""
    share = held_then((1.0, 50), (0.0, 150))
    share[45:52] = np.nan
    turn = a_turn()
    assert turn.feed(TENTHS, share) == 102
    assert_allclose([turn.at_s, turn.clear_s], [5.2, 4.2])


def cuts_of(size: int) -> st.SearchStrategy[list[int]]:
    """Return places at which a record is cut into blocks."""
    return st.lists(st.integers(0, size), max_size=12).map(sorted)


def walks() -> st.SearchStrategy[Float]:
    """Return records of room air, breath, coughs, inhalations and gaps, at 2 Hz."""
    level = st.sampled_from([0.0, 0.0, 0.1, 0.3, 0.9, 0.95, 1.0, float("nan")])
    part = st.tuples(level, st.integers(1, 9))
    return st.lists(part, min_size=1, max_size=10).map(lambda parts: held_then(*parts))


@settings(max_examples=150)
@given(walks(), st.data())
def test_both_watchers_say_the_same_however_a_record_is_cut(
    share: Float, data: st.DataObject
) -> None:
    """Blocks of any length, empty ones too, against the whole record at once."""
    time = np.arange(share.size) / 2.0
    cuts = [0, *data.draw(cuts_of(share.size)), share.size]
    for whole, cut in (
        (Onset(0.2), Onset(0.2)),
        (a_turn(interval_s=0.1, confirm_s=3.0), a_turn(interval_s=0.1, confirm_s=3.0)),
    ):
        expected = whole.feed(time, share)
        found = None
        for start, stop in pairwise(cuts):
            hit = cut.feed(time[start:stop], share[start:stop])
            if hit is not None:
                found = start + hit
                break
        assert found == expected
        if isinstance(whole, Onset) and isinstance(cut, Onset):
            pairs = [(getattr(one, name) for one in (whole, cut)) for name in
                     ("before_s", "crossing_s", "first_s")]  # fmt: skip
        else:
            pairs = [(getattr(one, name) for one in (whole, cut)) for name in
                     ("at_s", "clear_s", "peak", "again")]  # fmt: skip
        for one, other in pairs:
            assert_array_equal(one, other)


def test_a_dip_that_noise_made_does_not_end_a_blow() -> None:
    """The marker is still near its highest when the turn is looked at again; it ends later."""
    time_s = np.arange(0.0, 30.0, 0.1)
    share = np.where(time_s < 20.0, 1.0, 0.0)
    watch = a_turn()
    dip = (time_s >= 5.0) & (time_s < 5.0 + 0.1 * 12)
    share[dip] -= 0.6 * watch.step
    share[time_s < 0.6] += 0.6 * watch.step
    end = watch.feed(time_s, share)
    assert end is not None
    assert not watch.again
    assert_allclose(watch.at_s, 20.0, atol=0.31)
    assert_allclose(time_s[end], watch.at_s + settings_of().confirm_s, atol=0.11)


def test_room_air_mixed_in_for_good_is_an_inhalation() -> None:
    """The marker goes down by a fifth, stays there, and ends only later."""
    time_s = np.arange(0.0, 30.0, 0.1)
    share = np.where(time_s < 8.0, 1.0, 0.8)
    share[time_s >= 20.0] = 0.0
    watch = a_turn()
    watch.feed(time_s, share)
    assert watch.again
    assert_allclose(watch.at_s, 20.0, atol=0.31)


def test_an_inhalation_some_seconds_after_a_dip_of_noise_is_still_seen() -> None:
    """The dip must not start a wait at whose end the inhalation looks like the end of the blow."""
    time_s = np.arange(0.0, 30.0, 0.1)
    share = np.where(time_s < 20.0, 1.0, 0.0)
    watch = a_turn(NOISY)
    share[(time_s >= 5.0) & (time_s < 5.8)] -= 0.6 * watch.step
    share[time_s < 0.6] += 0.6 * watch.step
    share[(time_s >= 9.5) & (time_s < 10.5)] = 0.05
    watch.feed(time_s, share)
    assert watch.again
    assert_allclose(watch.at_s, 20.0, atol=0.31)
