"""A named person of the right kind decides on a safety question, once it is answered."""

from dataclasses import replace

import pytest

from ebbline.core.clinic.record.visit import Screening
from ebbline.core.clinic.safety import Clearance as Decision
from ebbline.core.errors import ClinicError, EbblineError, FieldError, SafetyError
from ebbline.services.clinic.visit.answer_safety import safety_gate
from ebbline.services.clinic.visit.record_clearance import record_clearance
from tests.scene import Scene
from tests.services.clinic.given import all_no, clearances, last_act, put, refused

BAR = "hereditary-fructose-intolerance-in-doubt"
QUESTION = "hereditary-fructose-intolerance"
GO = Decision(
    bar=BAR,
    substrate="fructose",
    answer="unknown",
    go_ahead=True,
    by_name="Dr L. Harbour",
    by_kind="doctor",
    reason="eats fruit every day without harm",
)


def test_a_decision_opens_the_gate(scene: Scene) -> None:
    """It is kept with its reason; the same one sent twice is one."""
    test = scene.test(substrate="fructose", state="arrived")
    put(scene, Screening("s1", test.id, {**all_no("fructose"), QUESTION: "unknown"}))
    assert not safety_gate(scene.clinic, scene.bench, test_id=test.id).open
    for _ in range(2):
        record_clearance(scene.clinic, scene.bench, test_id=test.id, decision=GO, token="t1")
    gate = safety_gate(scene.clinic, scene.bench, test_id=test.id)
    assert (gate.open, [one.bar for one in gate.cleared]) == (True, [BAR])
    assert len(clearances(scene, test)) == 1
    assert last_act(scene)[:2] == ("record clearance", "eats fruit every day without harm")
    other = replace(GO, reason="another")
    with pytest.raises(FieldError, match="token"):
        record_clearance(scene.clinic, scene.bench, test_id=test.id, decision=other, token="t1")


def test_the_last_decision_counts(scene: Scene) -> None:
    """Whoever goes ahead may be overruled, and both decisions stay."""
    test = scene.test(substrate="fructose", state="cleared")
    put(scene, Screening("s1", test.id, {**all_no("fructose"), QUESTION: "unknown"}))
    for decision in (GO, replace(GO, go_ahead=False, reason="the mother is not sure")):
        record_clearance(scene.clinic, scene.bench, test_id=test.id, decision=decision, token=None)
    assert not safety_gate(scene.clinic, scene.bench, test_id=test.id).open
    assert [one.go_ahead for one in clearances(scene, test)] == [True, False]


@pytest.mark.parametrize(
    ("answer", "decision", "text"),
    [
        (
            "unknown",
            replace(GO, by_kind="clinician"),
            (f"by_kind: may not lift {BAR}; allowed: doctor or specialist; came: clinician"),
        ),
        (
            "suspected",
            GO,
            (
                f"bar: not what stands before this drink; allowed: {BAR}, fructose, suspected; "
                f"came: {BAR}, fructose, unknown"
            ),
        ),
        (
            "no",
            GO,
            (
                "bar: not what stands before this drink; allowed: no bar stands before it; came: "
                f"{BAR}, fructose, unknown"
            ),
        ),
        (
            "known",
            replace(GO, bar="hereditary-fructose-intolerance-known", answer="known"),
            (
                "bar: nobody may decide on it; allowed: nothing to lift it; came: "
                "hereditary-fructose-intolerance-known"
            ),
        ),
        (
            "unknown",
            replace(GO, substrate="sorbitol"),
            (
                f"bar: not what stands before this drink; allowed: {BAR}, fructose, unknown; "
                f"came: {BAR}, sorbitol, unknown"
            ),
        ),
    ],
)
def test_what_may_not_be_decided_is_refused(
    scene: Scene, answer: str, decision: Decision, text: str
) -> None:
    """Neither by the wrong person nor about another answer or drink; nothing is kept."""
    test = scene.test(substrate="fructose", state="arrived")
    put(scene, Screening("s1", test.id, {**all_no("fructose"), QUESTION: answer}))
    with refused(scene, SafetyError, text):
        record_clearance(scene.clinic, scene.bench, test_id=test.id, decision=decision, token=None)


@pytest.mark.parametrize(("state", "error"), [("booked", ClinicError), ("dosed", ClinicError)])
def test_a_decision_comes_between_the_arrival_and_the_drink(
    scene: Scene, state: str, error: type[EbblineError]
) -> None:
    """Not before the patient is here, not after the drink."""
    test = scene.test(substrate="fructose", state=state)
    with refused(
        scene,
        error,
        "state: this is not done to a test that stands there; allowed: arrived or cleared; came: "
        + state,
    ):
        record_clearance(scene.clinic, scene.bench, test_id=test.id, decision=GO, token=None)
