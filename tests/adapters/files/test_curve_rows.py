"""The table: columns, cells and the order of the rows."""

import pytest

from ebbline.adapters.files.curve_rows import COLUMNS, WORD_COLUMNS
from ebbline.core.curve.breath_test import Try
from tests.adapters.files.strategies import HEAD, assert_refused, table

ALL = (
    "minute, planned_minute, h2_ppm, ch4_ppm, o2_pct, co2_pct, pain, bloating, flatulence, nausea, "
    "diarrhoea, status or note"
)


def test_every_column_is_read_into_its_own_place() -> None:
    """Columns may stand in any order and be capitalised."""
    found = table(
        "Note,STATUS,diarrhoea,nausea,flatulence,bloating,pain,co2_pct,o2_pct,ch4_ppm,H2_ppm,"
        "Planned_Minute, Minute \n"
        "late,OK,5,4,3,2,1.5,5.1,14.2,3,-1.5,90,97\n"
    )
    scores = {"pain": 1.5, "bloating": 2.0, "flatulence": 3.0, "nausea": 4.0, "diarrhoea": 5.0}
    assert found.tries == (Try(97.0, 90.0, "ok", -1.5, 3.0, 14.2, 5.1, "late", scores, 3),)


def test_empty_cells_and_absent_columns_are_missing() -> None:
    """Missing is None, an empty status is ok, and a score that was not asked is not there."""
    found = table(
        "minute,h2_ppm,ch4_ppm,o2_pct,co2_pct,planned_minute,status,note,pain\n0,5" + "," * 7
    )
    assert found.tries == (Try(0.0, None, "ok", 5.0, None, None, None, "", {}, 3),)
    assert table("minute,h2_ppm\n0,5\n").tries == found.tries


def test_minus_zero_is_minute_zero() -> None:
    """No sign hides in a number that is written or shown again."""
    assert str(table("minute,h2_ppm\n-0,-0.0\n").tries[0].minute) == "0.0"


def test_tries_at_one_planned_minute_are_all_kept_in_order() -> None:
    """Which of them counts is decided elsewhere."""
    found = table("minute,planned_minute,h2_ppm,status\n31,30,9,repeat\n33,30,11,ok\n34,30,12,\n")
    assert [(row.minute, row.status) for row in found.tries] == [
        (31.0, "repeat"),
        (33.0, "ok"),
        (34.0, "ok"),
    ]


def test_a_missed_row_takes_its_minute_from_the_plan() -> None:
    """Nothing was taken, so there is no other minute."""
    found = table("minute,planned_minute,h2_ppm,status,note,pain\n,45,,missed,away,2\n")
    assert found.tries == (
        Try(45.0, 45.0, "missed", None, None, None, None, "away", {"pain": 2.0}, 3),
    )


LIMITS = [
    ("minute", "-240 to 1440", ["-240.1", "1440.1"], ["-240", "1440"]),
    ("planned_minute", "-240 to 1440", ["-241", "1441"], ["-240", "1440"]),
    ("h2_ppm", "-2 to 2000", ["-2.1", "2000.1", "9" * 400], ["-2", "2000"]),
    ("ch4_ppm", "-2 to 2000", ["-3", "2001"], ["-2", "2000"]),
    ("o2_pct", "5 to 21.5", ["4.9", "21.6"], ["5", "21.5"]),
    ("co2_pct", "0 to 10", ["-0.1", "10.1"], ["0", "10"]),
    ("pain", "0 to 10", ["-1", "10.5"], ["0", "10"]),
    ("bloating", "0 to 10", ["-1", "11"], ["0", "10"]),
    ("flatulence", "0 to 10", ["-1", "11"], ["0", "10"]),
    ("nausea", "0 to 10", ["-1", "11"], ["0", "10"]),
    ("diarrhoea", "0 to 10", ["-1", "11"], ["0", "10"]),
]


def test_every_column_of_numbers_has_its_limits_tested() -> None:
    """A new column cannot come without its limits."""
    assert [row[0] for row in LIMITS] == list(COLUMNS)


def with_cell(column: str, cell: str) -> str:
    """Return a file with one row and this cell in it."""
    cells = {"minute": "0", "h2_ppm": "5", column: cell}
    return f"{HEAD}{','.join(cells)}\n{','.join(cells.values())}\n"


@pytest.mark.parametrize(("column", "allowed", "outside", "inside"), LIMITS)
def test_a_value_outside_its_limits_is_refused(
    column: str, allowed: str, outside: list[str], inside: list[str]
) -> None:
    """The limits themselves are inside."""
    for cell in outside:
        shown = cell if len(cell) < 60 else cell[:60] + "…"
        assert_refused(
            with_cell(column, cell),
            f"visit.csv, row 3, column {column}: the value is out of range; allowed: a plain "
            f'number from {allowed}; came: "{shown}"',
        )
    for cell in inside:
        row = table(with_cell(column, cell).removeprefix(HEAD)).tries[0]
        found = row.symptoms[column] if column in row.symptoms else getattr(row, column)
        assert found == float(cell)


@pytest.mark.parametrize("column", COLUMNS)
@pytest.mark.parametrize(
    ("cell", "wrong"),
    [
        ("high", "this is not a plain number"),
        ("nan", "this is not a plain number"),
        ("-inf", "this is not a plain number"),
        ("0x10", "this is not a plain number"),
        ("1_0", "this is not a plain number"),
        ("٣", "this is not a plain number"),
        ("５", "this is not a plain number"),
        ("5²", "this is not a plain number"),
        ("1 000", "this is not a plain number"),
        ("1\u00a0000", "this is not a plain number"),
        ("1'000", "this is not a plain number"),
        ("5 ppm", "this is not a plain number"),
        ("<1", "this is not a plain number"),
        ("--5", "this is not a plain number"),
        (".5", "this is not a plain number"),
        ("5.", "this is not a plain number"),
        ("5.5.5", "this is not a plain number"),
        ("1e1", "a number is written with an exponent"),
        ("1.2E-1", "a number is written with an exponent"),
    ],
)
def test_a_cell_that_is_not_a_plain_number_is_refused(column: str, cell: str, wrong: str) -> None:
    """Python would read some of these as numbers; a nurse would not."""
    allowed = next(row[1] for row in LIMITS if row[0] == column)
    shown = cell.replace("\u00a0", r"\xa0")
    assert_refused(
        with_cell(column, cell),
        f"visit.csv, row 3, column {column}: {wrong}; allowed: a plain number from {allowed}; "
        f'came: "{shown}"',
    )


@pytest.mark.parametrize("column", ["h2_ppm", "ch4_ppm", "o2_pct", "co2_pct"])
def test_a_missed_row_with_a_value_is_refused(column: str) -> None:
    """A value that was read must not be lost behind the word missed."""
    names = ["minute", "status", "h2_ppm", *([] if column == "h2_ppm" else [column])]
    cells = ["0", "missed", *([] if column == "h2_ppm" else [""]), "6"]
    assert_refused(
        f"{HEAD}{','.join(names)}\n{','.join(cells)}\n",
        f"visit.csv, row 3, column {column}: a missed row holds a value; allowed: nothing; status "
        'ok or repeat where a value was read; came: "6"',
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "minute,h2,note\n0,5,\n",
            f'row 2, column h2: the column is not known; allowed: {ALL}; came: "h2"',
        ),
        (
            "minute,h2_ppm,\n0,5,\n",
            f"row 2: column 3 has no name; allowed: {ALL}; came: nothing",
        ),
        (
            "minute,h2_ppm,H2_PPM\n0,5,6\n",
            (
                "row 2, column H2_PPM: the column is given twice; allowed: each column once; "
                'came: "H2_PPM"'
            ),
        ),
        (
            "h2_ppm,ch4_ppm\n5,3\n",
            (
                "row 2, column minute: the column is missing; allowed: the columns minute and "
                'h2_ppm, always; came: "h2_ppm, ch4_ppm"'
            ),
        ),
        (
            "minute,ch4_ppm\n0,3\n",
            (
                "row 2, column h2_ppm: the column is missing; allowed: the columns minute and "
                'h2_ppm, always; came: "minute, ch4_ppm"'
            ),
        ),
        (
            "minute,h2_ppm\n\n,\n",
            (
                "row 2: the table has no rows; allowed: one row or more below the columns; "
                "came: nothing"
            ),
        ),
        (
            "minute,h2_ppm\n0,5\n15,5,4\n",
            (
                "row 4: the row has another number of cells than the columns line; allowed: 2 "
                "cells; a separator inside a cell needs quotes around it; came: 3 cells"
            ),
        ),
        (
            "minute,h2_ppm,note\n0,5\n",
            (
                "row 3: the row has another number of cells than the columns line; allowed: 3 "
                "cells; a separator inside a cell needs quotes around it; came: 2 cells"
            ),
        ),
        (
            "minute,h2_ppm,status\n0,5,good\n",
            (
                "row 3, column status: the status is not known; allowed: ok, repeat, missed or "
                'nothing; came: "good"'
            ),
        ),
        (
            "minute,h2_ppm,note\n0,,x\n",
            (
                "row 3, column h2_ppm: the value is missing; allowed: a number; status missed "
                "where none was read; came: nothing"
            ),
        ),
        (
            "minute,h2_ppm,status\n0,,repeat\n",
            (
                "row 3, column h2_ppm: the value is missing; allowed: a number; status missed "
                "where none was read; came: nothing"
            ),
        ),
        (
            "minute,h2_ppm,planned_minute\n,5,15\n",
            (
                "row 3, column minute: the minute is missing; allowed: a number; in a missed row, "
                "planned_minute instead; came: nothing"
            ),
        ),
        (
            "minute,h2_ppm,status\n,,missed\n",
            (
                "row 3, column minute: the minute is missing; allowed: a number; in a missed row, "
                "planned_minute instead; came: nothing"
            ),
        ),
    ],
)
def test_a_table_that_cannot_be_used_is_refused(text: str, message: str) -> None:
    """The refusal names the row and, where there is one, the column."""
    assert_refused(HEAD + text, f"visit.csv, {message}")


def test_a_column_name_from_nowhere_is_shown_short_and_whole() -> None:
    """Garbage in the columns line does not flood the message."""
    name = "\u202e" + "x" * 100
    shown = r"\u202e" + "x" * 59 + "…"
    assert_refused(
        f"{HEAD}minute,h2_ppm,{name}\n0,5,1\n",
        f"visit.csv, row 2, column {shown}: the column is not known; allowed: {ALL}; "
        f'came: "{shown}"',
    )


def test_the_columns_of_words_are_the_two_that_are_tested_here() -> None:
    """A new column of words cannot come without a test."""
    assert WORD_COLUMNS == ("status", "note")
