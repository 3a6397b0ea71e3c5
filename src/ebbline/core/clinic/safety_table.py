"""The rows of data/safety.toml: what is asked before a drink, and which answers close it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast, get_args

from ebbline.core.clinic.cells import PROVENANCES, Cells
from ebbline.core.errors import list_allowed

Mix = Literal["plain", "flavoured", "unknown"]
"""What the sugar is mixed with: water alone, a flavoured mix, or nobody knows."""

Needs = Literal["nothing lifts it", "an answer", "decision"]
"""What opens a closed bar again."""

MIXES = get_args(Mix)
NO = "no"
UNKNOWN = "unknown"
UNASKED = "unasked"
"""Stands for the answer to a question that has none; it can only be answered."""

ANSWERS = (NO, UNKNOWN, "suspected", "yes", "known")
"""Every word that an answer may be; `no` is the only one that leaves a drink open."""

FILE = "safety.toml"


@dataclass(frozen=True, slots=True)
class Question:
    """One question: ``asks`` is read aloud to the patient or carer, ``says`` names the matter."""

    id: str
    asks: str
    says: str
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: the answers that close some drinks, and what lifts it.

    ``drink`` "flavoured" means a flavoured mix and one that nobody knows. ``by`` is the least
    kind of person who may decide; None where nobody may.
    """

    id: str
    question: str
    answers: tuple[str, ...]
    substrates: tuple[str, ...]
    drink: Literal["any", "flavoured"]
    needs: Needs
    by: str | None
    says: str
    source: str
    provenance: str

    def covers(self, substrate: str, mix: Mix) -> bool:
        """Return whether this bar stands before such a drink."""
        return substrate in self.substrates and (self.drink == "any" or mix != "plain")


@dataclass(frozen=True, slots=True)
class Person:
    """One kind of person, with every kind whose decision this one may take."""

    id: str
    says: str
    satisfies: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SafetyTable:
    """The whole of data/safety.toml, in the order of the file; ``caution`` is always shown."""

    caution: str
    substrates: tuple[str, ...]
    persons: tuple[Person, ...]
    questions: tuple[Question, ...]
    bars: tuple[Bar, ...]


def parse_safety(table: Mapping[str, Any], *, substrates: tuple[str, ...]) -> SafetyTable:
    """Return the rows of a safety table; see data/safety.toml for its shape.

    Where any answer to a question closes a drink, every answer but no must close it, and so must
    a question that was not asked.

    Parameters
    ----------
    table : mapping
        What the TOML file holds.
    substrates : tuple of str
        Every sugar that a drink may hold.

    Returns
    -------
    SafetyTable

    Raises
    ------
    SettingError
        If a row cannot be read, or if the rows leave a drink open that they should close.
    """
    cells = Cells(table, file=FILE, path="")
    cells.only(("caution", "person", "question", "bar"))
    caution = cells.text("caution")
    persons = _persons(cells.rows("person"))
    questions = _questions(cells.rows("question"))
    by_id = {question.id: question for question in questions}
    kinds = [person.id for person in persons]
    rows = cells.rows("bar")
    _check_ids(rows)
    bars = tuple(_bar(row, questions=by_id, kinds=kinds, substrates=substrates) for row in rows)
    _check_gaps(cells, questions, bars=bars, substrates=substrates)
    return SafetyTable(caution, substrates, persons, questions, bars)


def _check_ids(rows: Iterable[Cells]) -> None:
    """Refuse an id that two rows share."""
    seen = set()
    for row in rows:
        name = row.text("id")
        if name in seen:
            raise row.error("id", "given twice", "an id that no other row has", name)
        seen.add(name)


def _persons(rows: tuple[Cells, ...]) -> tuple[Person, ...]:
    _check_ids(rows)
    kinds = [row.text("id") for row in rows]
    persons = []
    for row in rows:
        row.only(("id", "says", "satisfies"))
        person = Person(row.text("id"), row.text("says"), row.choices("satisfies", kinds))
        if person.id not in person.satisfies:
            raise row.error(
                "satisfies", "its own id is missing", f"{person.id} among others",
                list_allowed(person.satisfies),
            )  # fmt: skip
        persons.append(person)
    return tuple(persons)


def _questions(rows: tuple[Cells, ...]) -> tuple[Question, ...]:
    _check_ids(rows)
    questions = []
    for row in rows:
        row.only(("id", "asks", "says", "answers"))
        answers = row.choices("answers", ANSWERS)
        if not {NO, UNKNOWN} < set(answers):
            raise row.error(
                "answers", "too few", "no, unknown and at least one more", list_allowed(answers)
            )
        questions.append(Question(row.text("id"), row.text("asks"), row.text("says"), answers))
    return tuple(questions)


def _bar(
    row: Cells,
    *,
    questions: Mapping[str, Question],
    kinds: list[str],
    substrates: tuple[str, ...],
) -> Bar:
    """Read one bar."""
    row.only(
        ("id", "question", "answers", "substrates", "drink", "needs", "by", "says", "source",
         "provenance")
    )  # fmt: skip
    question = questions[row.choice("question", questions)]
    closing = (*(answer for answer in question.answers if answer != NO), UNASKED)
    answers = row.choices("answers", closing)
    needs = row.choice("needs", get_args(Needs))
    if (needs == "an answer") != (answers == (UNASKED,)) or (
        UNASKED in answers and len(answers) > 1
    ):
        raise row.error(
            "needs", "a question that was not asked needs an answer, and nothing else does",
            f'"an answer" with answers "{UNASKED}" alone',
            f'"{needs}" with answers "{list_allowed(answers)}"',
        )  # fmt: skip
    if needs != "decision" and row.has("by"):
        raise row.error("by", "nobody decides here", 'none unless needs is "decision"', needs)
    return Bar(
        id=row.text("id"),
        question=question.id,
        answers=answers,
        substrates=_substrates(row, substrates),
        drink=cast("Literal['any', 'flavoured']", row.choice("drink", ("any", "flavoured"))),
        needs=cast("Needs", needs),
        by=row.choice("by", kinds) if needs == "decision" else None,
        says=row.text("says"),
        source=row.text("source"),
        provenance=row.choice("provenance", PROVENANCES),
    )


def _substrates(row: Cells, substrates: tuple[str, ...]) -> tuple[str, ...]:
    """Return the sugars that a bar is for; all stands for every one, and stands alone."""
    named = row.choices("substrates", (*substrates, "all"))
    if "all" not in named:
        return named
    if len(named) > 1:
        raise row.error("substrates", "all beside others", "all alone", list_allowed(named))
    return substrates


def _check_gaps(
    cells: Cells,
    questions: tuple[Question, ...],
    *,
    bars: tuple[Bar, ...],
    substrates: tuple[str, ...],
) -> None:
    """Refuse rows that would leave a drink open for want of a row."""
    for question in questions:
        if not any(bar.question == question.id for bar in bars):
            raise cells.error(
                "question", "no bar mentions it", "questions that close something", question.id
            )
    for substrate in substrates:
        for mix in MIXES:
            covering = [bar for bar in bars if bar.covers(substrate, mix)]
            if not covering:
                raise cells.error("bar", "nothing closes it", "a bar for each substrate", substrate)
            for question in questions:
                closing = {
                    a for bar in covering if bar.question == question.id for a in bar.answers
                }
                open_for = [
                    answer
                    for answer in (*question.answers, UNASKED)
                    if answer != NO and answer not in closing
                ]
                if closing and open_for:
                    raise cells.error(
                        "bar", "an answer other than no leaves the drink open",
                        f"bars for every answer to {question.id} but no, and for {UNASKED}",
                        f"none before {substrate}, {mix} mix, for {list_allowed(open_for)}",
                    )  # fmt: skip
