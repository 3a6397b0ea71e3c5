"""The table of a trace file: its columns, its cells and the order of its times."""

import pytest
from numpy.testing import assert_array_equal

from tests.adapters.files.trace_strategies import COLUMNS, TABLE, assert_refused, parse

NAMES = "time_s, h2_ppm, ch4_ppm, o2_pct, co2_pct or flow_l_per_s"
GASES = "h2_ppm, ch4_ppm, o2_pct or co2_pct"


@pytest.mark.parametrize(
    "text",
    [
        "time_s,h2_ppm,o2_pct\n0,5.5,20.9\n0.5,,20.8\n",
        "time_s;h2_ppm;o2_pct\n0;5.5;20.9\n0.5;;20.8\n",
        "time_s\th2_ppm\to2_pct\n0\t5.5\t20.9\n0.5\t\t20.8\n",
        "# delimiter: tab\n# decimal: comma\ntime_s\th2_ppm\to2_pct\n0\t5,5\t20,9\n0,5\t\t20,8\n",
        "time_s\tH2_ppm\tO2_PCT\n0\t5,5\t20,9\n\t\t\n0,5\t\t20,8\n",
        'time_s,h2_ppm,o2_pct\n0,"5,5","20,9"\n\n"0,5",,"20,8"\n',
        "# Delimiter: ;\ntime_s ; h2_ppm;o2_pct\n +0;5,5 ;20,9\n;;\n0,5; ;20,8\n",
    ],
)
def test_a_trace_reads_the_same_however_it_is_written(text: str) -> None:
    """Separators, decimal signs, quotes, white space and empty lines change nothing."""
    trace = parse(text).trace
    assert_array_equal(trace.time_s, [0.0, 0.5])
    assert_array_equal(trace.channel("h2_ppm"), [5.5, float("nan")])
    assert_array_equal(trace.channel("o2_pct"), [20.9, 20.8])


def test_columns_after_the_time_may_stand_in_any_order() -> None:
    """The name decides."""
    trace = parse("time_s,flow_l_per_s,co2_pct,ch4_ppm\n0,-0.5,4,\n1,0.5,5,3\n").trace
    assert trace.channels == ("ch4_ppm", "co2_pct", "flow_l_per_s")
    assert_array_equal(trace.channel("flow_l_per_s"), [-0.5, 0.5])
    assert_array_equal(trace.channel("ch4_ppm"), [float("nan"), 3.0])


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "time_s,h2\n0,1\n",
            f', row 1, column h2: the column is not known; allowed: {NAMES}; came: "h2"',
        ),
        (
            "time_s,,h2_ppm\n0,1,1\n",
            f", row 1: column 2 has no name; allowed: {NAMES}; came: nothing",
        ),
        (
            "time_s,h2_ppm,H2_PPM\n0,1,1\n",
            (
                ", row 1, column H2_PPM: the column is given twice; allowed: each column once; "
                'came: "H2_PPM"'
            ),
        ),
        (
            "# note: a\nh2_ppm,o2_pct\n0,1\n",
            (
                ", row 2, column time_s: the column is missing; allowed: time_s as the first "
                'column, always; came: "h2_ppm, o2_pct"'
            ),
        ),
        (
            "h2_ppm,time_s\n0,1\n",
            (
                ", row 1, column time_s: the column is not the first; allowed: time_s as the first "
                'column, always; came: "h2_ppm, time_s"'
            ),
        ),
        (
            "time_s,flow_l_per_s\n0,1\n",
            (
                f", row 1: no column holds a gas; allowed: {GASES}, at least one; "
                'came: "time_s, flow_l_per_s"'
            ),
        ),
        (
            COLUMNS,
            (
                ": the table has too few rows; allowed: two rows or more below the columns; "
                "came: nothing"
            ),
        ),
        (
            COLUMNS + ",,\n0,5,20\n",
            (
                ": the table has too few rows; allowed: two rows or more below the columns; "
                "came: one row"
            ),
        ),
        (
            TABLE + "0.2,5\n",
            (
                ", row 4: the row has another number of cells than the columns line; allowed: 3 "
                "cells; an empty cell where a sensor gave no value; came: 2 cells"
            ),
        ),
    ],
)
def test_a_table_of_another_shape_is_refused(text: str, message: str) -> None:
    """The columns and the length of each row are checked before any number."""
    assert_refused(text, f"blow.csv{message}")


H2_ALLOWED = "a plain number from -20 to 2000"
TIME_ALLOWED = "a plain number from -10000000000 to 10000000000"


@pytest.mark.parametrize(
    ("row", "message"),
    [
        (
            "0.2,x,20",
            f'column h2_ppm: this is not a plain number; allowed: {H2_ALLOWED}; came: "x"',
        ),
        (
            "0.2,nan,20",
            f'column h2_ppm: this is not a plain number; allowed: {H2_ALLOWED}; came: "nan"',
        ),
        (
            "0.2,1_0,20",
            f'column h2_ppm: this is not a plain number; allowed: {H2_ALLOWED}; came: "1_0"',
        ),
        (
            "0.2,1e-5,20",
            (
                f"column h2_ppm: a number is written with an exponent; allowed: {H2_ALLOWED}; "
                'came: "1e-5"'
            ),
        ),
        (
            "0.2,-20.01,20",
            f'column h2_ppm: the value is out of range; allowed: {H2_ALLOWED}; came: "-20.01"',
        ),
        (
            "0.2,5,25.1",
            (
                "column o2_pct: the value is out of range; allowed: a plain number from 5 to 25; "
                'came: "25.1"'
            ),
        ),
        (
            "x,5,20",
            f'column time_s: this is not a plain number; allowed: {TIME_ALLOWED}; came: "x"',
        ),
        (
            "10000000000.5,5,20",
            (
                f"column time_s: the value is out of range; allowed: {TIME_ALLOWED}; "
                'came: "10000000000.5"'
            ),
        ),
        (
            "1" * 400 + ",5,20",
            (
                f"column time_s: the value is out of range; allowed: {TIME_ALLOWED}; "
                f'came: "{"1" * 60}…"'
            ),
        ),
        (
            ",5,20",
            (
                "column time_s: the time is missing; allowed: a plain number, in every row; "
                "came: nothing"
            ),
        ),
        (
            "0.1,5,20",
            (
                "column time_s: the time does not rise; allowed: more than 0.1, as in row 3; "
                'came: "0.1"'
            ),
        ),
        (
            "0.05,5,20",
            (
                "column time_s: the time does not rise; allowed: more than 0.1, as in row 3; "
                'came: "0.05"'
            ),
        ),
    ],
)
def test_a_cell_that_cannot_be_used_is_refused(row: str, message: str) -> None:
    """The line and the column are named; whatever stands below is not looked at."""
    assert_refused(f"{TABLE}{row}\nx,y,z\n", f"blow.csv, row 4, {message}")


def test_the_limits_of_a_column_are_allowed() -> None:
    """Both ends belong to what a sensor can mean."""
    text = "time_s,h2_ppm,flow_l_per_s\n-10000000000,-20,-15\n-9999999999,2000,15\n"
    trace = parse(text).trace
    assert_array_equal(trace.time_s, [-1e10, -9999999999.0])
    assert_array_equal(trace.channel("flow_l_per_s"), [-15.0, 15.0])


def test_the_first_row_may_be_the_one_at_fault() -> None:
    """There is no time before it to compare with."""
    assert_refused(
        "time_s,h2_ppm\n,5\n0.1,5\n",
        "blow.csv, row 2, column time_s: the time is missing; allowed: a plain number, in every "
        "row; came: nothing",
    )


COMMA_WHERE_POINT = "a number holds a comma where the decimal sign is a point"
POINT_WHERE_COMMA = "a number holds a point where the decimal sign is a comma"
AMBIGUOUS = (
    "the decimal sign is ambiguous; allowed: points or commas, not both; or a head line decimal; "
    "came:"
)
GROUPED = (
    "the number may hold a decimal sign or a thousands separator; allowed: no thousands "
    "separator; a head line decimal where it is a decimal sign; came:"
)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "time_s;h2_ppm\n0;5.5\n0,1;6\n",
            f', row 3, column time_s: {AMBIGUOUS} "0,1" here and "5.5" in row 2',
        ),
        (
            "# begun_s: 0.5\ntime_s;h2_ppm\n0;5,5\n1;6\n",
            f', row 3, column h2_ppm: {AMBIGUOUS} "5,5" here and "0.5" in row 1',
        ),
        ("time_s\th2_ppm\n0\t1.234\n1\t6\n", f', row 2, column h2_ppm: {GROUPED} "1.234"'),
        ("time_s\th2_ppm\n0\t1,234\n1\t6\n", f', row 2, column h2_ppm: {GROUPED} "1,234"'),
        ("time_s;h2_ppm\n0;1.234\n1;6\n", f', row 2, column h2_ppm: {GROUPED} "1.234"'),
        ('time_s,h2_ppm\n0,"1,234"\n1,6\n', f', row 2, column h2_ppm: {GROUPED} "1,234"'),
        (
            "# decimal: point\ntime_s;h2_ppm\n0;5,5\n1;6\n",
            f', row 3, column h2_ppm: {COMMA_WHERE_POINT}; allowed: {H2_ALLOWED}; came: "5,5"',
        ),
        (
            "# decimal: comma\ntime_s;h2_ppm\n0;5.5\n1;6\n",
            f', row 3, column h2_ppm: {POINT_WHERE_COMMA}; allowed: {H2_ALLOWED}; came: "5.5"',
        ),
    ],
)
def test_a_decimal_sign_that_is_not_plain_to_see_is_refused(text: str, message: str) -> None:
    """A wrong guess would be wrong by a factor of a thousand."""
    assert_refused(text, f"blow.csv{message}")


@pytest.mark.parametrize(
    ("text", "h2_ppm"),
    [
        ("time_s\th2_ppm\n0\t1.234\n0.5\t6\n", 1.234),
        ("time_s;h2_ppm\n0;1,234\n1;6\n", 1.234),
        ("# decimal: comma\ntime_s\th2_ppm\n0\t1,234\n1\t6\n", 1.234),
        ("# begun_s: 0.5\ntime_s;h2_ppm\n0;1.234\n1;6\n", 1.234),
    ],
)
def test_one_number_that_can_only_have_a_decimal_sign_settles_it(text: str, h2_ppm: float) -> None:
    """A head line counts, and so does a sign that groups nothing beside this separator."""
    assert parse(text).trace.channel("h2_ppm")[0] == h2_ppm


QUOTES_ALLOWED = 'allowed: "text" with a quote inside it doubled, 131072 characters at most'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "time_s;h2_ppm,o2_pct\n",
            (
                ", row 1: the columns can be split in two ways; allowed: commas, semicolons or "
                "tabs, not several of them; or a head line delimiter; "
                'came: "time_s;h2_ppm,o2_pct"'
            ),
        ),
        (
            "time_s h2_ppm\n",
            (
                ", row 1: the columns cannot be split; allowed: a comma, a semicolon or a tab "
                'between columns; came: "time_s h2_ppm"'
            ),
        ),
        (
            "# delimiter: tab\ntime_s;h2_ppm\n",
            (
                ", row 2: the columns are not separated as declared; allowed: a tab between "
                'columns; came: "time_s;h2_ppm"'
            ),
        ),
        (
            TABLE + '0.2,"5,20\n',
            (f', row 4: a quote is opened and never closed; {QUOTES_ALLOWED}; came: "0.2,"5,20"'),
        ),
        (
            TABLE + '0.2,"5"5,20\n',
            f', row 4: text follows a closing quote; {QUOTES_ALLOWED}; came: "0.2,"5"5,20"',
        ),
        (
            TABLE + "0.2," + "5" * 131_073 + ",20\n",
            f', row 4: a cell is too long; {QUOTES_ALLOWED}; came: "0.2,{"5" * 56}…"',
        ),
        (
            TABLE + "# note: late\n",
            (
                ", row 4: a head line stands inside the table; allowed: lines that begin with # "
                'above the columns only; a cell that does, quoted; came: "# note: late"'
            ),
        ),
    ],
)
def test_a_line_that_cannot_be_taken_apart_is_refused(text: str, message: str) -> None:
    """The row is the one in which the fault begins."""
    assert_refused(text, f"blow.csv{message}")
