from typing import Any

import pytest

from ebbline.core.clinic.dose_table import (
    AmountByWeight,
    DrinkByConcentration,
    DrinkByVolume,
    FixedAmount,
    rules_for,
)
from ebbline.core.errors import SettingError
from tests.core.clinic.prepared_rows import DOSES, doses_of, rows_of, rule_of


def a_rule(**changes: Any) -> dict[str, Any]:
    """Return one good row with some keys changed; None takes a key out."""
    row: dict[str, Any] = {
        "id": "own",
        "title": "own",
        "substrate": "lactose",
        "who": "child",
        "from_years": 1,
        "below_years": 16,
        "g_per_kg": 1,
        "cap_g": 25,
        "concentration_pct": 10,
        "resolution_g": 0.1,
        "source": "invented",
        "provenance": "common practice",
        "drink_source": "invented",
        "drink_provenance": "common practice",
    }
    row.update(changes)
    return {key: value for key, value in row.items() if value is not None}


def refusal(rows: dict[str, Any]) -> str:
    """Return the text with which rows are refused."""
    with pytest.raises(SettingError) as caught:
        doses_of(rows)
    return str(caught.value)


def rows_with(*rules: dict[str, Any]) -> dict[str, Any]:
    """Return the shipped rows with other rules."""
    return {**rows_of("doses"), "rule": list(rules)}


def test_an_amount_and_a_drink_are_of_one_kind_each() -> None:
    """Fixed or by weight; by concentration or by volume."""
    by_weight, fixed = doses_of(
        rows_with(
            a_rule(),
            a_rule(
                id="two",
                dose_g=5,
                g_per_kg=None,
                cap_g=None,
                volume_ml=200,
                concentration_pct=None,
                below_years=None,
            ),
        )
    ).rules
    assert by_weight.amount == AmountByWeight(g_per_kg=1, cap_g=25)
    assert by_weight.drink == DrinkByConcentration(10)
    assert fixed.amount == FixedAmount(5)
    assert fixed.drink == DrinkByVolume(200)
    assert fixed.below_years is None


def test_only_what_was_read_is_checked() -> None:
    """A row from memory or of common practice never counts as checked."""
    for rule in DOSES.rules:
        assert rule.checked == (rule.provenance == "read")
    unchecked = {rule.id for rule in DOSES.rules if not rule.checked}
    assert unchecked == {
        "lactose-adult-25-in-10-pct", "sorbitol-adult-5", "lactose-child-1-25",
        "lactulose-child-0.5-10", "glucose-child-1-50",
    }  # fmt: skip


def test_a_source_from_memory_says_so_in_words() -> None:
    """Provenance and words agree, so that a reader of either knows."""
    for rule in DOSES.rules:
        assert ("from memory" in rule.source) == (rule.provenance == "memory")
        assert ("from memory" in rule.drink_source) == (rule.drink_provenance == "memory")


def test_the_choices_for_a_child_are_several_and_none_is_marked() -> None:
    """Lactose caps of 20, 25 and 50 g stand side by side, as the sources differ."""
    found = rules_for(DOSES, substrate="lactose", age_years=6.0)
    caps = [rule.amount.cap_g for rule in found if isinstance(rule.amount, AmountByWeight)]
    assert caps == [20, 25, 50]
    assert {rule.who for rule in found} == {"child"}


def test_the_choices_change_with_the_age() -> None:
    """Below 18 for a child, from 18 for an adult; a substrate without a rule has none."""
    assert {rule.who for rule in rules_for(DOSES, substrate="lactose", age_years=17.99)} == {
        "child"
    }
    assert {rule.who for rule in rules_for(DOSES, substrate="lactose", age_years=18.0)} == {"adult"}
    assert rules_for(DOSES, substrate="xylose", age_years=40.0) == ()


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        (
            {"colour": 1},
            (
                "rule[1].colour: unknown key; allowed: id, title, substrate, who, from_years, "
                "below_years, dose_g, g_per_kg, cap_g, concentration_pct, volume_ml, "
                "resolution_g, source, provenance, drink_source or drink_provenance; came: colour"
            ),
        ),
        ({"id": None}, "rule[1].id: missing; allowed: text; came: nothing"),
        (
            {"substrate": "salt"},
            (
                "rule[1].substrate: not one of the choices; allowed: lactose, fructose, glucose, "
                "lactulose, sorbitol, sucrose or xylose; came: 'salt'"
            ),
        ),
        (
            {"who": "infant"},
            "rule[1].who: not one of the choices; allowed: adult or child; came: 'infant'",
        ),
        ({"from_years": -1}, "rule[1].from_years: out of range; allowed: 0 to 150; came: -1"),
        ({"below_years": 0.5}, "rule[1].below_years: out of range; allowed: 1 to 150; came: 0.5"),
        ({"below_years": 1}, "rule[1].below_years: no age is left; allowed: more than 1; came: 1"),
        (
            {"cap_g": None},
            "rule[1].cap_g: missing; allowed: 1 to 150; came: nothing",
        ),
        (
            {"g_per_kg": None},
            "rule[1].g_per_kg: missing; allowed: 0.05 to 5; came: nothing",
        ),
        (
            {"g_per_kg": None, "cap_g": None},
            "rule[1].dose_g: not one dose; allowed: dose_g, or g_per_kg with cap_g; came: nothing",
        ),
        (
            {"dose_g": 25},
            "rule[1].dose_g: not one dose; allowed: dose_g, or g_per_kg with cap_g; came: both",
        ),
        ({"g_per_kg": 6}, "rule[1].g_per_kg: out of range; allowed: 0.05 to 5; came: 6"),
        ({"cap_g": 0}, "rule[1].cap_g: out of range; allowed: 1 to 150; came: 0"),
        ({"cap_g": float("nan")}, "rule[1].cap_g: out of range; allowed: 1 to 150; came: nan"),
        (
            {"volume_ml": 100},
            "rule[1].volume_ml: not one drink; allowed: concentration_pct or volume_ml; came: both",
        ),
        (
            {"concentration_pct": None},
            (
                "rule[1].volume_ml: not one drink; allowed: concentration_pct or volume_ml; "
                "came: nothing"
            ),
        ),
        (
            {"concentration_pct": 0},
            "rule[1].concentration_pct: out of range; allowed: 1 to 100; came: 0",
        ),
        ({"resolution_g": 0}, "rule[1].resolution_g: out of range; allowed: 0.001 to 1; came: 0"),
        (
            {"provenance": "rumour"},
            (
                "rule[1].provenance: not one of the choices; allowed: read, memory or common "
                "practice; came: 'rumour'"
            ),
        ),
        ({"drink_source": None}, "rule[1].drink_source: missing; allowed: text; came: nothing"),
    ],
)
def test_a_rule_that_cannot_be_used_is_refused(changes: dict[str, Any], text: str) -> None:
    """The refusal names the file, the row, the key, what is allowed and what came."""
    assert refusal(rows_with(a_rule(**changes))) == f"doses.toml, {text}"


def test_a_second_rule_of_the_same_name_is_refused() -> None:
    """A name must mean one dose."""
    assert refusal(rows_with(a_rule(), a_rule(cap_g=50))) == (
        "doses.toml, rule[2].id: a second rule of this name; allowed: each id once; came: own"
    )


@pytest.mark.parametrize(
    ("weighing", "text"),
    [
        (None, "weighing: missing; allowed: a table [weighing]; came: nothing"),
        ({"share": 1}, ("weighing.share: unknown key; allowed: share_pct, least_g, source or "
         "provenance; came: share")),
        ({"share_pct": 20}, "weighing.share_pct: out of range; allowed: 0 to 10; came: 20"),
        ({"share_pct": 1}, "weighing.least_g: missing; allowed: 0 to 1; came: nothing"),
    ],
)  # fmt: skip
def test_a_tolerance_that_cannot_be_used_is_refused(
    weighing: dict[str, Any] | None, text: str
) -> None:
    """A wide tolerance would hide a wrong dose."""
    rows = rows_of("doses")
    del rows["weighing"]
    if weighing is not None:
        rows["weighing"] = weighing
    assert refusal(rows) == f"doses.toml, {text}"


def test_an_unknown_table_is_refused() -> None:
    """A misspelt table would be left out in silence."""
    assert refusal({**rows_of("doses"), "rules": []}) == (
        "doses.toml, rules: unknown key; allowed: rule or weighing; came: rules"
    )


def test_a_rule_fits_from_its_first_age_to_below_its_last() -> None:
    """17.99 years is a child, 18 is not."""
    rule = rule_of("lactose-child-2-20")
    assert [rule.fits_age(age) for age in (0.0, 17.99, 18.0)] == [True, True, False]
    assert rule_of("lactose-adult-25").fits_age(99.0)
