from typing import Any

import pytest

from ebbline.core.clinic.preparation_item import Before
from tests.core.clinic.prepared_rows import (
    PREPARATION,
    an_item,
    preparation_of,
    refused_rows,
    rows_of,
    rows_with,
)

UNREAD = ("european-2022",)


def test_every_row_that_follows_a_report_only_says_memory() -> None:
    """Of the European guideline only a report was read, so no row of it is marked as read."""
    rows = [row for row in PREPARATION.items if set(row.guidance) & set(UNREAD)]
    assert rows
    assert {row.provenance for row in rows} == {"memory"}


def test_the_shipped_rows_hold_what_the_consensus_asks() -> None:
    """Source: Rezaie A, et al. Am J Gastroenterol 2017;112:775-784, table 1."""
    own = {row.id: row for row in PREPARATION.items if "north-american-2017" in row.guidance}
    assert {name: (row.before, row.provenance) for name, row in own.items()} == {
        "acid-suppression": (Before("on receipt", 0, None), "read"),
        "antibiotics": (Before("weeks", 4, None), "read"),
        "bowel-medicines": (Before("weeks", 1, None), "read"),
        "diet": (Before("days", 1, None), "read"),
        "fast": (Before("hours", 8, 12), "read"),
        "smoking": (Before("on the day", 0, None), "read"),
        "exercise": (Before("on the day", 0, None), "read"),
    }


def test_children_and_infants_fast_less() -> None:
    """The service's rows: 8 h from 16 years, 6 h below, 4 h below one year (memory)."""
    rows = [row for row in PREPARATION.items if row.id == "fast" and "service" in row.guidance]
    assert {(row.from_years, row.below_years): row.before.least for row in rows} == {
        (16, None): 8,
        (1, 16): 6,
        (0, 1): 4,
    }


def test_two_rows_for_one_patient_are_refused() -> None:
    """Same id, guidance, substrate and age: either of them could speak."""
    assert refused_rows(rows_with(an_item(), an_item(before={"weeks": 2}))) == (
        "preparation.toml, item[2].id: a second row for the same guidance, substrate and age; "
        "allowed: one row for each patient; came: antibiotics"
    )


@pytest.mark.parametrize(
    "other",
    [
        {"guidance": ["rome-2009"]},
        {"id": "probiotics"},
    ],
)
def test_rows_that_never_meet_pass(other: dict[str, Any]) -> None:
    """Another guidance, or another item."""
    assert len(preparation_of(rows_with(an_item(), an_item(**other))).items) == 2


def test_rows_by_substrate_and_by_age_pass_where_they_join() -> None:
    """Each patient has exactly one."""
    sugars = [an_item(substrates=["lactose"]), an_item(substrates=["glucose"])]
    assert len(preparation_of(rows_with(*sugars)).items) == 2
    ages = [
        an_item(ages={"from_years": 1}),
        an_item(ages={"from_years": 0, "below_years": 1}),
    ]
    assert len(preparation_of(rows_with(*ages)).items) == 2


@pytest.mark.parametrize(
    ("ages", "gap"),
    [
        ([{"from_years": 1}], "0"),
        ([{"from_years": 0, "below_years": 16}], "16"),
        ([{"from_years": 0, "below_years": 1}, {"from_years": 2}], "1"),
    ],
)
def test_no_age_is_left_without_a_row_of_the_service(
    ages: list[dict[str, float]], gap: str
) -> None:
    """An item that is left out goes unsaid, so a gap in the ages is refused."""
    items = [an_item(ages=one) for one in ages]
    assert refused_rows(rows_with(*items)) == (
        f"preparation.toml, item: antibiotics has no row of the service for fructose from {gap} "
        "years; allowed: rows with guidance service for every age; came: none"
    )


def test_no_item_is_left_without_a_row_of_the_service() -> None:
    """Else another guidance would leave it out in silence."""
    assert refused_rows(rows_with(an_item(guidance=["rome-2009"]))) == (
        "preparation.toml, item: antibiotics has no row of the service for fructose from 0 "
        "years; allowed: rows with guidance service for every age; came: none"
    )


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (
            {"extra": 1},
            "extra: unknown key; allowed: item, sheet, heading or caution; came: extra",
        ),
        ({"sheet": {}}, "sheet.title: missing; allowed: text; came: nothing"),
        ({"heading": {"noon": "x"}}, ("heading.noon: unknown key; allowed: on_receipt, week, "
         "weeks, day, days, hours or on_the_day; came: noon")),
        ({"caution": [{"words": "x"}]}, ("caution[1].words: unknown key; allowed: text or "
         "substrates; came: words")),
        ({"caution": [{"substrates": ["lactose"]}]}, ("caution[1].text: missing; allowed: text; "
         "came: nothing")),
    ],
)  # fmt: skip
def test_the_words_of_the_sheet_are_checked(change: dict[str, Any], text: str) -> None:
    """Every word that the sheet needs is there, and no other."""
    assert refused_rows({**rows_of("preparation"), **change}) == f"preparation.toml, {text}"


def test_the_words_of_the_sheet_hold_only_known_places() -> None:
    """A place that nobody fills would be printed as it is."""
    rows = rows_of("preparation")
    rows["sheet"]["title"] = "For {name}"
    assert refused_rows(rows) == (
        "preparation.toml, sheet.title: unknown place in the text; allowed: {substrate}; "
        "came: {name}"
    )
