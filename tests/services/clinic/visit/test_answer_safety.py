"""The safety questions are answered before the drink, and the gate reads the answers."""

from typing import Any

import pytest

from ebbline.core.clinic.record.visit import Screening, Test
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.visit.answer_safety import answer_safety, safety_gate
from tests.scene import Scene
from tests.services.clinic.given import all_no, refused, stands


def answer(scene: Scene, test: Test, answers: dict[str, str], **changes: Any) -> Screening:
    """Record answers."""
    values: dict[str, Any] = {"version": 0, "token": None} | changes
    return answer_safety(scene.clinic, scene.bench, test_id=test.id, answers=answers, **values)


def test_the_gate_opens_when_every_question_is_answered_no(scene: Scene) -> None:
    """And one question later it was still closed."""
    test = scene.test(substrate="lactose", state="arrived")
    answers = all_no("lactose")
    last = {"diabetes": answers.pop("diabetes")}
    answer(scene, test, answers)
    before = safety_gate(scene.clinic, scene.bench, test_id=test.id)
    assert [one.id for one in before.to_ask] == ["diabetes"]
    answer(scene, test, last, version=1)
    assert safety_gate(scene.clinic, scene.bench, test_id=test.id).open
    assert stands(scene, Screening, test_id=test.id).entry.answers == all_no("lactose")


def test_an_answer_that_changes_closes_the_gate_again(scene: Scene) -> None:
    """Every version is kept."""
    test = scene.test(substrate="lactose", state="cleared")
    answer(scene, test, all_no("lactose"))
    answer(scene, test, {"pregnancy": "unknown"}, version=1)
    gate = safety_gate(scene.clinic, scene.bench, test_id=test.id)
    assert [(one.bar, one.state) for one in gate.closed] == [("pregnancy", "decision missing")]


def test_answers_sent_twice_are_one_act(scene: Scene) -> None:
    """Others under their token are refused."""
    test = scene.test(substrate="lactose", state="arrived")
    first = answer(scene, test, {"diabetes": "no"}, token="t1")
    assert answer(scene, test, {"diabetes": "no"}, token="t1") == first
    with pytest.raises(FieldError, match="token: this was sent before with other content"):
        answer(scene, test, {"diabetes": "yes"}, token="t1")


def test_an_unknown_question_or_answer_is_refused(scene: Scene) -> None:
    """Nothing of it is kept."""
    test = scene.test(substrate="lactose", state="arrived")
    with refused(
        scene, FieldError, "diabetes: unknown answer; allowed: no, unknown or yes; came: a little"
    ):
        answer(scene, test, {"diabetes": "a little"})
    with pytest.raises(FieldError, match=r"question: unknown question; allowed: .*; came: tides"):
        answer(scene, test, {"tides": "no"})


def test_an_older_sight_of_the_answers_conflicts(scene: Scene) -> None:
    """Somebody else was quicker."""
    test = scene.test(substrate="lactose", state="arrived")
    answer(scene, test, {"diabetes": "no"})
    with pytest.raises(ConflictError):
        answer(scene, test, {"diabetes": "yes"})


def test_nobody_is_asked_before_arriving(scene: Scene) -> None:
    """Answers are of the day."""
    test = scene.test(substrate="lactose", state="booked")
    with refused(
        scene,
        ClinicError,
        "state: this is not done to a test that stands there; allowed: arrived, cleared, dosed or "
        "sampling; came: booked",
    ):
        answer(scene, test, {"diabetes": "no"})
