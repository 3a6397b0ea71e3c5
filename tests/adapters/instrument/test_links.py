"""The clock of a link."""

from ebbline.adapters.instrument.links import Pace
from tests.adapters.instrument.live import HandClock


def test_a_pace_counts_from_when_it_was_made_at_its_own_speed() -> None:
    """Two seconds at ten times the pace, from 3 s on, are 23 s."""
    clock = HandClock()
    clock.now_s = 100.0
    pace = Pace(clock, speed=10.0, start_s=3.0)
    assert pace.now_s == 3.0
    clock.now_s = 102.0
    assert pace.now_s == 23.0
