"""A person stops a test, with a reason, and sees first what would be lost."""

from typing import Any

import pytest

from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.visit.stop_test import lost_by_stopping, stop_test
from tests.scene import Scene
from tests.services.clinic.given import last_act, refused, stands


def stop(scene: Scene, test: Test, **changes: Any) -> Test:
    """Stop a test."""
    values: dict[str, Any] = {
        "version": 1, "why": "pain", "decided_by": "the patient", "token": None,
    } | changes  # fmt: skip
    return stop_test(scene.clinic, scene.bench, test_id=test.id, **values)


@pytest.mark.parametrize("state", ["arrived", "cleared", "dosed", "sampling"])
def test_a_test_is_stopped_with_its_reason_and_who_decided(scene: Scene, state: str) -> None:
    """The same act sent twice is one."""
    test = scene.test(substrate="lactose", state=state)
    stop(scene, test, token="t1")
    stop(scene, test, token="t1")
    found = stands(scene, Test, id=test.id)
    assert (found.entry.state, found.entry.state_why, found.version) == (
        "stopped", "pain (decided by: the patient)", 2,
    )  # fmt: skip
    assert last_act(scene)[:2] == ("stop test", "pain")


def test_what_stopping_loses_is_shown(scene: Scene) -> None:
    """All planned minutes, and the rows that speak of this sugar."""
    test = scene.test(substrate="lactose", state="sampling")
    lost = lost_by_stopping(scene.clinic, scene.bench, test_id=test.id)
    assert lost.minutes == (30.0, 60.0, 90.0, 120.0, 150.0, 180.0)
    assert [one.id for one in lost.rows] == [
        "late-lactose",
        "late-phase",
        "methane",
        "late-symptoms",
    ]
    other = scene.test(substrate="glucose", state="sampling")
    rows = lost_by_stopping(scene.clinic, scene.bench, test_id=other.id).rows
    assert [one.id for one in rows] == ["late-phase", "methane", "late-symptoms"]


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"why": " "}, "why: missing; allowed: a reason in words; came: nothing"),
        (
            {"decided_by": ""},
            "decided_by: missing; allowed: who decided to stop; came: nothing",
        ),
    ],
)
def test_nothing_stops_without_a_reason_and_a_person(
    scene: Scene, changes: dict[str, str], text: str
) -> None:
    """The software stops no test."""
    test = scene.test(substrate="lactose", state="sampling")
    with refused(scene, FieldError, text):
        stop(scene, test, **changes)


def test_what_has_not_begun_or_has_ended_is_not_stopped(scene: Scene) -> None:
    """An older sight conflicts."""
    test = scene.test(substrate="lactose", state="sampling")
    with pytest.raises(ConflictError):
        stop(scene, test, version=2)
    booked = scene.test(substrate="lactose", state="booked")
    with refused(
        scene,
        ClinicError,
        "state: no step leads from booked to stopped; allowed: arrived or did not attend; came: "
        "stopped",
    ):
        stop(scene, booked)
