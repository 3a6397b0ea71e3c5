import copy
import tomllib
from typing import Any

import pytest

from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.baseline_table import CHOICES, parse_baseline
from ebbline.core.errors import SettingError

SHIPPED = tomllib.loads((DATA / "test_life.toml").read_text(encoding="utf-8"))


def changed(key: str, number: int, **changes: Any) -> dict[str, Any]:
    """Return the shipped table with one row changed; a row is counted from 1."""
    table = copy.deepcopy(SHIPPED)
    table[key][number - 1] |= changes
    return table


def test_the_shipped_choices_come_in_their_order_with_their_sources() -> None:
    """Alegre E, et al. Sci Rep 2022;12:9752; Erdrich S, et al. Sci Rep 2021;11:26 (abstracts)."""
    table = parse_baseline(SHIPPED)
    assert tuple(row.id for row in table.choices) == CHOICES
    by_id = {row.id: row for row in table.choices}
    assert "2022;12:9752" in by_id["walk and repeat"].source
    assert "10 % of the tests" in by_id["walk and repeat"].caution
    assert "PMID 33420116" in by_id["rinse and repeat"].source
    assert "can create a false positive" in by_id["rinse and repeat"].caution
    assert [row.provenance for row in table.choices] == [
        "common practice", "read", "read", "common practice",
    ]  # fmt: skip
    assert set(table.rules) == {"mean", "last", "lowest"}


def test_the_order_of_the_rows_does_not_change_the_order_of_the_choices() -> None:
    """The person always sees them in one order."""
    table = copy.deepcopy(SHIPPED)
    table["baseline_choice"].reverse()
    assert parse_baseline(table) == parse_baseline(SHIPPED)


def without_last(key: str) -> dict[str, Any]:
    """Return the shipped table without the last row of a kind."""
    table = copy.deepcopy(SHIPPED)
    table[key].pop()
    return table


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (
            {},
            (
                "test_life.toml, baseline_choice: missing; allowed: [[baseline_choice]] rows; "
                "came: nothing"
            ),
        ),
        (
            {"baseline_choice": []},
            (
                "test_life.toml, baseline_rule: missing; allowed: [[baseline_rule]] rows; "
                "came: nothing"
            ),
        ),
        (
            changed("baseline_choice", 1, id="stay"),
            (
                "test_life.toml, baseline_choice[1].id: not one of the choices; "
                "allowed: go, rinse and repeat, walk and repeat or rebook; came: 'stay'"
            ),
        ),
        (
            changed("baseline_choice", 2, id="go"),
            (
                "test_life.toml, baseline_choice[2].id: given twice; "
                "allowed: an id that no other row has; came: go"
            ),
        ),
        (
            changed("baseline_choice", 1, caution=""),
            "test_life.toml, baseline_choice[1].caution: not text; allowed: text; came: ''",
        ),
        (
            changed("baseline_choice", 1, provenance="hearsay"),
            (
                "test_life.toml, baseline_choice[1].provenance: not one of the choices; "
                "allowed: read, memory or common practice; came: 'hearsay'"
            ),
        ),
        (
            changed("baseline_choice", 1, default=True),
            (
                "test_life.toml, baseline_choice[1].default: unknown key; "
                "allowed: id, says, caution, source or provenance; came: default"
            ),
        ),
        (
            without_last("baseline_choice"),
            (
                "test_life.toml, baseline_choice: a row is missing; allowed: a row for each of "
                "go, rinse and repeat, walk and repeat, rebook; came: no rebook"
            ),
        ),
        (
            changed("baseline_rule", 1, id="first"),
            (
                "test_life.toml, baseline_rule[1].id: not one of the choices; "
                "allowed: mean, last or lowest; came: 'first'"
            ),
        ),
        (
            changed("baseline_rule", 1, colour="red"),
            (
                "test_life.toml, baseline_rule[1].colour: unknown key; allowed: id or says; "
                "came: colour"
            ),
        ),
        (
            without_last("baseline_rule"),
            (
                "test_life.toml, baseline_rule: a row is missing; "
                "allowed: a row for each of mean, last, lowest; came: no lowest"
            ),
        ),
    ],
)
def test_a_table_that_cannot_be_read_is_refused(table: dict[str, Any], message: str) -> None:
    """With the row, the key, what was allowed and what came."""
    with pytest.raises(SettingError) as caught:
        parse_baseline(table)
    assert str(caught.value) == message
