"""What happens during a test is kept with its time."""

from datetime import timedelta
from typing import Any

import pytest

from ebbline.core.clinic.record.bench import EVENTS, TestEvent
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, FieldError
from ebbline.services.clinic.bench.record_event import record_event
from tests.scene import Scene
from tests.services.clinic.breaths import begun
from tests.services.clinic.given import refused


def happen(scene: Scene, test: Test, what: str, **changes: Any) -> TestEvent:
    """Record an event."""
    given: dict[str, Any] = {
        "test_id": test.id,
        "what": what,
        "at": None,
        "lost_fraction": None,
        "note": "",
        "token": None,
    }
    return record_event(scene.clinic, scene.bench, **{**given, **changes})


def test_every_event_can_be_recorded(scene: Scene) -> None:
    """Vomiting with the share that was lost, anything else with a note."""
    test = begun(scene)
    for what in EVENTS:
        lost = 0.25 if what == "vomited" else None
        note = "fire drill" if what == "other" else ""
        one = happen(scene, test, what, lost_fraction=lost, note=note)
        assert (one.what, one.lost_fraction, one.note, one.at) == (
            what,
            lost,
            note,
            scene.clock.at,
        )


def test_it_may_have_happened_a_while_ago(scene: Scene) -> None:
    """Told afterwards, with its time."""
    test = begun(scene)
    at = scene.clock.at - timedelta(minutes=50)
    assert happen(scene, test, "smoked", at=at).at == at
    with pytest.raises(FieldError, match="at: too late"):
        happen(scene, test, "smoked", at=scene.clock.at + timedelta(minutes=1))


@pytest.mark.parametrize(
    ("what", "changes", "text"),
    [
        (
            "sang",
            {},
            (
                "what: not known; allowed: smoked, slept, ate, drank, vomited, walked, rinsed, "
                "diarrhoea, faint or other; came: sang"
            ),
        ),
        ("other", {}, "note: missing; allowed: what happened, in words; came: nothing"),
        (
            "vomited",
            {},
            (
                "lost_fraction: how much of the drink was lost is not known; allowed: 0 to 1; "
                "came: nothing"
            ),
        ),
        (
            "vomited",
            {"lost_fraction": 1.5},
            (
                "lost_fraction: how much of the drink was lost is not known; allowed: 0 to 1; "
                "came: 1.5"
            ),
        ),
        (
            "slept",
            {"lost_fraction": 0.5},
            "lost_fraction: nothing of the drink is lost by slept; allowed: nothing; came: 0.5",
        ),
    ],
)
def test_what_cannot_have_happened_is_refused(
    scene: Scene, what: str, changes: dict[str, Any], text: str
) -> None:
    """The refusal names what is asked for."""
    test = begun(scene)
    with refused(scene, FieldError, text):
        happen(scene, test, what, **changes)


def test_nothing_happens_to_somebody_who_is_not_here(scene: Scene) -> None:
    """Nor behind a signed report."""
    for state in ("booked", "signed"):
        test = scene.test(substrate="lactose", state=state)
        text = (
            "state: this is not done to a test that stands there; allowed: arrived, cleared, "
            f"dosed, sampling, finished, stopped or drafted; came: {state}"
        )
        with refused(scene, ClinicError, text):
            happen(scene, test, "walked")
