import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ebbline.core.clinic.safety import (
    Clearance,
    Drink,
    Gate,
    check_clearance,
    gate,
    questions_for,
    require_open,
)
from ebbline.core.clinic.safety_table import Bar, Mix, Question, parse_safety
from ebbline.core.errors import FieldError, SafetyError
from tests.helpers import SUBSTRATES

DATA = Path(__file__).resolve().parents[3] / "src" / "ebbline" / "data"
TABLE = parse_safety(
    tomllib.loads((DATA / "safety.toml").read_text(encoding="utf-8")), substrates=SUBSTRATES
)
NO = {question.id: "no" for question in TABLE.questions}
HFI = "hereditary-fructose-intolerance"
FRUCTOSE = Drink("fructose", "plain")
# Dr L. Harbour and everybody else here are invented.
DOCTOR = Clearance(
    bar=f"{HFI}-in-doubt",
    substrate="fructose",
    answer="suspected",
    go_ahead=True,
    by_name="Dr L. Harbour",
    by_kind="doctor",
    reason="eats fruit every day without trouble",
)
SUSPECTED = {**NO, HFI: "suspected"}


def found(drink: Drink, answers: dict[str, str], *clearances: Clearance) -> Gate:
    """Return the gate by the bundled rows."""
    return gate(drink, answers, clearances=clearances, table=TABLE)


def states(before: Gate) -> dict[str, str]:
    """Return each closed bar with its state."""
    return {bar.bar: bar.state for bar in before.closed}


def test_a_drink_is_open_when_every_question_was_answered_with_no() -> None:
    """Nothing is closed, nothing is left to ask, and the standing caution is shown."""
    before = found(FRUCTOSE, NO)
    assert before.open
    assert (before.closed, before.cleared, before.to_ask) == ((), (), ())
    assert before.cautions == (TABLE.caution,)
    assert before.drink == FRUCTOSE
    require_open(before)


def test_a_known_danger_is_closed_for_good() -> None:
    """No decision lifts it, not even one that is passed in."""
    bar = f"{HFI}-known"
    decision = replace(DOCTOR, bar=bar, answer="known", by_kind="specialist")
    before = found(FRUCTOSE, {**NO, HFI: "known"}, decision)
    assert not before.open
    (closed,) = before.closed
    assert (closed.bar, closed.question, closed.answer) == (bar, HFI, "known")
    assert (closed.needs, closed.by, closed.state) == ("nothing lifts it", None, "closed for good")
    assert closed.says.startswith("Hereditary fructose intolerance: fructose, sucrose")


def test_a_question_that_was_not_asked_is_lifted_by_its_answer_alone() -> None:
    """A decision does not stand in for the question."""
    answers = {name: answer for name, answer in NO.items() if name != HFI}
    decision = replace(DOCTOR, bar=f"{HFI}-unasked", answer="unasked", by_kind="specialist")
    before = found(FRUCTOSE, answers, decision)
    assert states(before) == {f"{HFI}-unasked": "answer missing"}
    assert [question.id for question in before.to_ask] == [HFI]
    assert found(FRUCTOSE, NO).open


def test_a_named_decision_opens_the_bar_and_stays_in_sight() -> None:
    """The bar, the decision and the caution are all kept."""
    assert states(found(FRUCTOSE, SUSPECTED)) == {f"{HFI}-in-doubt": "decision missing"}
    before = found(FRUCTOSE, SUSPECTED, DOCTOR)
    assert before.open
    (cleared,) = before.cleared
    assert (cleared.bar, cleared.question, cleared.answer) == (DOCTOR.bar, HFI, "suspected")
    assert cleared.clearance == DOCTOR
    assert before.cautions == (TABLE.caution, cleared.says)


def test_of_several_decisions_the_last_one_counts() -> None:
    """Whoever changes a decision makes a new one."""
    against = replace(DOCTOR, go_ahead=False, reason="the family history came")
    assert states(found(FRUCTOSE, SUSPECTED, DOCTOR, against)) == {DOCTOR.bar: "decided against"}
    assert found(FRUCTOSE, SUSPECTED, against, DOCTOR).open
    refused = replace(DOCTOR, by_kind="clinician")
    assert states(found(FRUCTOSE, SUSPECTED, DOCTOR, refused)) == {DOCTOR.bar: "decision missing"}


@pytest.mark.parametrize(
    "change",
    [
        {"by_kind": "clinician"},
        {"by_kind": "requester"},
        {"by_kind": "king"},
        {"by_name": " "},
        {"reason": ""},
        {"answer": "unknown"},
        {"substrate": "sorbitol"},
        {"bar": f"{HFI}-mix"},
        {"bar": "no-such-bar"},
        {"go_ahead": False},
    ],
)
def test_a_decision_that_may_not_be_recorded_opens_nothing(change: dict[str, Any]) -> None:
    """Nor does one about another answer, another sugar or another bar."""
    assert not found(FRUCTOSE, SUSPECTED, replace(DOCTOR, **change)).open


def test_a_decision_no_longer_counts_when_the_answer_changes() -> None:
    """A doctor who decided on an unknown has not decided on a suspicion."""
    unknown = replace(DOCTOR, answer="unknown")
    assert found(FRUCTOSE, {**NO, HFI: "unknown"}, unknown).open
    assert not found(FRUCTOSE, SUSPECTED, unknown).open


def test_each_bar_needs_its_own_decision() -> None:
    """Fructose in a flavoured mix takes a doctor for the sugar and a specialist for the mix."""
    drink = Drink("fructose", "flavoured")
    mix = replace(DOCTOR, bar=f"{HFI}-mix", by_kind="specialist")
    assert states(found(drink, SUSPECTED)) == {
        f"{HFI}-in-doubt": "decision missing", f"{HFI}-mix": "decision missing",
    }  # fmt: skip
    assert states(found(drink, SUSPECTED, DOCTOR)) == {f"{HFI}-mix": "decision missing"}
    assert states(found(drink, SUSPECTED, mix)) == {f"{HFI}-in-doubt": "decision missing"}
    assert found(drink, SUSPECTED, DOCTOR, mix).open


@pytest.mark.parametrize(
    ("substrate", "mix", "own"),
    [
        ("glucose", "plain", ["diabetes", "dumping"]),
        ("glucose", "unknown", [HFI, "diabetes", "dumping"]),
        ("lactulose", "plain", [HFI, "galactosaemia", "diabetes"]),
        ("lactose", "plain", ["galactosaemia", "diabetes", "dumping", "milk-allergy"]),
        ("sucrose", "plain", [HFI, "diabetes", "sucrase-deficiency", "dumping"]),
        ("xylose", "flavoured", [HFI, "diabetes"]),
    ],
)
def test_the_questions_of_a_drink_come_in_the_order_of_the_table(
    substrate: str, mix: Mix, own: list[str]
) -> None:
    """First those of the sugar, then those of every patient."""
    everybody = ["other-allergy", "pregnancy", "recent-surgery", "obstruction", "infection",
                 "blowing", "fasting"]  # fmt: skip
    asked = [question.id for question in questions_for(Drink(substrate, mix), TABLE)]
    assert asked == own + everybody
    assert [question.id for question in found(Drink(substrate, mix), {}).to_ask] == asked


def test_a_closed_drink_is_refused_with_every_closed_bar() -> None:
    """The message says for each what is missing, from whom, and why."""
    answers = {**NO, HFI: "known", "diabetes": "yes"}
    del answers["pregnancy"]
    with pytest.raises(SafetyError) as caught:
        require_open(found(FRUCTOSE, answers))
    assert caught.value.field == "substrate"
    assert str(caught.value) == (
        "substrate: fructose, plain mix, may not be given; allowed: a drink before which no bar is "
        "closed; came: hereditary-fructose-intolerance-known (closed for good): Hereditary "
        "fructose intolerance: fructose, sucrose and sorbitol must not be given. They can cause "
        "low blood sugar, acidosis, liver and kidney failure, seizures, coma and death.; "
        "diabetes-plan (decision missing, by requester): Diabetes: the fast may lower and the "
        "drink may raise the blood sugar. The person who requested the test sets the plan for "
        "medicines, glucose checks and the drink.; pregnancy-unasked (answer missing): Ask about "
        "pregnancy first."
    )


@pytest.mark.parametrize(
    ("drink", "answers", "field", "text"),
    [
        (Drink("honey", "plain"), {}, "substrate",
         ("substrate: unknown substrate; allowed: lactose, fructose, glucose, lactulose, sorbitol, "
         "sucrose or xylose; came: honey")),
        (Drink("lactose", cast("Mix", "")), {}, "mix",
         "mix: unknown mix; allowed: plain, flavoured or unknown; came: "),
        (FRUCTOSE, {"hunger": "no"}, "question",
         (f"question: unknown question; allowed: {', '.join(list(NO)[:-1])} or fasting; "
         "came: hunger")),
        (FRUCTOSE, {"diabetes": "suspected"}, "diabetes",
         "diabetes: unknown answer; allowed: no, unknown or yes; came: suspected"),
        (FRUCTOSE, {"diabetes": "unasked"}, "diabetes",
         "diabetes: unknown answer; allowed: no, unknown or yes; came: unasked"),
        (FRUCTOSE, {"sucrase-deficiency": "NO"}, "sucrase-deficiency",
         "sucrase-deficiency: unknown answer; allowed: no, unknown or yes; came: NO"),
    ],
)  # fmt: skip
def test_a_drink_or_an_answer_that_the_table_does_not_know_is_refused(
    drink: Drink, answers: dict[str, str], field: str, text: str
) -> None:
    """Nothing that was not understood counts as no."""
    with pytest.raises(FieldError) as caught:
        found(drink, answers)
    assert caught.value.field == field
    assert str(caught.value) == text


@pytest.mark.parametrize(
    ("change", "field", "text"),
    [
        ({"bar": f"{HFI}-known"}, "bar",
         f"bar: nobody may decide on it; allowed: nothing to lift it; came: {HFI}-known"),
        ({"bar": "diabetes-unasked"}, "bar",
         ("bar: nobody may decide on it; allowed: only an answer to lift it; "
         "came: diabetes-unasked")),
        ({"substrate": "glucose"}, "substrate",
         (f"substrate: not what {HFI}-in-doubt is about; allowed: fructose, sucrose or sorbitol; "
         "came: glucose")),
        ({"answer": "known"}, "answer",
         f"answer: not what {HFI}-in-doubt is about; allowed: suspected or unknown; came: known"),
        ({"by_name": "\t"}, "by_name",
         "by_name: missing; allowed: the name of the person who decides; came: nothing"),
        ({"by_kind": "king"}, "by_kind",
         "by_kind: unknown kind; allowed: requester, clinician, doctor or specialist; came: king"),
        ({"by_kind": "clinician"}, "by_kind",
         f"by_kind: may not lift {HFI}-in-doubt; allowed: doctor or specialist; came: clinician"),
        ({"reason": " "}, "reason", "reason: missing; allowed: a reason in words; came: nothing"),
        ({"reason": "", "go_ahead": False}, "reason",
         "reason: missing; allowed: a reason in words; came: nothing"),
    ],
)  # fmt: skip
def test_a_decision_is_refused_where_nobody_or_somebody_else_may_decide(
    change: dict[str, Any], field: str, text: str
) -> None:
    """The message says who may, or what is missing."""
    with pytest.raises(SafetyError) as caught:
        check_clearance(replace(DOCTOR, **change), TABLE)
    assert caught.value.field == field
    assert str(caught.value) == text


def test_a_decision_on_an_unknown_bar_is_refused() -> None:
    """The message names every bar there is."""
    with pytest.raises(SafetyError) as caught:
        check_clearance(replace(DOCTOR, bar="sea"), TABLE)
    bars = [bar.id for bar in TABLE.bars]
    assert str(caught.value) == (
        f"bar: unknown bar; allowed: {', '.join(bars[:-1])} or {bars[-1]}; came: sea"
    )


@pytest.mark.parametrize("kind", ["requester", "clinician", "doctor", "specialist"])
def test_anyone_may_decide_against_a_drink(kind: str) -> None:
    """To stop takes less than to go ahead, and it closes what a doctor had opened."""
    against = replace(DOCTOR, go_ahead=False, by_kind=kind)
    check_clearance(against, TABLE)
    assert states(found(FRUCTOSE, SUSPECTED, DOCTOR, against)) == {DOCTOR.bar: "decided against"}


def test_the_plan_for_diabetes_is_the_requesters_alone() -> None:
    """A doctor who did not request the test does not set the plan."""
    plan = replace(DOCTOR, bar="diabetes-plan", answer="yes", by_kind="requester")
    answers = {**NO, "diabetes": "yes"}
    assert found(FRUCTOSE, answers, plan).open
    for kind in ("clinician", "doctor", "specialist"):
        assert not found(FRUCTOSE, answers, replace(plan, by_kind=kind)).open


DRINKS = st.builds(
    Drink, st.sampled_from(SUBSTRATES), st.sampled_from(["plain", "flavoured", "unknown"])
)
QUESTIONS = st.sampled_from(TABLE.questions)


@st.composite
def sets_of_answers(draw: st.DrawFn) -> dict[str, str]:
    """Draw answers to all questions, most of them no, so that a gate is often nearly open."""
    answers = dict(NO)
    for question in draw(st.lists(QUESTIONS, max_size=3)):
        answers[question.id] = draw(st.sampled_from(question.answers))
    return answers


@st.composite
def clearances(draw: st.DrawFn) -> Clearance:
    """Draw a decision on any bar by anyone, well formed or not."""
    bar = draw(st.sampled_from(TABLE.bars))
    return Clearance(
        bar=bar.id,
        substrate=draw(st.sampled_from(bar.substrates)),
        answer=draw(st.sampled_from(bar.answers)),
        go_ahead=draw(st.sampled_from([True, True, True, False])),
        by_name=draw(st.sampled_from(["Dr P. Quay", "Dr P. Quay", ""])),
        by_kind=draw(st.sampled_from(["requester", "specialist", "specialist", "clinician"])),
        reason=draw(st.sampled_from(["known to the clinic", "known to the clinic", ""])),
    )


DECISIONS = st.lists(clearances(), max_size=12)


@settings(max_examples=400)
@given(DRINKS, sets_of_answers(), DECISIONS, QUESTIONS)
def test_taking_an_answer_back_never_opens_a_gate(
    drink: Drink, answers: dict[str, str], decisions: list[Clearance], question: Question
) -> None:
    """Whatever was decided: what is not asked stays closed."""
    before = found(drink, answers, *decisions)
    after = found(drink, {k: v for k, v in answers.items() if k != question.id}, *decisions)
    assert before.open or not after.open
    if question in questions_for(drink, TABLE):
        assert not after.open


@settings(max_examples=400)
@given(DRINKS, sets_of_answers(), DECISIONS, QUESTIONS, st.integers(0, 4))
def test_a_worse_answer_than_no_never_opens_a_gate(
    drink: Drink,
    answers: dict[str, str],
    decisions: list[Clearance],
    question: Question,
    which: int,
) -> None:
    """Whatever was decided, no is the answer that leaves most open."""
    worse = question.answers[which % len(question.answers)]
    best = found(drink, {**answers, question.id: "no"}, *decisions)
    after = found(drink, {**answers, question.id: worse}, *decisions)
    assert best.open or not after.open


@settings(max_examples=300)
@given(DRINKS, sets_of_answers(), QUESTIONS, st.data())
def test_without_a_decision_only_no_leaves_a_gate_open(
    drink: Drink, answers: dict[str, str], question: Question, data: st.DataObject
) -> None:
    """Suspected, unknown, yes and known all close a drink that the question is asked for."""
    answer = data.draw(st.sampled_from(question.answers[1:]))
    before = found(drink, {**answers, question.id: answer})
    if question in questions_for(drink, TABLE):
        assert not before.open


@settings(max_examples=300)
@given(DRINKS, sets_of_answers(), DECISIONS, st.data())
def test_one_more_decision_against_never_opens_a_gate(
    drink: Drink, answers: dict[str, str], decisions: list[Clearance], data: st.DataObject
) -> None:
    """Wherever in the row of decisions it was made."""
    against = replace(data.draw(clearances()), go_ahead=False)
    at = data.draw(st.integers(0, len(decisions)))
    before = found(drink, answers, *decisions)
    after = found(drink, answers, *decisions[:at], against, *decisions[at:])
    assert before.open or not after.open


@settings(max_examples=300)
@given(DRINKS, sets_of_answers(), DECISIONS, st.permutations(list(NO)), st.permutations(TABLE.bars))
def test_the_order_of_the_answers_and_of_the_rows_changes_nothing(
    drink: Drink,
    answers: dict[str, str],
    decisions: list[Clearance],
    names: list[str],
    bars: list[Bar],
) -> None:
    """Answers are looked up by name, and each bar is for itself."""
    before = found(drink, answers, *decisions)
    assert found(drink, {name: answers[name] for name in names}, *decisions) == before
    table = replace(TABLE, bars=tuple(bars))
    other = gate(drink, answers, clearances=decisions, table=table)
    assert set(other.closed) == set(before.closed)
    assert set(other.cleared) == set(before.cleared)


@settings(max_examples=300)
@given(DRINKS, sets_of_answers(), DECISIONS)
def test_what_the_gate_says_fits_together(
    drink: Drink, answers: dict[str, str], decisions: list[Clearance]
) -> None:
    """Every bar is closed or lifted once, and only a decision that may be recorded lifts one."""
    before = found(drink, answers, *decisions)
    closed = [bar.bar for bar in before.closed]
    cleared = [bar.bar for bar in before.cleared]
    assert len({*closed, *cleared}) == len(closed) + len(cleared)
    assert before.open == (not closed)
    for bar in before.cleared:
        check_clearance(bar.clearance, TABLE)
        assert bar.clearance.go_ahead
        assert (bar.clearance.substrate, bar.clearance.answer) == (drink.substrate, bar.answer)
    missing = {bar.question for bar in before.closed if bar.state == "answer missing"}
    assert missing == {question.id for question in before.to_ask}


def test_a_specialist_can_lift_every_bar_of_a_drink_that_nothing_closes_for_good() -> None:
    """Lactose in an unknown mix with every answer unknown: one decision for each question."""
    decisions = [
        replace(DOCTOR, bar=bar.id, substrate="lactose", answer="unknown", by_kind="specialist")
        for bar in TABLE.bars
    ]
    before = found(Drink("lactose", "unknown"), dict.fromkeys(NO, "unknown"), *decisions)
    assert before.open
    assert [bar.question for bar in before.cleared] == [
        question.id for question in questions_for(Drink("lactose", "unknown"), TABLE)
    ]
