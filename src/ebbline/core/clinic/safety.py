"""The gate before any drink: what closes it, what is still to be asked, and who must decide.

The gate only says whether a drink may be given by the rows of data/safety.toml. Whether it is
given stays with a licensed clinician and the local protocol.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from ebbline.core.clinic.safety_table import MIXES, UNASKED, Bar, Mix, Needs, Question, SafetyTable
from ebbline.core.errors import FieldError, SafetyError, list_allowed

State = Literal["closed for good", "answer missing", "decision missing", "decided against"]


@dataclass(frozen=True, slots=True)
class Drink:
    """A planned drink: its sugar, and what it is mixed with."""

    substrate: str
    mix: Mix


@dataclass(frozen=True, slots=True)
class Clearance:
    """A named person's decision on one bar.

    It is a decision about one sugar and one answer: when either changes, it no longer counts.
    """

    bar: str
    substrate: str
    answer: str
    go_ahead: bool
    by_name: str
    by_kind: str
    reason: str


@dataclass(frozen=True, slots=True)
class ClosedBar:
    """A bar that keeps the gate closed; ``by`` is the least kind of person who may lift it."""

    bar: str
    question: str
    answer: str
    needs: Needs
    by: str | None
    says: str
    state: State


@dataclass(frozen=True, slots=True)
class ClearedBar:
    """A bar that a named person's decision has lifted."""

    bar: str
    question: str
    answer: str
    says: str
    clearance: Clearance


@dataclass(frozen=True, slots=True)
class Gate:
    """What stands before a drink, each part in the order of the table.

    ``to_ask`` are the questions without an answer. ``cautions`` hold the standing caution first,
    and then what each bar says that the answers have closed, lifted or not.
    """

    drink: Drink
    closed: tuple[ClosedBar, ...]
    cleared: tuple[ClearedBar, ...]
    to_ask: tuple[Question, ...]
    cautions: tuple[str, ...]

    @property
    def open(self) -> bool:
        """Whether no bar is closed."""
        return not self.closed


def questions_for(drink: Drink, table: SafetyTable) -> tuple[Question, ...]:
    """Return the questions to ask before a drink, in the order of the table.

    Parameters
    ----------
    drink : Drink
        What is planned.
    table : SafetyTable
        The rules.

    Returns
    -------
    tuple of Question

    Raises
    ------
    FieldError
        If the substrate or the mix is not known.
    """
    asked = {bar.question for bar in _bars_for(drink, table)}
    return tuple(question for question in table.questions if question.id in asked)


def gate(
    drink: Drink,
    answers: Mapping[str, str],
    *,
    clearances: Iterable[Clearance],
    table: SafetyTable,
) -> Gate:
    """Return whether a drink may be given, and all that stands against it.

    Each bar is for itself: a drink is open when every bar that its answers close has been lifted.
    Of several decisions on one bar the last one counts. A decision that `check_clearance` refuses
    opens nothing.

    Parameters
    ----------
    drink : Drink
        What is planned.
    answers : mapping of str to str
        The answer to each question that was asked; a question that was not asked is left out.
    clearances : iterable of Clearance
        The decisions made for this test, earliest first.
    table : SafetyTable
        The rules.

    Returns
    -------
    Gate

    Raises
    ------
    FieldError
        If the substrate, the mix, a question or an answer is not known.
    """
    bars = _bars_for(drink, table)
    _check_answers(answers, table)
    last = {(one.bar, one.substrate, one.answer): one for one in clearances}
    closed: list[ClosedBar] = []
    cleared: list[ClearedBar] = []
    cautions = [table.caution]
    for bar in bars:
        answer = answers.get(bar.question, UNASKED)
        if answer not in bar.answers:
            continue
        cautions.append(bar.says)
        clearance = last.get((bar.id, drink.substrate, answer))
        if clearance is not None and clearance.go_ahead and _holds(clearance, table):
            cleared.append(ClearedBar(bar.id, bar.question, answer, bar.says, clearance))
        else:
            state = _state(bar, clearance)
            closed.append(
                ClosedBar(bar.id, bar.question, answer, bar.needs, bar.by, bar.says, state)
            )
    return Gate(
        drink=drink,
        closed=tuple(closed),
        cleared=tuple(cleared),
        to_ask=tuple(one for one in questions_for(drink, table) if one.id not in answers),
        cautions=tuple(dict.fromkeys(cautions)),
    )


def check_clearance(clearance: Clearance, table: SafetyTable) -> None:
    """Refuse a decision that may not be recorded.

    Anyone of a known kind may decide against a drink, with name and reason. To go ahead takes the
    kind of person that the bar asks for, or one whose decision satisfies it.

    Parameters
    ----------
    clearance : Clearance
        The decision.
    table : SafetyTable
        The rules.

    Raises
    ------
    SafetyError
        If nobody may decide on that bar, if it is not about that sugar or answer, if the person
        may not decide, or if name or reason is missing.
    """
    bars = {bar.id: bar for bar in table.bars}
    if clearance.bar not in bars:
        raise _refusal("bar", "unknown bar", list_allowed(bars), clearance.bar)
    bar = bars[clearance.bar]
    if bar.by is None:
        lifted = "only an answer" if bar.needs == "an answer" else "nothing"
        raise _refusal("bar", "nobody may decide on it", f"{lifted} to lift it", bar.id)
    if clearance.substrate not in bar.substrates:
        raise _refusal(
            "substrate", f"not what {bar.id} is about", list_allowed(bar.substrates),
            clearance.substrate,
        )  # fmt: skip
    if clearance.answer not in bar.answers:
        raise _refusal(
            "answer", f"not what {bar.id} is about", list_allowed(bar.answers), clearance.answer
        )
    _check_person(clearance, bar.by, table)
    if not clearance.reason.strip():
        raise _refusal("reason", "missing", "a reason in words", "nothing")


def require_open(gate: Gate) -> None:
    """Refuse a drink while its gate is closed.

    Parameters
    ----------
    gate : Gate
        What stands before the drink.

    Raises
    ------
    SafetyError
        If any bar is closed; it names every one of them.
    """
    if gate.closed:
        raise _refusal(
            "substrate", f"{gate.drink.substrate}, {gate.drink.mix} mix, may not be given",
            "a drink before which no bar is closed", "; ".join(map(_in_words, gate.closed)),
        )  # fmt: skip


def _refusal(field: str, wrong: str, allowed: str, came: str) -> SafetyError:
    """Return a refusal of one part of a decision or a drink."""
    return SafetyError(field=field, wrong=wrong, allowed=allowed, came=came)


def _bars_for(drink: Drink, table: SafetyTable) -> list[Bar]:
    """Return the bars that stand before a drink, and refuse a drink that the table cannot know."""
    for field, value, known in (
        ("substrate", drink.substrate, table.substrates),
        ("mix", drink.mix, MIXES),
    ):
        if value not in known:
            raise FieldError(
                field=field, wrong=f"unknown {field}", allowed=list_allowed(known), came=value
            )
    return [bar for bar in table.bars if bar.covers(drink.substrate, drink.mix)]


def _check_answers(answers: Mapping[str, str], table: SafetyTable) -> None:
    questions = {question.id: question for question in table.questions}
    for name, answer in answers.items():
        if name not in questions:
            raise FieldError(
                field="question", wrong="unknown question", allowed=list_allowed(questions),
                came=name,
            )  # fmt: skip
        if answer not in questions[name].answers:
            raise FieldError(
                field=name, wrong="unknown answer",
                allowed=list_allowed(questions[name].answers), came=answer,
            )  # fmt: skip


def _check_person(clearance: Clearance, least: str, table: SafetyTable) -> None:
    """Refuse a decision of nobody, or of a person who may not go ahead here."""
    if not clearance.by_name.strip():
        raise _refusal("by_name", "missing", "the name of the person who decides", "nothing")
    persons = {person.id: person for person in table.persons}
    if clearance.by_kind not in persons:
        raise _refusal("by_kind", "unknown kind", list_allowed(persons), clearance.by_kind)
    if clearance.go_ahead and least not in persons[clearance.by_kind].satisfies:
        may = [person.id for person in table.persons if least in person.satisfies]
        raise _refusal(
            "by_kind", f"may not lift {clearance.bar}", list_allowed(may), clearance.by_kind
        )


def _holds(clearance: Clearance, table: SafetyTable) -> bool:
    """Return whether a decision may be recorded, so whether it counts."""
    try:
        check_clearance(clearance, table)
    except SafetyError:
        return False
    return True


def _state(bar: Bar, clearance: Clearance | None) -> State:
    """Return why a bar is closed."""
    if bar.needs == "nothing lifts it":
        return "closed for good"
    if bar.needs == "an answer":
        return "answer missing"
    if clearance is not None and not clearance.go_ahead:
        return "decided against"
    return "decision missing"


def _in_words(closed: ClosedBar) -> str:
    by = f", by {closed.by}" if closed.by is not None else ""
    return f"{closed.bar} ({closed.state}{by}): {closed.says}"
