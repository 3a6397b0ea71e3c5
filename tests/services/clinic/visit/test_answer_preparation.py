"""The preparation is answered item by item, and what was not kept needs a named decision."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from ebbline.core.clinic.preparation import Answer
from ebbline.core.clinic.record.visit import Preparation, Test
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.visit.answer_preparation import answer_preparation, decide_preparation
from ebbline.services.clinic.visit.preparing import open_items
from tests.scene import Scene
from tests.services.clinic.given import all_kept, refused, stands

SMOKED = {"smoking": Answer("yes", None)}
NOT_SMOKED = {"smoking": Answer("no", None)}


def answer(scene: Scene, test: Test, answers: dict[str, Answer], **changes: Any) -> Preparation:
    """Record answers."""
    values: dict[str, Any] = {"version": 0, "guidance": "service", "token": None} | changes
    return answer_preparation(scene.clinic, scene.bench, test_id=test.id, answers=answers, **values)


def decide(scene: Scene, test: Test, **changes: Any) -> Preparation:
    """Record a decision on smoking."""
    values: dict[str, Any] = {
        "version": 1,
        "item": "smoking",
        "go_ahead": True,
        "by_name": "Dr L. Harbour",
        "reason": "one cigarette at six",
        "token": None,
    } | changes
    return decide_preparation(scene.clinic, scene.bench, test_id=test.id, **values)


def still_open(scene: Scene, test: Test) -> list[str]:
    """Return the items that keep the test from being cleared."""
    with scene.clinic.record.look() as look:
        entry = look.find(Preparation, {"test_id": test.id})[0].entry
        return [one.id for one in open_items(scene.clinic, look, test, entry)]


def test_answers_come_one_by_one_and_stay(scene: Scene) -> None:
    """What is not answered is open; the same answers sent twice are one act."""
    test = scene.test(substrate="lactose", state="arrived")
    kept = all_kept("lactose", age_years=41.7)
    first = answer(scene, test, {"diet": kept.pop("diet")}, token="t1")
    assert answer(scene, test, {"diet": Answer("yes", None)}, token="t1") == first
    assert "fast" in still_open(scene, test)
    answer(scene, test, kept, version=1)
    assert still_open(scene, test) == []
    answers = stands(scene, Preparation, test_id=test.id).entry.answers
    assert answers["diet"] == {"word": "yes", "on": None}
    assert answers["fast"]["on"].startswith("2026-11-27T00:30:00")


def test_a_date_is_counted_by_the_calendar(scene: Scene) -> None:
    """An antibiotic 15 days before is not four weeks before."""
    test = scene.test(substrate="lactose", state="arrived")
    answer(scene, test, {"antibiotics": Answer("yes", date(2026, 11, 12))})
    decided = decide(scene, test, item="antibiotics")
    assert decided.decisions["antibiotics"] == {
        "go_ahead": True,
        "by": "Dr L. Harbour",
        "about": "the last antibiotic was on Thursday 12 November, 15 days before; 28 are asked",
    }


@pytest.mark.parametrize(
    ("answers", "guidance", "text"),
    [
        (
            {"diet": Answer("yes", None)},
            "seaweed",
            "guidance: not known; allowed: ",
        ),
        ({"gulls": Answer("yes", None)}, "service", "preparation: not known; allowed: "),
        (
            {"antibiotics": Answer("yes", date(2026, 11, 28))},
            "service",
            "antibiotics: after the appointment; allowed: a day before it; came: 2026-11-28",
        ),
        (
            {"fast": Answer("yes", datetime(2026, 11, 26, 20, 0))},  # noqa: DTZ001 - no zone
            "service",
            (
                "fast: no time zone; allowed: a date and time with its zone; came: "
                "2026-11-26T20:00:00"
            ),
        ),
    ],
)
def test_what_cannot_be_answered_is_refused(
    scene: Scene, answers: dict[str, Answer], guidance: str, text: str
) -> None:
    """Nothing of it is kept."""
    test = scene.test(substrate="lactose", state="arrived")
    with pytest.raises(FieldError) as caught:
        answer(scene, test, answers, guidance=guidance)
    assert str(caught.value).startswith(text)
    with scene.clinic.record.look() as look:
        assert look.count(Preparation) == 0


def test_a_deviation_is_decided_by_a_named_person_with_a_reason(scene: Scene) -> None:
    """The decision is kept, the reason apart, and the same one sent twice is one."""
    test = scene.test(substrate="lactose", state="arrived")
    answer(scene, test, {**all_kept("lactose", age_years=41.7), **SMOKED})
    assert still_open(scene, test) == ["smoking"]
    first = decide(scene, test, token="t1")
    assert decide(scene, test, token="t1") == first
    assert still_open(scene, test) == []
    assert first.reasons == {"smoking": "one cigarette at six"}


def test_a_decision_against_keeps_the_item_open(scene: Scene) -> None:
    """The person who decides may decide against."""
    test = scene.test(substrate="lactose", state="arrived")
    answer(scene, test, {**all_kept("lactose", age_years=41.7), **SMOKED})
    decide(scene, test, go_ahead=False)
    assert still_open(scene, test) == ["smoking"]


@pytest.mark.parametrize(
    ("again", "guidance", "decided"),
    [
        (SMOKED, "service", ["smoking"]),
        (NOT_SMOKED, "service", []),
        (SMOKED, "north-american-2017", []),
    ],
)
def test_a_decision_is_about_one_answer_by_one_guidance(
    scene: Scene, again: dict[str, Answer], guidance: str, decided: list[str]
) -> None:
    """With another answer it no longer counts."""
    test = scene.test(substrate="lactose", state="arrived")
    answer(scene, test, SMOKED)
    decide(scene, test)
    entry = answer(scene, test, {**again, "gum": Answer("no", None)}, version=2, guidance=guidance)
    assert list(entry.decisions) == decided
    assert list(entry.reasons) == decided


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        (
            {"by_name": " "},
            "by_name: missing; allowed: the name of the person who decides; came: nothing",
        ),
        ({"reason": ""}, "reason: missing; allowed: a reason in words; came: nothing"),
    ],
)
def test_a_decision_without_a_name_or_a_reason_is_none(
    scene: Scene, changes: dict[str, str], text: str
) -> None:
    """Somebody answers for it."""
    test = scene.test(substrate="lactose", state="arrived")
    answer(scene, test, SMOKED)
    with refused(scene, FieldError, text):
        decide(scene, test, **changes)


def test_there_is_nothing_to_decide_where_nothing_was_answered(scene: Scene) -> None:
    """Nor about an item that was kept."""
    test = scene.test(substrate="lactose", state="arrived")
    with refused(
        scene,
        FieldError,
        "preparation: not there yet; allowed: a test with its preparation; came: none",
    ):
        decide(scene, test)
    answer(scene, test, {**SMOKED, "diet": Answer("yes", None)})
    for item in ("diet", "gum"):
        with refused(
            scene,
            ClinicError,
            "preparation: nothing to decide about this item; allowed: smoking; came: " + item,
        ):
            decide(scene, test, item=item)


def test_an_older_sight_of_the_answers_conflicts(scene: Scene) -> None:
    """Also a sight of no answers, where there are some; and one of answers where there are none."""
    test = scene.test(substrate="lactose", state="arrived")
    with refused(scene, FieldError, "version: nothing stands yet; allowed: 0; came: 1"):
        answer(scene, test, SMOKED, version=1)
    answer(scene, test, SMOKED)
    with pytest.raises(ConflictError):
        answer(scene, test, NOT_SMOKED, version=0)


@pytest.mark.parametrize("state", ["booked", "signed"])
def test_answers_are_given_on_the_day_and_before_the_signature(scene: Scene, state: str) -> None:
    """Not before the patient is here, not after the report is signed."""
    test = scene.test(substrate="lactose", state=state)
    with refused(
        scene,
        ClinicError,
        "state: this is not done to a test that stands there; allowed: arrived, cleared, dosed, "
        f"sampling, finished, stopped or drafted; came: {state}",
    ):
        answer(scene, test, SMOKED)


def test_a_time_keeps_its_zone(scene: Scene) -> None:
    """Half past midnight in London is that in UTC too, in November."""
    test = scene.test(substrate="lactose", state="arrived")
    at = datetime(2026, 11, 26, 20, 0, tzinfo=UTC)
    entry = answer(scene, test, {"fast": Answer("yes", at)})
    assert entry.answers["fast"]["on"] == "2026-11-26T20:00:00+00:00"
