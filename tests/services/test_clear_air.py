import math

from ebbline.core.breath.cycle import Watched
from ebbline.services.clear_air import Clearing
from ebbline.services.events import Arrived
from tests.helpers import O2
from tests.services.instruments import a_sensor

WATCHED = Watched("o2_pct", O2, a_sensor(ppm=False))


def waited(clearing: Clearing, *shown: float) -> list[bool]:
    """Return whether the wait was over after each sample of O2, one a second."""
    return [
        clearing.over(Arrived(float(at_s), {"o2_pct": value}), WATCHED)
        for at_s, value in enumerate(shown)
    ]


def test_room_air_must_stay_for_the_time_asked() -> None:
    """Breath in between starts the time again."""
    shown = (14.0, 20.9, 20.9, 15.0, 20.9, 20.9, 20.9, 14.0)
    assert waited(Clearing(2.0, 0.2), *shown) == [False] * 6 + [True, True]


def test_room_air_from_the_first_needs_no_wait_where_none_is_asked() -> None:
    """And breath from the first is waited out."""
    assert waited(Clearing(0.0, 0.2), 20.9) == [True]
    assert waited(Clearing(0.0, 0.2), 14.0, 20.9) == [False, True]


def test_a_missing_value_is_neither_breath_nor_room_air() -> None:
    """It does not start the time again."""
    assert waited(Clearing(2.0, 0.2), 20.9, math.nan, 20.9) == [False, False, True]


def test_the_last_sample_is_there_to_be_shown_until_the_wait_is_over() -> None:
    """Then the cycle shows its own."""
    clearing = Clearing(1.0, 0.2)
    waited(clearing, 20.9)
    assert clearing.last == Arrived(0.0, {"o2_pct": 20.9})
    waited(clearing, 20.9, 20.9)
    assert clearing.last is None


def test_without_a_marker_nothing_is_waited_for() -> None:
    """A person says when it begins."""
    assert Clearing(5.0, 0.2).over(Arrived(0.0, {"h2_ppm": 3.0}), None)
