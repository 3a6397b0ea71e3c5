from itertools import pairwise
from typing import Any

import pytest

from ebbline.core.clinic.weight import (
    SpreadRow,
    WeightRange,
    check_weight,
    limits_for_age,
    parse_weights,
    weight_at_modified_z,
    weight_at_z,
)
from ebbline.core.errors import FieldError, SettingError
from tests.core.clinic.prepared_rows import WEIGHTS, rows_of


def refusal(rows: dict[str, Any]) -> str:
    """Return the text with which rows are refused."""
    with pytest.raises(SettingError) as caught:
        parse_weights(rows)
    return str(caught.value)


def refused(weight: float | None, *, age: float, again: bool = False) -> str:
    """Return the text with which a weight is refused."""
    with pytest.raises(FieldError) as caught:
        check_weight(weight, age_years=age, table=WEIGHTS, weighed_again=again)
    return str(caught.value)


def rows_with(table: str, **changes: Any) -> dict[str, Any]:
    """Return the shipped rows with keys of one table changed; None takes a key out."""
    rows = rows_of("weights")
    rows[table].update(changes)
    rows[table] = {key: value for key, value in rows[table].items() if value is not None}
    return rows


def test_a_usual_weight_is_returned_as_it_came() -> None:
    """Ben Shore, invented, 6 years, and a grown-up."""
    assert check_weight(20.5, age_years=6.0, table=WEIGHTS) == 20.5
    assert check_weight(71.0, age_years=40.0, table=WEIGHTS) == 71.0


def test_a_missing_weight_is_refused_with_the_limits() -> None:
    """Nothing is assumed."""
    assert refused(None, age=6.0) == (
        "weight_kg: missing; allowed: 9.0 to 57.7 kg at 6 years; came: nothing"
    )


@pytest.mark.parametrize("weight", [0.0, -20.5, 205.0, 2.05, float("nan"), float("inf")])
@pytest.mark.parametrize("again", [True, False])
def test_an_implausible_weight_is_refused_however_often_it_was_weighed(
    weight: float, again: bool
) -> None:
    """A slipped digit at 6 years; what is no number too."""
    assert refused(weight, age=6.0, again=again) == (
        "weight_kg: implausible for this age (was it in pounds?); allowed: 9.0 to 57.7 kg at 6 "
        f"years; came: {weight:g}"
    )


@pytest.mark.parametrize("weight", [12.0, 45.0])
def test_a_rare_weight_passes_only_when_it_was_weighed_again(weight: float) -> None:
    """A child may be that light or heavy, and then has a test too."""
    assert refused(weight, age=6.0) == (
        "weight_kg: rare for this age (was it in pounds?); allowed: 13.5 to 34.3 kg at 6 years, "
        f"or a weight that was weighed again; came: {weight:g}"
    )
    assert check_weight(weight, age_years=6.0, table=WEIGHTS, weighed_again=True) == weight


def test_an_adult_has_wide_limits() -> None:
    """From 20 years; common practice, no source."""
    assert limits_for_age(20.0, WEIGHTS) == limits_for_age(90.0, WEIGHTS) == WeightRange(
        again_low_kg=35, again_high_kg=200, never_low_kg=20, never_high_kg=400
    )  # fmt: skip
    assert "implausible" in refused(19.9, age=40.0, again=True)
    assert "rare" in refused(34.9, age=40.0)
    assert check_weight(34.9, age_years=40.0, table=WEIGHTS, weighed_again=True) == 34.9


@pytest.mark.parametrize("age", [-0.1, 151.0, float("nan"), float("inf")])
def test_an_age_that_cannot_be_is_refused(age: float) -> None:
    """No limits without an age."""
    with pytest.raises(FieldError) as caught:
        check_weight(20.0, age_years=age, table=WEIGHTS)
    assert str(caught.value) == f"age_years: not an age; allowed: 0 to 150; came: {age:g}"


def test_the_limits_enclose_each_other_at_every_age() -> None:
    """From birth to 20 years, month by month; the lower ones stay above nothing."""
    for month in range(241):
        one = limits_for_age(month / 12, WEIGHTS)
        assert 0 < one.never_low_kg < one.again_low_kg < one.again_high_kg < one.never_high_kg


def test_limits_are_those_of_the_wider_sex() -> None:
    """At 6 years and half a month girls spread wider above, and below."""
    rows = {sex: WEIGHTS.spread[sex][13] for sex in ("female", "male")}
    assert {row.age_months for row in rows.values()} == {72.5}
    highs = {sex: weight_at_modified_z(row, 3.0) for sex, row in rows.items()}
    lows = {sex: weight_at_modified_z(row, -3.0) for sex, row in rows.items()}
    found = limits_for_age(72.5 / 12, WEIGHTS)
    assert found.again_high_kg == pytest.approx(max(highs.values()), rel=1e-12)
    assert found.again_low_kg == pytest.approx(min(lows.values()), rel=1e-12)


def test_between_two_rows_the_limits_lie_between_theirs() -> None:
    """L, M and S on a straight line."""
    rows = WEIGHTS.spread["male"]
    for before, after in pairwise(rows[3:]):
        middle = limits_for_age((before.age_months + after.age_months) / 24, WEIGHTS)
        low = limits_for_age(before.age_months / 12, WEIGHTS)
        high = (
            WEIGHTS.adult
            if after.age_months >= 240
            else limits_for_age(after.age_months / 12, WEIGHTS)
        )
        assert low.again_high_kg < middle.again_high_kg < high.again_high_kg


def test_the_formula_is_that_of_a_lognormal_where_the_power_is_nought() -> None:
    """And close to it nearby: M exp(S z) is the limit of M (1 + L S z)^(1/L)."""
    none = SpreadRow(age_months=1.0, power=0.0, median_kg=10.0, spread=0.1)
    near = SpreadRow(age_months=1.0, power=1e-9, median_kg=10.0, spread=0.1)
    assert weight_at_z(none, 1.0) == pytest.approx(10 * 1.1051709180756477, rel=1e-12)
    assert weight_at_z(near, 1.0) == pytest.approx(weight_at_z(none, 1.0), rel=1e-6)


def test_a_modified_z_score_counts_in_halves_of_the_way_to_two() -> None:
    """At 2 it is the z-score itself, at 0 the median, at 6 three times the way."""
    row = WEIGHTS.spread["male"][13]
    assert weight_at_modified_z(row, 0.0) == row.median_kg
    for side in (2.0, -2.0):
        assert weight_at_modified_z(row, side) == pytest.approx(weight_at_z(row, side), rel=1e-12)
        way = weight_at_z(row, side) - row.median_kg
        assert weight_at_modified_z(row, 3 * side) == pytest.approx(row.median_kg + 3 * way)


@pytest.mark.parametrize(
    ("table", "changes", "text"),
    [
        (
            "child",
            {"low": 1},
            (
                "child.low: unknown key; allowed: again_low_z, again_high_z, never_low_z, "
                "never_high_z, source or provenance; came: low"
            ),
        ),
        ("child", {"again_low_z": None}, ("child.again_low_z: missing; allowed: -5 to -1; came: "
         "nothing")),
        ("child", {"again_low_z": -6}, ("child.again_low_z: out of range; allowed: -5 to -1; "
         "came: -6")),
        ("child", {"again_high_z": 9},
         "child.again_high_z: out of range; allowed: 1 to 8; came: 9"),
        ("child", {"never_low_z": -7}, ("child.never_low_z: out of range; allowed: -6 to -1; "
         "came: -7")),
        ("child", {"never_high_z": 13}, ("child.never_high_z: out of range; allowed: 1 to 12; "
         "came: 13")),
        ("child", {"source": None}, "child.source: missing; allowed: text; came: nothing"),
        (
            "child",
            {"provenance": "rumour"},
            (
                "child.provenance: not one of the choices; allowed: read, memory or common "
                "practice; came: 'rumour'"
            ),
        ),
        ("adult", {"from_years": 30}, "adult.from_years: out of range; allowed: 1 to 25; came: 30"),
        ("adult", {"high": 1}, ("adult.high: unknown key; allowed: from_years, again_low_kg, "
         "again_high_kg, never_low_kg, never_high_kg, source or provenance; came: high")),
        ("adult", {"again_low_kg": 10}, ("adult.again_low_kg: out of range; allowed: 20 to 100; "
         "came: 10")),
        ("adult", {"again_high_kg": 30}, ("adult.again_high_kg: out of range; allowed: 35 to 700; "
         "came: 30")),
        ("adult", {"never_low_kg": 0}, ("adult.never_low_kg: out of range; allowed: 1 to 100; "
         "came: 0")),
        ("adult", {"never_high_kg": 100},
         ("adult.never_high_kg: out of range; allowed: 200 to 700; "
         "came: 100")),
        ("spread", {"other": []}, ("spread.other: unknown key; allowed: female, male, source "
         "or provenance; came: other")),
        ("spread", {"male": None}, "spread.male: missing; allowed: [[male]] rows; came: nothing"),
        ("spread", {"male": []}, ("spread.male: the rows do not reach far enough; allowed: from 0 "
         "to 240 months; came: no row")),
    ],
)  # fmt: skip
def test_rows_that_cannot_be_used_are_refused(
    table: str, changes: dict[str, Any], text: str
) -> None:
    """The refusal names the file, the row, the key, what is allowed and what came."""
    assert refusal(rows_with(table, **changes)) == f"weights.toml, {text}"


@pytest.mark.parametrize(
    ("place", "changes", "text"),
    [
        (1, {"age_months": 0}, ("male[2].age_months: not in order of age; allowed: more than 0; "
         "came: 0")),
        (0, {"power": 4}, "male[1].power: out of range; allowed: -3 to 3; came: 4"),
        (0, {"median_kg": 0}, "male[1].median_kg: out of range; allowed: 1 to 200; came: 0"),
        (0, {"spread": 0}, "male[1].spread: out of range; allowed: 0.01 to 0.3; came: 0"),
        (0, {"power": -2.5, "spread": 0.25}, ("male[1].power: no weight at z = 2; allowed: less "
         "than 2 in size; came: -2.5")),
        (0, {"sex": "x"}, ("male[1].sex: unknown key; allowed: age_months, power, median_kg or "
         "spread; came: sex")),
        (0, {"age_months": 0.25}, ("spread.male: the rows do not reach far enough; allowed: from 0 "
         "to 240 months; came: 0.25 to 240 months")),
        (-1, {"age_months": 239}, ("spread.male: the rows do not reach far enough; allowed: from 0 "
         "to 240 months; came: 0 to 239 months")),
    ],
)  # fmt: skip
def test_a_row_of_the_spread_that_cannot_be_used_is_refused(
    place: int, changes: dict[str, Any], text: str
) -> None:
    """Rows are in order and reach from birth to where adults begin."""
    rows = rows_of("weights")
    rows["spread"]["male"][place].update(changes)
    assert refusal(rows) == f"weights.toml, {text}"


def test_an_unknown_table_is_refused() -> None:
    """A misspelt table would be left out in silence."""
    assert refusal({**rows_of("weights"), "adults": {}}) == (
        "weights.toml, adults: unknown key; allowed: child, adult or spread; came: adults"
    )
