"""Separator, quotes and decimal sign: declared or plain to see, never guessed."""

import pytest

from ebbline.services.overrides import Overrides
from tests.adapters.files.strategies import HEAD, assert_refused, parse, table

SEMICOLONS = "# delimiter: semicolon\n"
COMMAS = "# decimal: comma\n"
NUMBER_ALLOWED = "a plain number from -2 to 2000"


def h2(text: str) -> list[float | None]:
    """Return the hydrogen values of a table below the shortest head."""
    return [row.h2_ppm for row in table(text).tries]


@pytest.mark.parametrize(
    "text",
    [
        "minute,h2_ppm\n0,5.5\n15,7\n",
        "minute;h2_ppm\n0;5.5\n15;7\n",
        "minute;h2_ppm\n0;5,5\n15;7\n",
        'minute,h2_ppm\n0,"5,5"\n15,7\n',
        '"minute","h2_ppm"\n"0","5.5"\n"15","7"\n',
        "minute, h2_ppm\n0, 5.5\n 15 , \t7 \n",
        "\n\nminute,h2_ppm\n\n0,5.5\n  \n15,7\n,\n\n\n",
        "minute;h2_ppm\n;\n0;+5,5\n15;7\n;\n",
        "# decimal: comma\nminute;h2_ppm\n0;5,5\n15;7\n",
        "# decimal: ,\nminute;h2_ppm\n0;5,5\n15;7\n",
        "# decimal: ,;\nminute;h2_ppm\n0;5,5\n15;7\n",
        "# decimal: comma;\nminute;h2_ppm\n0;5,5\n15;7\n",
        '# Decimal: Comma\nminute,h2_ppm\n0,"5,5"\n15,7\n',
        "# decimal: .\nminute;h2_ppm\n0;5.5\n15;7\n",
        "# decimal: point\n# delimiter: ,\nminute,h2_ppm\n0,5.5\n15,7\n",
        "# delimiter: ;\nminute;h2_ppm\n0;5.5\n15;7\n",
        "# delimiter: Semicolon\nminute;h2_ppm\n0;5.5\n15;7\n",
        "# decimal:\n# delimiter:,,,\nminute,h2_ppm\n0,5.5\n15,7\n",
    ],
)
def test_a_file_reads_the_same_however_it_is_written(text: str) -> None:
    """Separators, decimal signs, quotes, blanks and declarations change no value."""
    assert h2(text) == [5.5, 7.0]
    assert [row.minute for row in table(text).tries] == [0.0, 15.0]


def test_row_numbers_stay_those_of_the_file_where_lines_are_skipped() -> None:
    """Blank lines and line ends inside quotes count as the lines that an editor shows."""
    text = 'minute,h2_ppm,note\n\n0,5,"two\nlines"\n\n15,7,\n'
    assert [row.row for row in table(text).tries] == [4, 7]


def test_a_quoted_cell_may_hold_separators_quotes_and_line_ends() -> None:
    """RFC 4180: a quote inside quotes is doubled."""
    text = 'minute,h2_ppm,note\n0,5,"a ""b"", c; d\n# no: head"\n'
    assert table(text).tries[0].note == 'a "b", c; d\n# no: head'


def test_a_declared_sign_settles_what_would_be_ambiguous() -> None:
    """The declaration decides, in the head or as an option."""
    one = "minute;h2_ppm\n0;1,234\n"
    assert h2(COMMAS + one) == [1.234]
    assert h2('# decimal: comma\nminute,h2_ppm\n0,"1,234"\n') == [1.234]
    assert h2("# decimal: point\nminute;h2_ppm\n0;1.234\n") == [1.234]
    assert parse(HEAD + one, Overrides(decimal="comma")).tries[0].h2_ppm == 1.234
    assert parse(HEAD + "minute;h2_ppm\n0;1\n", Overrides(delimiter=";")).tries[0].h2_ppm == 1.0


def test_a_single_comma_in_a_semicolon_file_without_points_is_a_decimal_comma() -> None:
    """Continental files write 1,234 for a little more than one."""
    assert h2("minute;h2_ppm\n0;1,234\n") == [1.234]


def test_one_number_that_cannot_be_grouped_shows_the_decimal_sign() -> None:
    """5,4 is no grouped thousand, so 1,234 beside it is none either."""
    assert h2('minute,h2_ppm\n0,"5,4"\n15,"1,234"\n') == [5.4, 1.234]
    assert h2("minute;h2_ppm\n0;5.4\n15;1.234\n") == [5.4, 1.234]
    assert h2("minute;h2_ppm\n0;0.123\n") == [0.123]


def test_words_and_notes_do_not_decide_on_the_decimal_sign() -> None:
    """Only what stands where a number belongs counts."""
    text = "# date: 12.3\nminute;h2_ppm;note\n0;5,5;8.15\n15;6;2.5 l\n"
    assert h2(text) == [5.5, 6.0]


def test_numbers_count_however_their_column_or_reference_is_capitalised() -> None:
    """What decides on the decimal sign is found wherever it stands."""
    assert h2("minute;H2_PPM\n0;5,5\n") == [5.5]
    found = table("# reference: O2 13,9\nminute;h2_ppm\n0;5\n")
    assert found.facts == {"reference": "o2 13.9"}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "minute;h2_ppm,note\n0;5,\n",
            (
                "row 2: the columns can be split in two ways; allowed: commas or semicolons, not "
                'both; or a head line delimiter; came: "minute;h2_ppm,note"'
            ),
        ),
        (
            "minute\th2_ppm\n0\t5\n",
            (
                "row 2: the columns cannot be split; allowed: a comma or a semicolon between "
                r'columns; came: "minute\th2_ppm"'
            ),
        ),
        (
            SEMICOLONS + "minute,h2_ppm\n0,5\n",
            (
                "row 3: the columns are not separated as declared; allowed: a semicolon between "
                'columns; came: "minute,h2_ppm"'
            ),
        ),
        (
            "# delimiter: comma\nminute;h2_ppm\n0;5\n",
            (
                "row 3: the columns are not separated as declared; allowed: a comma between "
                'columns; came: "minute;h2_ppm"'
            ),
        ),
        (
            "# delimiter: tab\nminute\th2_ppm\n",
            'row 2: head line delimiter is not a choice; allowed: comma or semicolon; came: "tab"',
        ),
        (
            "# decimal: ;\nminute;h2_ppm\n",
            'row 2: head line decimal is not a choice; allowed: point or comma; came: ";"',
        ),
    ],
)
def test_a_separator_that_is_not_plain_to_see_is_refused(text: str, message: str) -> None:
    """The file is never split by a guess."""
    assert_refused(HEAD + text, f"visit.csv, {message}")


AMBIGUOUS = "the decimal sign is ambiguous; allowed: points or commas, not both; or a head line"
GROUPED = (
    "the number may hold a decimal sign or a thousands separator; allowed: no thousands "
    "separator; a head line decimal where it is a decimal sign; came:"
)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "minute;h2_ppm;o2_pct\n0;1,234;13.9\n",
            f'row 3, column o2_pct: {AMBIGUOUS} decimal; came: "13.9" here and "1,234" in row 3',
        ),
        (
            "minute;h2_ppm\n0;5.4\n15;5,4\n",
            f'row 4, column h2_ppm: {AMBIGUOUS} decimal; came: "5,4" here and "5.4" in row 3',
        ),
        (
            "minute;h2_ppm\n0;1.234,5\n",
            (
                f'row 3, column h2_ppm: {AMBIGUOUS} decimal; came: "1.234,5" here and "1.234,5" in '
                "row 3"
            ),
        ),
        (
            "# dose_g: 12.5\nminute;h2_ppm\n0;5,4\n",
            f'row 4, column h2_ppm: {AMBIGUOUS} decimal; came: "5,4" here and "12.5" in row 2',
        ),
        (
            "# dose_g: 12,5\n# reference: o2 13.9\nminute;h2_ppm\n0;5\n",
            f'row 3: {AMBIGUOUS} decimal; came: "13.9" here and "12,5" in row 2',
        ),
        (
            'minute,h2_ppm\n0,5\n15,"1,234"\n30,"1,300"\n',
            f'row 4, column h2_ppm: {GROUPED} "1,234"',
        ),
        (
            "minute;h2_ppm\n0;5\n15;1.234\n",
            f'row 4, column h2_ppm: {GROUPED} "1.234"',
        ),
    ],
)
def test_a_decimal_sign_that_is_not_plain_to_see_is_refused(text: str, message: str) -> None:
    """A wrong guess would be wrong by a factor of a thousand."""
    assert_refused(HEAD + text, f"visit.csv, {message}")


COMMA_WHERE_POINT = "a number holds a comma where the decimal sign is a point"
POINT_WHERE_COMMA = "a number holds a point where the decimal sign is a comma"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "# decimal: point\nminute;h2_ppm\n0;5,4\n",
            f'row 4, column h2_ppm: {COMMA_WHERE_POINT}; allowed: {NUMBER_ALLOWED}; came: "5,4"',
        ),
        (
            COMMAS + "minute;h2_ppm\n0;5.4\n",
            f'row 4, column h2_ppm: {POINT_WHERE_COMMA}; allowed: {NUMBER_ALLOWED}; came: "5.4"',
        ),
        (
            "# decimal: point\n# dose_g: 12,5\nminute;h2_ppm\n0;5\n",
            (
                f"row 3: head line dose_g: {COMMA_WHERE_POINT}; allowed: a plain number, more than "
                '0 and 200 or less; came: "12,5"'
            ),
        ),
        (
            COMMAS + "# dose_g: 12.5\nminute;h2_ppm\n0;5\n",
            (
                f"row 3: head line dose_g: {POINT_WHERE_COMMA}; allowed: a plain number, more than "
                '0 and 200 or less; came: "12.5"'
            ),
        ),
        (
            COMMAS + "minute;h2_ppm\n0;1.234,5\n",
            (
                f"row 4, column h2_ppm: {POINT_WHERE_COMMA}; allowed: {NUMBER_ALLOWED}; "
                'came: "1.234,5"'
            ),
        ),
    ],
)
def test_a_number_with_the_other_sign_than_declared_is_refused(text: str, message: str) -> None:
    """Once the sign is known the other one has no meaning."""
    assert_refused(HEAD + text, f"visit.csv, {message}")


QUOTES_ALLOWED = 'allowed: "text" with a quote inside it doubled, 131072 characters at most'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            'minute,h2_ppm,note\n0,5,"a\n15,7,\n',
            f'row 3: a quote is opened and never closed; {QUOTES_ALLOWED}; came: "0,5,"a"',
        ),
        (
            'minute,h2_ppm,note\n0,5,"a" b\n',
            f'row 3: text follows a closing quote; {QUOTES_ALLOWED}; came: "0,5,"a" b"',
        ),
        (
            "minute,h2_ppm,note\n0,5," + "a" * 131_073 + "\n",
            f'row 3: a cell is too long; {QUOTES_ALLOWED}; came: "0,5,' + "a" * 56 + '…"',
        ),
        (
            "minute,h2_ppm\n0,5\n# date: today\n15,7\n",
            (
                "row 4: a head line stands inside the table; allowed: lines that begin with # "
                'above the columns only; a cell that does, quoted; came: "# date: today"'
            ),
        ),
    ],
)
def test_a_line_that_cannot_be_taken_apart_is_refused(text: str, message: str) -> None:
    """The row is the one in which the fault begins."""
    assert_refused(HEAD + text, f"visit.csv, {message}")


def test_a_table_of_quoted_nothing_is_refused() -> None:
    """A spreadsheet that quotes every cell writes an empty line like this."""
    assert h2('"",""\nminute,h2_ppm\n0,5\n') == [5.0]
    assert_refused(
        HEAD + '"",""\n',
        "visit.csv, row 2: the file has no table; allowed: a line with the names of the columns, "
        "then one line for each sample; came: nothing but empty cells",
    )


def test_a_quoted_cell_may_begin_with_the_sign_of_a_head_line() -> None:
    """A note in the first column may be about bag #2."""
    assert table('note,minute,h2_ppm\n"#2, late",0,5\n').tries[0].note == "#2, late"
