from typing import Any

import pytest

from tests.core.clinic.prepared_rows import (
    GUIDANCES,
    SUBSTRATES,
    an_item,
    preparation_of,
    refused_rows,
    rows_with,
)


@pytest.mark.parametrize(
    ("before", "unit", "least", "most", "days"),
    [
        ({"weeks": 4}, "weeks", 4, None, 28),
        ({"days": 2}, "days", 2, None, 2),
        ({"hours_least": 8}, "hours", 8, None, 0),
        ({"hours_least": 8, "hours_most": 12.5}, "hours", 8, 12.5, 0),
        ({"on_the_day": True}, "on the day", 0, None, 0),
        ({"on_receipt": True}, "on receipt", 0, None, 0),
    ],
)
def test_each_way_of_saying_how_long_before_is_read(
    before: dict[str, Any], unit: str, least: float, most: float | None, days: int
) -> None:
    """Weeks are seven days."""
    item = an_item(
        before=before,
        answer="told",
        asks=None,
        kept_when=None,
        last=None,
        tells="Plain.",
    )
    (row,) = preparation_of(rows_with(item)).items
    assert (row.before.unit, row.before.least, row.before.most) == (unit, least, most)
    assert row.before.days == days


def test_a_row_without_substrates_or_ages_is_for_all() -> None:
    """Left out means no limit."""
    (row,) = preparation_of(rows_with(an_item())).items
    assert row.substrates == SUBSTRATES
    assert (row.from_years, row.below_years, row.by_age) == (0, None, False)


WAYS = (
    "preparation.toml, before: not one way of saying how long before; allowed: weeks, days, "
    "hours_least, hours_least with hours_most after it, on_the_day = true or on_receipt = true; "
    "came: "
)


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        (
            {"colour": "red"},
            (
                "item[1].colour: unknown key; allowed: id, tells, before, answer, asks, kept_when, "
                "last, substrates, ages, guidance, source or provenance; came: colour"
            ),
        ),
        ({"id": None}, "item[1].id: missing; allowed: text; came: nothing"),
        ({"tells": " "}, "item[1].tells: not text; allowed: text; came: ' '"),
        ({"before": None}, "item[1].before: missing; allowed: a table [before]; came: nothing"),
        ({"asks": None}, "item[1].asks: missing; allowed: text; came: nothing"),
        ({"last": None}, "item[1].last: missing; allowed: text; came: nothing"),
        (
            {"kept_when": "maybe"},
            "item[1].kept_when: not one of the choices; allowed: yes or no; came: 'maybe'",
        ),
        (
            {"answer": "time"},
            "item[1].answer: not one of the choices; allowed: told, word or date; came: 'time'",
        ),
        (
            {"answer": "told", "last": None},
            (
                "item[1].asks: an item that is only told is not asked; allowed: no such key here; "
                "came: asks"
            ),
        ),
        (
            {"answer": "word"},
            (
                "item[1].last: only the answers date and time are counted; allowed: no such key "
                "here; came: last"
            ),
        ),
        (
            {"guidance": ["nobody-1999"]},
            (
                "item[1].guidance: not a list of the choices; allowed: a list of "
                f"{', '.join(GUIDANCES)} or service, each once; came: ['nobody-1999']"
            ),
        ),
        (
            {"substrates": ["salt"]},
            (
                "item[1].substrates: not a list of the choices; allowed: a list of lactose, "
                "fructose, glucose, lactulose, sorbitol, sucrose or xylose, each "
                "once; came: ['salt']"
            ),
        ),
        (
            {"provenance": "hearsay"},
            (
                "item[1].provenance: not one of the choices; allowed: read, memory or common "
                "practice; came: 'hearsay'"
            ),
        ),
        ({"source": None}, "item[1].source: missing; allowed: text; came: nothing"),
        (
            {"tells": "By {time}."},
            "item[1].tells: unknown place in the text; allowed: {date}; came: {time}",
        ),
        (
            {"asks": "Since {0}?"},
            "item[1].asks: unknown place in the text; allowed: {date}; came: {0}",
        ),
        (
            {"tells": "By {date."},
            (
                "item[1].tells: braces do not close (expected '}' before end of string); allowed: "
                "{date}; came: By {date."
            ),
        ),
    ],
)
def test_a_row_that_cannot_be_used_is_refused(changes: dict[str, Any], text: str) -> None:
    """The refusal names the file, the row, the key, what is allowed and what came."""
    assert refused_rows(rows_with(an_item(**changes))) == f"preparation.toml, {text}"


@pytest.mark.parametrize(
    ("before", "text"),
    [
        ({}, f"{WAYS}nothing"),
        ({"weeks": 4, "days": 1}, f"{WAYS}weeks, days"),
        ({"hours_most": 12}, f"{WAYS}hours_most"),
        ({"on_the_day": False}, f"{WAYS}on_the_day"),
        ({"on_receipt": False}, f"{WAYS}on_receipt"),
        (
            {"months": 1},
            (
                "preparation.toml, before.months: unknown key; allowed: weeks, days, hours_least, "
                "hours_most, on_the_day or on_receipt; came: months"
            ),
        ),
        (
            {"weeks": 0},
            "preparation.toml, before.weeks: out of range; allowed: 1 to 12; came: 0",
        ),
        (
            {"days": 1.5},
            "preparation.toml, before.days: not a whole number; allowed: 1 to 90; came: 1.5",
        ),
        (
            {"hours_least": 8, "hours_most": 7},
            "preparation.toml, before.hours_most: out of range; allowed: 8 to 96; came: 7",
        ),
        (
            {"hours_least": "8"},
            "preparation.toml, before.hours_least: not a number; allowed: 0.25 to 96; came: '8'",
        ),
        (
            {"on_the_day": 1},
            "preparation.toml, before.on_the_day: not a yes or no; allowed: true or false; came: 1",
        ),
    ],
)
def test_how_long_before_is_said_in_one_way(before: dict[str, Any], text: str) -> None:
    """Two ways, none, or a count that is none are refused."""
    found = refused_rows(rows_with(an_item(before=before)))
    assert found.replace("item[1].before", "before") == text


@pytest.mark.parametrize(
    ("before", "allowed"),
    [
        ({"hours_least": 8}, "{time}"),
        ({"hours_least": 8, "hours_most": 9}, "{time} and {earliest_time}"),
        ({"on_receipt": True}, "no place in braces"),
        ({"on_the_day": True}, "{date}"),
    ],
)
def test_the_places_in_a_text_follow_how_long_before_it_is(
    before: dict[str, Any], allowed: str
) -> None:
    """A text can only be filled with what the row has."""
    item = an_item(
        before=before, answer="told", asks=None, kept_when=None, last=None, tells="At {noon}."
    )
    assert refused_rows(rows_with(item)) == (
        f"preparation.toml, item[1].tells: unknown place in the text; allowed: {allowed}; "
        "came: {noon}"
    )


def test_ages_must_leave_an_age() -> None:
    """From 5 to below 5 is nobody."""
    item = an_item(ages={"from_years": 5, "below_years": 5})
    assert refused_rows(rows_with(item)) == (
        "preparation.toml, item[1].ages.below_years: no age is left; allowed: more than 5; came: 5"
    )
    item = an_item(ages={"from_years": 5, "to_years": 6})
    assert refused_rows(rows_with(item)) == (
        "preparation.toml, item[1].ages.to_years: unknown key; allowed: from_years or "
        "below_years; came: to_years"
    )
