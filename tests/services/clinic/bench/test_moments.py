"""What is entered happened before now, and not long ago."""

from datetime import datetime, timedelta

import pytest

from ebbline.core.errors import FieldError
from ebbline.services.clinic.bench.moments import happened_at
from tests.scene import Scene


def told(scene: Scene, at: datetime | None) -> datetime:
    """Return the moment that is kept."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        return happened_at(scene.clinic, act, at)


def test_nothing_told_is_now(scene: Scene) -> None:
    """The clock of the act."""
    assert told(scene, None) == scene.clock.at


def test_a_time_in_another_zone_is_the_same_moment(scene: Scene) -> None:
    """Kept in UTC."""
    at = (scene.clock.at - timedelta(hours=24)).astimezone(scene.clinic.zone)
    found = told(scene, at)
    assert found == at
    assert found.utcoffset() == timedelta(0)


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (1, ("at: too late; allowed: 2026-11-26 08:00 UTC to 2026-11-27 08:00 UTC; "
            "came: 2026-11-27 08:01 UTC")),
        (-1441, ("at: too early; allowed: 2026-11-26 08:00 UTC to 2026-11-27 08:00 UTC; "
            "came: 2026-11-26 07:59 UTC")),
    ],
)  # fmt: skip
def test_a_time_to_come_or_long_gone_is_refused(scene: Scene, minutes: int, text: str) -> None:
    """A day is as far back as anything is entered."""
    with pytest.raises(FieldError) as caught:
        told(scene, scene.clock.at + timedelta(minutes=minutes))
    assert str(caught.value) == text


def test_a_time_without_its_zone_is_refused(scene: Scene) -> None:
    """Nobody knows when it was."""
    with pytest.raises(FieldError, match="at: no time zone"):
        told(scene, datetime(2026, 11, 27, 7, 0))  # noqa: DTZ001
