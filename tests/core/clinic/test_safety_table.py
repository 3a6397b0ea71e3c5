import copy
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from ebbline.core.clinic.safety_table import SafetyTable, parse_safety
from ebbline.core.errors import SettingError
from tests.helpers import SUBSTRATES

DATA = Path(__file__).resolve().parents[3] / "src" / "ebbline" / "data"
SUGARS = ("lactose", "fructose")

# Invented rows: one question, one bar for each way to lift it.
TABLE: dict[str, Any] = {
    "caution": "Somebody decides.",
    "person": [
        {"id": "nurse", "says": "a nurse", "satisfies": ["nurse"]},
        {"id": "doctor", "says": "a doctor", "satisfies": ["doctor", "nurse"]},
    ],
    "question": [
        {"id": "ill", "asks": "Are you ill?", "says": "illness",
         "answers": ["no", "unknown", "yes"]},
    ],
    "bar": [
        {"id": "ill-yes", "question": "ill", "answers": ["yes"], "substrates": ["lactose"],
         "drink": "any", "needs": "nothing lifts it", "says": "No lactose.", "source": "invented",
         "provenance": "read"},
        {"id": "ill-doubt", "question": "ill", "answers": ["unknown"], "substrates": ["lactose"],
         "drink": "any", "needs": "decision", "by": "nurse", "says": "In doubt.",
         "source": "invented", "provenance": "memory"},
        {"id": "ill-mix", "question": "ill", "answers": ["yes", "unknown"],
         "substrates": ["fructose"], "drink": "any", "needs": "decision", "by": "doctor",
         "says": "Ill.", "source": "invented", "provenance": "memory"},
        {"id": "ill-unasked", "question": "ill", "answers": ["unasked"], "substrates": ["all"],
         "drink": "any", "needs": "an answer", "says": "Ask.", "source": "invented",
         "provenance": "common practice"},
    ],
}  # fmt: skip


def bundled() -> SafetyTable:
    """Return the rows of data/safety.toml."""
    text = (DATA / "safety.toml").read_text(encoding="utf-8")
    return parse_safety(tomllib.loads(text), substrates=SUBSTRATES)


def setting(*path: str | int, value: Any) -> Callable[[dict[str, Any]], None]:
    """Return an edit that sets what stands at a path."""

    def edit(table: dict[str, Any]) -> None:
        inner: Any = table
        for step in path[:-1]:
            inner = inner[step]
        inner[path[-1]] = value

    return edit


def removing(*path: str | int) -> Callable[[dict[str, Any]], None]:
    """Return an edit that takes away what stands at a path."""

    def edit(table: dict[str, Any]) -> None:
        inner: Any = table
        for step in path[:-1]:
            inner = inner[step]
        del inner[path[-1]]

    return edit


def test_rows_are_read_as_they_are_written() -> None:
    """Nothing is added and nothing is left out; all stands for every sugar."""
    found = parse_safety(TABLE, substrates=SUGARS)
    assert found.caution == "Somebody decides."
    assert found.substrates == SUGARS
    assert [(p.id, p.says, p.satisfies) for p in found.persons] == [
        ("nurse", "a nurse", ("nurse",)),
        ("doctor", "a doctor", ("doctor", "nurse")),
    ]
    (question,) = found.questions
    assert (question.id, question.asks, question.says) == ("ill", "Are you ill?", "illness")
    assert question.answers == ("no", "unknown", "yes")
    assert [(bar.id, bar.question, bar.answers, bar.by) for bar in found.bars] == [
        ("ill-yes", "ill", ("yes",), None),
        ("ill-doubt", "ill", ("unknown",), "nurse"),
        ("ill-mix", "ill", ("yes", "unknown"), "doctor"),
        ("ill-unasked", "ill", ("unasked",), None),
    ]
    assert [(bar.substrates, bar.drink, bar.needs) for bar in found.bars] == [
        (("lactose",), "any", "nothing lifts it"),
        (("lactose",), "any", "decision"),
        (("fructose",), "any", "decision"),
        (SUGARS, "any", "an answer"),
    ]
    assert [(bar.says, bar.source, bar.provenance) for bar in found.bars] == [
        ("No lactose.", "invented", "read"),
        ("In doubt.", "invented", "memory"),
        ("Ill.", "invented", "memory"),
        ("Ask.", "invented", "common practice"),
    ]


EVERY = ["id", "question", "answers", "substrates", "drink", "needs", "by", "says", "source"]
BAR_KEYS = f"{', '.join(EVERY)} or provenance"


@pytest.mark.parametrize(
    ("edit", "text"),
    [
        (setting("words", value=1),
         "words: unknown key; allowed: caution, person, question or bar; came: words"),
        (removing("caution"), "caution: missing; allowed: text; came: nothing"),
        (setting("person", value=3), "person: not rows; allowed: [[person]] rows; came: int"),
        (removing("question"), "question: missing; allowed: [[question]] rows; came: nothing"),
        (removing("bar"), "bar: missing; allowed: [[bar]] rows; came: nothing"),
        (setting("person", 1, "rank", value=2),
         "person[2].rank: unknown key; allowed: id, says or satisfies; came: rank"),
        (setting("person", 1, "id", value="nurse"),
         "person[2].id: given twice; allowed: an id that no other row has; came: nurse"),
        (setting("person", 1, "satisfies", value=["nurse"]),
         "person[2].satisfies: its own id is missing; allowed: doctor among others; came: nurse"),
        (setting("person", 1, "satisfies", value=["doctor", "king"]),
         ("person[2].satisfies: not a list of the choices; allowed: a list of nurse or doctor, "
         "each once; came: ['doctor', 'king']")),
        (setting("question", 0, "why", value="x"),
         "question[1].why: unknown key; allowed: id, asks, says or answers; came: why"),
        (setting("question", 0, "asks", value=" "),
         "question[1].asks: not text; allowed: text; came: ' '"),
        (setting("question", 0, "answers", value=["no", "maybe"]),
         ("question[1].answers: not a list of the choices; allowed: a list of no, unknown, "
         "suspected, yes or known, each once; came: ['no', 'maybe']")),
        (setting("question", 0, "answers", value=["no", "yes"]),
         ("question[1].answers: too few; allowed: no, unknown and at least one more; "
         "came: no or yes")),
        (setting("question", 0, "answers", value=["unknown", "yes"]),
         ("question[1].answers: too few; allowed: no, unknown and at least one more; "
         "came: unknown or yes")),
        (setting("question", 0, "answers", value=["no", "unknown"]),
         ("question[1].answers: too few; allowed: no, unknown and at least one more; "
         "came: no or unknown")),
        (setting("bar", 0, "unless", value="x"),
         f"bar[1].unless: unknown key; allowed: {BAR_KEYS}; came: unless"),
        (setting("bar", 2, "id", value="ill-yes"),
         "bar[3].id: given twice; allowed: an id that no other row has; came: ill-yes"),
        (setting("bar", 0, "question", value="well"),
         "bar[1].question: not one of the choices; allowed: ill; came: 'well'"),
        (setting("bar", 0, "answers", value=["no"]),
         ("bar[1].answers: not a list of the choices; allowed: a list of unknown, yes or unasked, "
         "each once; came: ['no']")),
        (setting("bar", 0, "substrates", value=["honey"]),
         ("bar[1].substrates: not a list of the choices; allowed: a list of lactose, fructose or "
         "all, each once; came: ['honey']")),
        (setting("bar", 0, "substrates", value=["all", "lactose"]),
         "bar[1].substrates: all beside others; allowed: all alone; came: all or lactose"),
        (setting("bar", 0, "drink", value="plain"),
         "bar[1].drink: not one of the choices; allowed: any or flavoured; came: 'plain'"),
        (setting("bar", 0, "needs", value="luck"),
         ("bar[1].needs: not one of the choices; allowed: nothing lifts it, an answer or decision; "
         "came: 'luck'")),
        (removing("bar", 1, "by"), "bar[2].by: missing; allowed: nurse or doctor; came: nothing"),
        (setting("bar", 1, "by", value="king"),
         "bar[2].by: not one of the choices; allowed: nurse or doctor; came: 'king'"),
        (setting("bar", 0, "by", value="doctor"),
         ('bar[1].by: nobody decides here; allowed: none unless needs is "decision"; '
         "came: nothing lifts it")),
        (removing("bar", 0, "says"), "bar[1].says: missing; allowed: text; came: nothing"),
        (removing("bar", 0, "source"), "bar[1].source: missing; allowed: text; came: nothing"),
        (setting("bar", 0, "provenance", value="rumour"),
         ("bar[1].provenance: not one of the choices; allowed: read, memory or common practice; "
         "came: 'rumour'")),
        (setting("question", value=[
            *TABLE["question"], {**TABLE["question"][0], "id": "other", "says": "other"}]),
         "question: no bar mentions it; allowed: questions that close something; came: other"),
        (setting("question", value=[*TABLE["question"], *TABLE["question"]]),
         "question[2].id: given twice; allowed: an id that no other row has; came: ill"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_read_is_refused(
    edit: Callable[[dict[str, Any]], None], text: str
) -> None:
    """The message names the file, the row, the key, what is allowed and what came."""
    table = copy.deepcopy(TABLE)
    edit(table)
    with pytest.raises(SettingError) as caught:
        parse_safety(table, substrates=SUGARS)
    assert str(caught.value) == f"safety.toml, {text}"


NEEDS = (
    "needs: a question that was not asked needs an answer, and nothing else does; allowed: "
    '"an answer" with answers "unasked" alone; came: '
)


@pytest.mark.parametrize(
    ("needs", "answers", "came"),
    [
        ("decision", ["unasked"], '"decision" with answers "unasked"'),
        ("nothing lifts it", ["unasked"], '"nothing lifts it" with answers "unasked"'),
        ("an answer", ["unknown"], '"an answer" with answers "unknown"'),
        ("an answer", ["unasked", "yes"], '"an answer" with answers "unasked or yes"'),
        ("decision", ["yes", "unasked"], '"decision" with answers "yes or unasked"'),
    ],
)
def test_nobody_can_decide_what_was_not_asked(needs: str, answers: list[str], came: str) -> None:
    """Only an answer lifts the bar of an unasked question, and it lifts no other bar."""
    table = copy.deepcopy(TABLE)
    table["bar"][3].update(needs=needs, answers=answers, by="doctor")
    with pytest.raises(SettingError) as caught:
        parse_safety(table, substrates=SUGARS)
    assert str(caught.value) == f"safety.toml, bar[4].{NEEDS}{came}"


GAP = (
    "safety.toml, bar: an answer other than no leaves the drink open; allowed: bars for every "
    "answer to ill but no, and for unasked; came: none before "
)


@pytest.mark.parametrize(
    ("edit", "came"),
    [
        (removing("bar", 1), "lactose, plain mix, for unknown"),
        (removing("bar", 0), "lactose, plain mix, for yes"),
        (removing("bar", 3), "lactose, plain mix, for unasked"),
        (setting("bar", 3, "substrates", value=["lactose"]), "fructose, plain mix, for unasked"),
        (setting("bar", 1, "drink", value="flavoured"), "lactose, plain mix, for unknown"),
        (setting("bar", 2, "answers", value=["yes"]), "fructose, plain mix, for unknown"),
        (setting("question", 0, "answers", value=["no", "unknown", "yes", "suspected"]),
         "lactose, plain mix, for suspected"),
    ],
)  # fmt: skip
def test_an_answer_that_is_not_no_never_leaves_a_drink_open(
    edit: Callable[[dict[str, Any]], None], came: str
) -> None:
    """Unknown and unasked never count as no, nor does an answer that was forgotten."""
    table = copy.deepcopy(TABLE)
    edit(table)
    with pytest.raises(SettingError) as caught:
        parse_safety(table, substrates=SUGARS)
    assert str(caught.value) == GAP + came


def test_a_gap_in_a_flavoured_mix_alone_is_found() -> None:
    """A bar for flavoured mixes needs its own rows for unknown and unasked."""
    table = copy.deepcopy(TABLE)
    table["question"].append(
        {"id": "mix", "asks": "Honey?", "says": "honey", "answers": ["no", "unknown", "yes"]}
    )
    table["bar"].append(
        {**TABLE["bar"][2], "id": "mix", "question": "mix", "drink": "flavoured"}
    )  # fmt: skip
    with pytest.raises(SettingError) as caught:
        parse_safety(table, substrates=SUGARS)
    assert str(caught.value) == (
        "safety.toml, bar: an answer other than no leaves the drink open; allowed: bars for every "
        "answer to mix but no, and for unasked; came: none before fructose, flavoured mix, for "
        "unasked"
    )


def test_a_sugar_that_no_bar_names_is_refused() -> None:
    """A table without a row for it would give the drink without a question."""
    table = copy.deepcopy(TABLE)
    del table["bar"][2]
    table["bar"][2]["substrates"] = ["lactose"]
    with pytest.raises(SettingError) as caught:
        parse_safety(table, substrates=SUGARS)
    assert str(caught.value) == (
        "safety.toml, bar: nothing closes it; allowed: a bar for each substrate; came: fructose"
    )


def test_a_bar_for_flavoured_mixes_covers_an_unknown_mix_too() -> None:
    """What nobody knows may be flavoured."""
    (bar,) = [bar for bar in bundled().bars if bar.id == "hereditary-fructose-intolerance-mix"]
    assert not bar.covers("glucose", "plain")
    assert bar.covers("glucose", "flavoured")
    assert bar.covers("glucose", "unknown")
    assert not bar.covers("honey", "flavoured")


def test_the_bundled_rows_can_be_read_and_ask_before_every_sugar() -> None:
    """Thirteen questions; the caution defers to the protocol and the clinician."""
    found = bundled()
    assert len(found.questions) == 13
    assert len(found.bars) == 34
    assert "local protocol and a licensed clinician decide" in found.caution
    assert [person.id for person in found.persons] == [
        "requester", "clinician", "doctor", "specialist",
    ]  # fmt: skip


def test_a_bundled_row_that_was_read_names_where_and_no_other_claims_to() -> None:
    """A row from memory or custom says so in its source."""
    for bar in bundled().bars:
        if bar.provenance == "memory":
            assert "memory" in bar.source
        elif bar.provenance == "common practice":
            assert "common practice" in bar.source
        else:
            assert "memory" not in bar.source
            assert "common practice" not in bar.source
