"""Symptom scores belong to a planned sample, on a scale that the patient can answer."""

from typing import Any

import pytest

from ebbline.core.clinic.record.bench import Symptoms
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.bench.record_symptoms import record_symptoms
from tests.scene import Scene
from tests.services.clinic.breaths import begun
from tests.services.clinic.given import refused


def score(scene: Scene, test: Test, **changes: Any) -> Symptoms:
    """Record pain 2 and bloating 4 at 30 min."""
    given: dict[str, Any] = {
        "test_id": test.id,
        "planned_minute": 30.0,
        "scale": "0-10",
        "scores": {"bloating": 4, "pain": 2},
        "note": " rumbling ",
        "version": 0,
        "token": None,
    }
    return record_symptoms(scene.clinic, scene.bench, **{**given, **changes})


def test_scores_are_kept_as_they_were_asked(scene: Scene) -> None:
    """Complaints that were not asked are not there."""
    test = begun(scene)
    one = score(scene, test, token="tap-1")
    assert (one.planned_minute, one.scale, one.note) == (30.0, "0-10", "rumbling")
    assert one.scores == {"pain": 2.0, "bloating": 4.0}
    assert score(scene, test, token="tap-1") == one


def test_a_child_points_at_faces(scene: Scene) -> None:
    """Six of them, so that there is no face between two."""
    test = scene.test(substrate="lactose", state="cleared", age_years=7.0)
    assert score(scene, test, planned_minute=0.0, scale="faces").scale == "faces"
    text = "pain: no score of the scale faces; allowed: 0, 2, 4, 6, 8 or 10; came: 3"
    with refused(scene, FieldError, text):
        score(scene, test, scale="faces", scores={"pain": 3})


def test_scores_are_put_right_in_a_new_version(scene: Scene) -> None:
    """By whoever saw the one that stands."""
    test = begun(scene)
    first = score(scene, test)
    second = score(scene, test, scores={"pain": 5}, version=1)
    assert (second.id, second.scores) == (first.id, {"pain": 5.0})
    with pytest.raises(ConflictError, match="pain"):
        score(scene, test, scores={"pain": 6}, version=1)
    with pytest.raises(FieldError, match="version: nothing stands yet; allowed: 0; came: 1"):
        score(scene, test, planned_minute=60.0, version=1)


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        (
            {"scores": {}},
            (
                "scores: nothing was scored; allowed: one or more of pain, bloating, flatulence, "
                "nausea or diarrhoea; came: nothing"
            ),
        ),
        (
            {"scores": {"headache": 1}},
            (
                "scores: not known; allowed: pain, bloating, flatulence, nausea or diarrhoea; "
                "came: headache"
            ),
        ),
        (
            {"scores": {"pain": 11}},
            (
                "pain: no score of the scale 0-10; allowed: 0, 1, 2, 3, 4, 5, 6, 7, 8, 9 or 10; "
                "came: 11"
            ),
        ),
        ({"scale": "stars"}, "scale: not known; allowed: 0-10 or faces; came: stars"),
        (
            {"planned_minute": 45.0},
            (
                "planned_minute: no such sample is planned; allowed: 0, 30, 60, 90, 120, 150, 180; "
                "came: 45"
            ),
        ),
    ],
)
def test_what_cannot_be_scored_is_refused(scene: Scene, changes: dict[str, Any], text: str) -> None:
    """The refusal names what can."""
    test = begun(scene)
    with refused(scene, FieldError, text):
        score(scene, test, **changes)


def test_nothing_is_scored_before_the_patient_is_here(scene: Scene) -> None:
    """Nor after the report is drafted."""
    for state in ("booked", "drafted"):
        test = scene.test(substrate="lactose", state=state)
        text = (
            "state: this is not done to a test that stands there; allowed: cleared, dosed, "
            f"sampling or finished; came: {state}"
        )
        with refused(scene, ClinicError, text):
            score(scene, test)
