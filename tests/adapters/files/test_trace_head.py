"""The head lines of a trace file: which keys are known, and what they may hold."""

import pytest

from ebbline.adapters.files.trace_head import FACTS
from tests.adapters.files.trace_strategies import TABLE, assert_refused, parse


def test_every_known_key_is_taken() -> None:
    """Facts keep their words, and numbers and choices take their normal form."""
    facts = "".join(f"# {name}: Some, words\n" for name in FACTS if name != "invented")
    found = parse(f"# kind: BAG\n# Begun s: -2.50\n# on-for-min: 0\n# Invented: No\n{facts}{TABLE}")
    assert (found.kind, found.begun_s, found.on_for_min) == ("bag", -2.5, 0.0)
    assert sorted(found.facts) == sorted(FACTS)
    assert found.facts["analyser"] == "Some, words"
    assert found.facts["invented"] == "no"
    assert not found.invented
    assert found.unused == {}


def test_what_the_head_does_not_say_is_none() -> None:
    """Missing is missing, never a default."""
    for text in (TABLE, "# kind:\n# begun_s:,,\n# note:\n# a comment\n" + TABLE):
        found = parse(text)
        assert (found.kind, found.begun_s, found.on_for_min) == (None, None, None)
        assert found.facts == {}
        assert found.unused == {}
        assert not found.invented


def test_a_key_that_is_not_known_is_kept_as_written() -> None:
    """A slip in a key must show instead of being lost."""
    found = parse("# Begun-min: 10: about,\n# empty:\n" + TABLE)
    assert found.unused == {"Begun-min": "10: about", "empty": ""}


def test_a_head_filled_up_with_tabs_is_read() -> None:
    """A spreadsheet fills lines up to the width of the table."""
    found = parse('# kind: blow\t\t\n"# note: a, ""b"""\t\n\t\t\ntime_s\th2_ppm\n0\t5\n1\t6\n')
    assert found.kind == "blow"
    assert found.facts == {"note": 'a, "b"'}


MINUTES = "a plain number, 0 or more and 10000000 or less"


@pytest.mark.parametrize(
    ("head", "message"),
    [
        ("# : x\n", 'row 1: a head line has no key; allowed: # key: value; came: "# : x"'),
        (
            '"# note: "x"\n',
            (
                "row 1: a head line is quoted wrongly; allowed: # key: value without quotes, or "
                '"# key: value" as one cell; came: ""# note: "x""'
            ),
        ),
        (
            "# note: x\n# Note: y\n",
            (
                "row 2: head line Note is given twice; allowed: each key once; the first is in "
                'row 1; came: "y"'
            ),
        ),
        (
            "# kind: breath\n",
            'row 1: head line kind is not a choice; allowed: blow or bag; came: "breath"',
        ),
        (
            "# delimiter: space\n",
            (
                "row 1: head line delimiter is not a choice; allowed: comma, semicolon or tab; "
                'came: "space"'
            ),
        ),
        (
            "# invented: maybe\n",
            'row 1: head line invented is not a choice; allowed: yes or no; came: "maybe"',
        ),
        (
            "# on_for_min: -1\n",
            f'row 1: head line on_for_min is out of range; allowed: {MINUTES}; came: "-1"',
        ),
        (
            "# begun_s: 20000000000\n",
            (
                "row 1: head line begun_s is out of range; allowed: a plain number, -10000000000 "
                'or more and 10000000000 or less; came: "20000000000"'
            ),
        ),
        (
            "# on_for_min: long\n",
            (
                "row 1: head line on_for_min: this is not a plain number; "
                f'allowed: {MINUTES}; came: "long"'
            ),
        ),
        (
            "# on_for_min: 1e2\n",
            (
                "row 1: head line on_for_min: a number is written with an exponent; "
                f'allowed: {MINUTES}; came: "1e2"'
            ),
        ),
        (
            "# on_for_min: 1,5\n# decimal: point\n",
            (
                "row 1: head line on_for_min: a number holds a comma where the decimal sign is a "
                f'point; allowed: {MINUTES}; came: "1,5"'
            ),
        ),
        (
            "# on_for_min: 1.5\n# decimal: comma\n",
            (
                "row 1: head line on_for_min: a number holds a point where the decimal sign is a "
                f'comma; allowed: {MINUTES}; came: "1.5"'
            ),
        ),
    ],
)
def test_a_head_line_that_cannot_be_used_is_refused(head: str, message: str) -> None:
    """The row is that of the line."""
    assert_refused(head + "time_s,h2_ppm\n0,5\n1,6\n", f"blow.csv, {message}")


@pytest.mark.parametrize(
    ("text", "place", "came"),
    [
        ("# kind: blow\n", "", "head lines only"),
        ('# kind: blow\n"",""\n', ", row 2", "nothing but empty cells"),
    ],
)
def test_a_head_without_a_table_is_refused(text: str, place: str, came: str) -> None:
    """There is nothing to be read."""
    assert_refused(
        text,
        f"blow.csv{place}: the file has no table; allowed: a line with the names of the columns, "
        f"then one line for each sample; came: {came}",
    )
