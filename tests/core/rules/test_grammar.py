import datetime as dt
import math
from dataclasses import replace
from typing import Any

import pytest

from ebbline.core.errors import RuleError
from ebbline.core.rules.grammar import (
    SET_KEYS,
    STATEMENT_KEYS,
    VALIDITY_KEYS,
    RuleSet,
    Statement,
    Validity,
)
from tests.core.rules.rows import a_statement, symptom_row
from tests.helpers import SET, VALID, library, parse, refusal, rule_set, statement_row, without


def of_row(row: dict[str, Any]) -> dict[str, Any]:
    """Return a table of one statement."""
    return {**SET, "statement": [row]}


def of_validity(row: dict[str, Any]) -> dict[str, Any]:
    """Return a table with one validity row."""
    return {**SET, "statement": [statement_row()], "validity": [row]}


def test_a_whole_rule_set_is_read() -> None:
    """Every key of the grammar arrives where it belongs."""
    row = statement_row(
        undecided_from_ppm=18,
        needs_minutes=120,
        needs_provenance="memory",
        doses_g=[25, 50],
        provenance="memory",
        confirmed_by="R. Tamsin",
        confirmed_on="2026-11-24",
    )
    table = {**SET, "population": "adults", "note": "a note", "statement": [row],
             "validity": [VALID]}  # fmt: skip
    assert parse(table) == RuleSet(
        id="own",
        version="1",
        title="Own",
        source="invented",
        population="adults",
        note="a note",
        statements=(
            Statement(
                id="row",
                question="carbohydrate-malabsorption",
                substrates=("lactose",),
                gas="h2",
                measure="rise over baseline",
                comparison="at least",
                threshold=20,
                by_minute=None,
                needs_minutes=120,
                undecided_from=18,
                doses_g=(25, 50),
                source="invented",
                provenance="memory",
                needs_provenance="memory",
                confirmed_by="R. Tamsin",
                confirmed_on="2026-11-24",
            ),
        ),
        validity=(
            Validity(
                id="fasting",
                substrates=("lactose",),
                gas="h2",
                comparison="at least",
                threshold=15,
                says="Fasting H2 of 15 ppm or more",
                source="invented",
                provenance="read",
                confirmed_by=None,
                confirmed_on=None,
            ),
        ),
    )


def test_what_may_be_left_out_has_plain_meanings() -> None:
    """For anybody, without a note, without validity rows."""
    found = rule_set()
    assert (found.population, found.note, found.validity) == ("any", "", ())


@pytest.mark.parametrize("key", ["id", "version", "title", "source"])
def test_a_set_without_a_needed_key_is_refused(key: str) -> None:
    """The message says what the key means."""
    meaning = {field.name: field.meaning for field in SET_KEYS}[key]
    table = without({**SET, "statement": [statement_row()]}, key)
    assert refusal(table) == f"own.toml, key {key}: missing; allowed: {meaning}; came: nothing"


@pytest.mark.parametrize("key", [field.name for field in STATEMENT_KEYS if field.required])
def test_a_statement_without_a_needed_key_is_refused_with_the_line_of_its_head(key: str) -> None:
    """A key that is not there has no line of its own."""
    meaning = {field.name: field.meaning for field in STATEMENT_KEYS}[key]
    text = refusal(of_row(without(statement_row(), key)), lines={"statement[1]": 7})
    assert text == (
        f"own.toml, line 7, key statement[1].{key}: missing; allowed: {meaning}; came: nothing"
    )


@pytest.mark.parametrize("key", [field.name for field in VALIDITY_KEYS if field.required])
def test_a_validity_row_without_a_needed_key_is_refused(key: str) -> None:
    """Its keys are checked as a statement's are."""
    meaning = {field.name: field.meaning for field in VALIDITY_KEYS}[key]
    text = refusal(of_validity(without(VALID, key)))
    assert text == f"own.toml, key validity[1].{key}: missing; allowed: {meaning}; came: nothing"


SUGARS = "lactose, fructose, glucose, lactulose, sorbitol, sucrose or xylose, each once"
GAS_CHOICES = "'h2', 'ch4', 'h2_plus_ch4', 'h2_plus_2ch4', 'h2_plus_4ch4' or 'symptoms'"
QUESTION_CHOICES = (
    "'carbohydrate-malabsorption', 'bacterial-overgrowth', 'methanogen-overgrowth' or "
    "'symptoms-provoked'"
)


@pytest.mark.parametrize(
    ("key", "value", "wrong", "allowed", "came"),
    [
        ("id", "Not An Id", "not an id", "name of the row, unique in the set", "'Not An Id'"),
        ("id", 7, "not an id", "name of the row, unique in the set", "7"),
        ("source", "  ", "not text", "table or page", "'  '"),
        ("source", True, "not text", "table or page", "True"),
        ("gas", "h3", "not one of the choices", GAS_CHOICES, "'h3'"),
        ("gas", 2, "not one of the choices", GAS_CHOICES, "2"),
        ("question", "allergy", "not one of the choices", QUESTION_CHOICES, "'allergy'"),
        ("measure", "baseline", "not one of the choices",
         "'level', 'rise over baseline' or 'rise over lowest earlier'", "'baseline'"),
        ("comparison", ">=", "not one of the choices", "'at least' or 'more than'", "'>='"),
        ("provenance", "guess", "not one of the choices", "'read', 'reported' or 'memory'",
         "'guess'"),
        ("needs_provenance", "guess", "not one of the choices",
         "'read', 'reported' or 'memory'", "'guess'"),
        ("threshold_ppm", 0, "not a number in range", "0.1 to 2000", "0"),
        ("threshold_ppm", 2001, "not a number in range", "0.1 to 2000", "2001"),
        ("threshold_ppm", "20", "not a number in range", "0.1 to 2000", "'20'"),
        ("threshold_ppm", True, "not a number in range", "0.1 to 2000", "True"),
        ("threshold_ppm", math.nan, "not a number in range", "0.1 to 2000", "nan"),
        ("threshold_ppm", math.inf, "not a number in range", "0.1 to 2000", "inf"),
        ("needs_minutes", 0.5, "not a number in range", "1 to 1440", "0.5"),
        ("by_minute", 1441, "not a number in range", "1 to 1440", "1441"),
        ("undecided_from_ppm", -1, "not a number in range", "0.1 to 2000", "-1"),
        ("substrates", "lactose", "not a list of substrates", SUGARS, "'lactose'"),
        ("substrates", [], "not a list of substrates", SUGARS, "[]"),
        ("substrates", ["salt"], "not a list of substrates", SUGARS, "['salt']"),
        ("substrates", [1], "not a list of substrates", SUGARS, "[1]"),
        ("substrates", ["lactose", "lactose"], "not a list of substrates", SUGARS,
         "['lactose', 'lactose']"),
        ("doses_g", 25, "not a list of numbers in range", "numbers from 0.1 to 200", "25"),
        ("doses_g", [], "not a list of numbers in range", "numbers from 0.1 to 200", "[]"),
        ("doses_g", [25, 201], "not a list of numbers in range", "numbers from 0.1 to 200",
         "[25, 201]"),
        ("doses_g", ["25"], "not a list of numbers in range", "numbers from 0.1 to 200",
         "['25']"),
        ("confirmed_by", "", "not text", "who checked a row from memory against the paper", "''"),
        ("confirmed_on", "24.11.2026", "not a date", "a date such as 2026-11-24",
         "'24.11.2026'"),
        ("confirmed_on", 20261124, "not a date", "a date such as 2026-11-24", "20261124"),
    ],
)  # fmt: skip
def test_a_value_of_the_wrong_kind_is_refused_with_line_and_key(
    key: str, value: object, wrong: str, allowed: str, came: str
) -> None:
    """The message says the line, the key, what was wrong, what is allowed and what came."""
    text = refusal(of_row(statement_row(**{key: value})), lines={f"statement[1].{key}": 12})
    assert text == (
        f"own.toml, line 12, key statement[1].{key}: {wrong}; allowed: {allowed}; came: {came}"
    )


def test_a_value_that_is_very_long_is_cut_in_the_message() -> None:
    """Sixty characters say enough."""
    text = refusal(of_row(statement_row(gas="h" * 90)))
    assert text.endswith(f"came: '{'h' * 56}...")


@pytest.mark.parametrize("dose", [0.1, 200])
def test_the_limits_that_a_message_calls_allowed_are_allowed(dose: float) -> None:
    """Numbers "from 0.1 to 200" hold 0.1 and 200."""
    assert rule_set(statement_row(doses_g=[dose])).statements[0].doses_g == (dose,)


@pytest.mark.parametrize("day", ["2026-13-01", "2026-02-30", "0000-00-00"])
def test_a_day_that_is_not_in_the_calendar_is_refused(day: str) -> None:
    """A confirmation is dated by a real day."""
    row = statement_row(provenance="memory", confirmed_by="R. Tamsin", confirmed_on=day)
    assert refusal(of_row(row)) == (
        "own.toml, key statement[1].confirmed_on: not a date; allowed: a date such as 2026-11-24; "
        f"came: '{day}'"
    )


def test_unknown_keys_are_refused_wherever_they_stand() -> None:
    """A misspelt key would otherwise be a rule that silently does not hold."""
    top = refusal({**SET, "statement": [statement_row()], "author": "me"}, lines={"author": 3})
    assert top == (
        "own.toml, line 3, key author: unknown key; allowed: id, version, title, source, "
        "population, note, statement or validity; came: author"
    )
    row = refusal(of_row(statement_row(threshold=20)))
    assert row.startswith("own.toml, key statement[1].threshold: unknown key; allowed: id, subs")
    assert row.endswith("undecided_from_ppm or doses_g; came: threshold")
    assert "validity[1].by_minute: unknown key" in refusal(of_validity({**VALID, "by_minute": 9}))


@pytest.mark.parametrize(("key", "type_name"), [("statement", "dict"), ("validity", "dict")])
def test_rows_that_are_a_single_table_are_refused(key: str, type_name: str) -> None:
    """[statement] with single brackets is a common slip."""
    table = {**SET, "statement": [statement_row()], key: statement_row()}
    assert refusal(table) == (
        f"own.toml, key {key}: not rows; allowed: [[{key}]] rows; came: {type_name}"
    )


def test_rows_that_hold_something_else_than_tables_are_refused() -> None:
    """A list of words is no list of rows."""
    assert refusal({**SET, "statement": ["h2"]}) == (
        "own.toml, key statement: not rows; allowed: [[statement]] rows; came: list"
    )


@pytest.mark.parametrize("table", [SET, {**SET, "statement": []}])
def test_a_rule_set_without_a_statement_is_refused(table: dict[str, Any]) -> None:
    """It would say nothing of any test."""
    assert refusal(table) == (
        "own.toml, key statement: missing; allowed: at least 1 [[statement]] row; came: none"
    )


@pytest.mark.parametrize(
    ("second", "path"), [("statement", "statement[2].id"), ("validity", "validity[1].id")]
)
def test_two_rows_of_one_id_are_refused(second: str, path: str) -> None:
    """Statements and validity rows share their names."""
    rows = {"statement": [statement_row()], "validity": []}
    rows[second] = [*rows[second], statement_row() if second == "statement" else {**VALID,
                    "id": "row"}]  # fmt: skip
    assert refusal({**SET, **rows}, lines={path: 31}) == (
        f"own.toml, line 31, key {path}: repeated; allowed: an id that no other row has; "
        "came: 'row'"
    )


def test_symptoms_answer_their_own_question_only() -> None:
    """Gas never shows intolerance, and a score never shows malabsorption."""
    wanted = (
        "own.toml, key statement[1].question: symptoms and gases answer different questions; "
        "allowed: symptoms-provoked for symptoms, and only for them; came: "
    )
    assert refusal(of_row(statement_row(question="symptoms-provoked"))) == (
        f"{wanted}'symptoms-provoked' with gas 'h2'"
    )
    assert refusal(of_row(symptom_row(question="bacterial-overgrowth"))) == (
        f"{wanted}'bacterial-overgrowth' with gas 'symptoms'"
    )


def test_a_score_is_judged_as_a_level_of_its_rise() -> None:
    """The series of symptoms already is a rise over the scores before the drink."""
    assert refusal(of_row(symptom_row(measure="rise over baseline"))) == (
        "own.toml, key statement[1].measure: not for symptoms; allowed: 'level'; "
        "came: 'rise over baseline'"
    )


def test_a_threshold_has_the_unit_of_its_gas() -> None:
    """Gases in ppm, symptoms in points, never both and never none."""
    assert refusal(of_row(without(statement_row(), "threshold_ppm"))) == (
        "own.toml, key statement[1].threshold_ppm: missing; allowed: a number in ppm for gas "
        "'h2'; came: nothing"
    )
    assert refusal(of_row(statement_row(threshold_points=2))) == (
        "own.toml, key statement[1].threshold_points: does not fit this row; allowed: "
        "threshold_ppm for gas 'h2'; came: 2"
    )
    assert refusal(of_row({**symptom_row(), "threshold_ppm": 20})) == (
        "own.toml, key statement[1].threshold_ppm: does not fit this row; allowed: "
        "threshold_points for gas 'symptoms'; came: 20"
    )
    assert refusal(of_row(without(symptom_row(), "threshold_points"))) == (
        "own.toml, key statement[1].threshold_points: missing; allowed: a number in points for "
        "gas 'symptoms'; came: nothing"
    )


def test_a_row_says_by_when_or_how_long_but_not_both() -> None:
    """Without either nobody could say when a test is negative."""
    assert refusal(of_row(without(statement_row(), "needs_minutes"))) == (
        "own.toml, key statement[1].needs_minutes: missing; allowed: by_minute, or needs_minutes "
        "where any sample counts; came: nothing"
    )
    assert refusal(of_row(statement_row(by_minute=90, needs_minutes=120))) == (
        "own.toml, key statement[1].needs_minutes: does not fit this row; allowed: only one of "
        "by_minute and needs_minutes; came: 120"
    )


@pytest.mark.parametrize("start", [20, 25])
def test_an_undecided_band_lies_below_the_threshold(start: float) -> None:
    """A band that starts at the threshold or above it is none."""
    assert refusal(of_row(statement_row(undecided_from_ppm=start))) == (
        "own.toml, key statement[1].undecided_from_ppm: no band; allowed: less than the "
        f"threshold 20; came: {start}"
    )


def test_a_band_in_ppm_does_not_fit_a_row_in_points() -> None:
    """1 ppm below a threshold of 2 points would be compared with points."""
    assert "statement[1].undecided_from_ppm: does not fit this row" in refusal(
        of_row(symptom_row(undecided_from_ppm=1))
    )


def test_a_confirmation_has_a_name_and_a_day() -> None:
    """Neither alone confirms anything."""
    assert refusal(of_row(statement_row(confirmed_by="R. Tamsin"))) == (
        "own.toml, key statement[1].confirmed_on: missing; allowed: a date beside confirmed_by; "
        "came: nothing"
    )
    assert refusal(of_validity({**VALID, "confirmed_on": "2026-11-24"})) == (
        "own.toml, key validity[1].confirmed_on: does not fit this row; allowed: confirmed_by "
        "beside it; came: '2026-11-24'"
    )


def test_a_validity_row_needs_a_gas_and_a_threshold() -> None:
    """Symptoms before the drink make no test invalid."""
    assert refusal(of_validity({**VALID, "gas": "symptoms"})) == (
        "own.toml, key validity[1].gas: not for a validity row; allowed: a gas or a sum of gases; "
        "came: 'symptoms'"
    )
    assert refusal(of_validity(without(VALID, "threshold_ppm"))) == (
        "own.toml, key validity[1].threshold_ppm: missing; allowed: a number in ppm; came: nothing"
    )
    assert refusal(of_validity({**VALID, "measure": "level"})) == (
        "own.toml, key validity[1].measure: not one of the choices; allowed: 'baseline'; "
        "came: 'level'"
    )


def test_a_refusal_is_a_rule_error_with_its_parts() -> None:
    """Whoever catches it can point at the line."""
    with pytest.raises(RuleError) as caught:
        parse(of_row(statement_row(gas="h3")), lines={"statement[1].gas": 12})
    assert (caught.value.line, caught.value.key) == (12, "statement[1].gas")
    assert (caught.value.file, caught.value.came) == ("own.toml", "'h3'")


@pytest.mark.parametrize(
    ("provenance", "confirmed", "checked"),
    [("read", False, True), ("reported", False, True), ("memory", False, False),
     ("memory", True, True)],
)  # fmt: skip
def test_a_row_from_memory_is_unchecked_until_a_named_person_confirms_it(
    provenance: str, confirmed: bool, checked: bool
) -> None:
    """Reported rows count as checked: somebody else printed them."""
    said = {"confirmed_by": "R. Tamsin", "confirmed_on": "2026-11-24"} if confirmed else {}
    row = {**VALID, "provenance": provenance, **said}
    found = rule_set(statement_row(provenance=provenance, **said), validity=[row])
    assert found.statements[0].checked is checked
    assert found.validity[0].checked is checked
    assert found.unchecked == (() if checked else ("row", "fasting"))


def test_a_statement_ends_where_its_window_or_its_test_ends() -> None:
    """The by-minute, or else the minute that readings must reach."""
    assert a_statement(by_minute=90).end_minute == 90
    assert a_statement(needs_minutes=180).end_minute == 180
    assert math.isinf(replace(a_statement(by_minute=90), by_minute=None).end_minute)


def test_a_statement_is_in_points_only_where_it_is_about_symptoms() -> None:
    """Gases are in ppm."""
    assert a_statement().unit == "ppm"
    assert rule_set(symptom_row()).statements[0].unit == "points"


def test_a_rule_set_covers_the_substrates_of_its_statements() -> None:
    """One row is enough."""
    found = rule_set(statement_row(), statement_row(id="other", substrates=["sorbitol"]))
    assert [s for s in ("lactose", "sorbitol", "glucose") if found.covers(s)] == [
        "lactose",
        "sorbitol",
    ]


def test_a_date_of_toml_is_a_date() -> None:
    """TOML knows dates, and a quoted one is the same."""
    row = statement_row(
        provenance="memory", confirmed_by="R. Tamsin", confirmed_on=dt.date(2026, 11, 24)
    )
    assert rule_set(row).statements[0].confirmed_on == "2026-11-24"


def test_every_bundled_rule_set_says_its_source_and_its_population() -> None:
    """Source: the documents named in the files; no default comes without one."""
    for found in library().rule_sets:
        assert found.source
        assert found.population in ("any", "adults", "children")
        assert all(row.source for row in found.statements)
