import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.core.breath.progress import Progress
from ebbline.core.breath.samples import column, rows_of
from tests.core.breath.givens import BLIND, TIME, a_reducer, a_trace, by_hand
from tests.helpers import known


def progress_at(kind: str, *times: float) -> list[Progress]:
    """Return where a good breath without noise is at each of these times."""
    rows, given = by_hand(kind, seed=None)
    reducer = a_reducer(**given)
    found, at = [], 0
    for time_s in times:
        until = int(np.searchsorted(rows[:, 0], time_s, side="right"))
        reducer.feed(rows[at:until])
        found.append(reducer.progress)
        at = until
    return found


def test_before_the_first_sample_there_is_nothing_to_show() -> None:
    """A cycle that was started just now."""
    assert a_reducer().progress == Progress(
        phase="room",
        at_s=None,
        room_s=0.0,
        room_needed_s=50.0,
        alveolar_share=None,
        blown_s=None,
        steady_s=0.0,
        steady_needed_s=2.3,
        at_most_s=None,
        settling={},
        live={},
    )


def test_room_air_counts_up_to_what_a_zero_can_use() -> None:
    """Less the guard, delay and lag of the marker, 2 s; at most a minute."""
    shown = progress_at("stream", -69.0, -30.0, -1.0)
    assert [one.phase for one in shown] == ["room"] * 3
    assert_allclose([one.room_s for one in shown], [0.0, 38.0, 60.0], atol=1e-9)
    assert [one.blown_s for one in shown] == [None] * 3
    assert_allclose([known(one.alveolar_share) for one in shown], 0.0, atol=1e-12)
    assert shown[-1].live == pytest.approx(
        {"h2_ppm": 0.0, "ch4_ppm": 0.0, "o2_pct": 20.9, "co2_pct": 0.04}
    )
    assert shown[-1].at_s == -1.0


def test_during_the_blow_the_way_to_alveolar_air_is_shown() -> None:
    """O2 of 13.5 % is 7.4 of 7 %; seconds count from the inlet."""
    (one,) = progress_at("stream", 5.0)
    assert (one.phase, one.at_s, one.at_most_s) == ("blow", 5.0, None)
    assert_allclose(known(one.alveolar_share), 7.4 / 7.0, atol=1e-6)
    assert_allclose(known(one.blown_s), 5.0, atol=0.01)
    assert one.settling == {}
    # Steady since the mean of three samples came within 5 % of the way of the highest.
    share = 7.4 / 7.0 * (1.0 - np.exp(-np.maximum(TIME - 0.2, 0.0) / 0.3))
    near = np.convolve(share, np.ones(3) / 3.0)[: TIME.size] >= 7.4 / 7.0 - 0.05
    assert_allclose(one.steady_s, 5.0 - TIME[np.argmax(near)])
    assert one.steady_s > one.steady_needed_s
    assert_allclose(one.live["h2_ppm"], 40.0, atol=1e-5)


def test_the_marker_is_steady_only_while_it_is_near_its_highest() -> None:
    """Not in room air, not on the front, not once it has turned."""
    shown = progress_at("stream", -1.0, 0.5, 3.0, 6.0, 10.6, 14.0)
    steady = [one.steady_s for one in shown]
    assert (steady[0], steady[4], steady[5]) == (0.0, 0.0, 0.0)
    assert steady[1] < 0.3
    assert_allclose(steady[3] - steady[2], 3.0)


def test_held_gas_is_shown_on_its_way_with_the_time_that_is_left() -> None:
    """After the end of the blow is confirmed; markers have passed and are not held."""
    one, later = progress_at("chamber", 16.0, 20.0)
    assert one.phase == later.phase == "held"
    assert set(later.settling) == {"h2_ppm", "ch4_ppm"}
    assert_allclose(known(one.at_most_s) - known(later.at_most_s), 4.0)
    # 99 % of the response, 59.2 s, from the end of the breath at 10 s.
    assert_allclose(known(later.at_most_s), 59.2 - 10.0, atol=0.1)
    assert later.settling["h2_ppm"].asked == pytest.approx(2.0, rel=0.05)
    assert known(later.settling["h2_ppm"].u) < known(one.settling["h2_ppm"].u)


def test_when_it_is_over_that_is_shown() -> None:
    """The last sample that was taken, and no time left to wait."""
    (stream,) = progress_at("stream", 60.0)
    assert (stream.phase, stream.at_s) == ("done", 15.3)
    (bag,) = progress_at("bag", 60.0)
    assert bag.phase == "done"
    assert bag.settling["h2_ppm"].value == pytest.approx(40.0, abs=0.01)
    reducer = a_reducer()
    reducer.feed(rows_of(a_trace())[:600])
    reducer.finish()
    assert (reducer.progress.phase, reducer.progress.blown_s) == ("done", None)


def test_a_gap_shows_nothing_for_its_channel() -> None:
    """Neither a live value nor a share."""
    rows, given = by_hand("stream")
    rows[:, column("o2_pct")] = np.where(rows[:, 0] > 5.0, np.nan, rows[:, column("o2_pct")])
    reducer = a_reducer(**given)
    reducer.feed(rows[rows[:, 0] <= 6.0])
    assert reducer.progress.alveolar_share is None
    assert "o2_pct" not in reducer.progress.live


def test_a_blind_cycle_has_no_share() -> None:
    """Without a marker there is no way to tell how alveolar the gas is."""
    reducer = a_reducer(**BLIND)
    reducer.feed(rows_of(a_trace(sensors=BLIND["sensors"])))
    shown = reducer.progress
    assert (shown.phase, shown.alveolar_share, shown.blown_s) == ("room", None, None)
    assert set(shown.live) == {"h2_ppm"}
