"""Whether a weight can be that of a person of this age, before a dose is computed from it.

Limits follow the spread of a growth reference, given as L, M and S by age (Cole TJ, Green PJ. Stat
Med 1992;11:1305-1319). Far from the median the formula runs away upwards, so distances are counted
there in halves of the way from the median to z = +2 or -2, the "modified z-score" by which CDC
finds implausible values in its 2000 growth charts. The limits of both sexes are joined: the wider
one counts, and the sex need not be known.

Pounds entered as kilograms fall outside the first band for 99 % of children of 6 years, 84 % at 9
and 72 % at 12; for few adults.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from ebbline.core.clinic.cells import PROVENANCES, Cells
from ebbline.core.errors import FieldError, SettingError

FILE = "weights.toml"

_SEXES = ("female", "male")


@dataclass(frozen=True, slots=True)
class SpreadRow:
    """L, M and S at one age: power, median and coefficient of variation of the weight."""

    age_months: float
    power: float
    median_kg: float
    spread: float


@dataclass(frozen=True, slots=True)
class ChildLimits:
    """Modified z-scores outside which to weigh again, and outside which no weight is taken."""

    again_low_z: float
    again_high_z: float
    never_low_z: float
    never_high_z: float


@dataclass(frozen=True, slots=True)
class WeightRange:
    """Weights outside which to weigh again, and outside which none is taken."""

    again_low_kg: float
    again_high_kg: float
    never_low_kg: float
    never_high_kg: float


@dataclass(frozen=True, slots=True)
class WeightTable:
    """What data/weights.toml holds: rows by sex in order of age, and the limits."""

    spread: Mapping[str, tuple[SpreadRow, ...]]
    child: ChildLimits
    adult_from_years: float
    adult: WeightRange


def parse_weights(table: Mapping[str, Any]) -> WeightTable:
    """Return the rows of data/weights.toml.

    Parameters
    ----------
    table : mapping
        What the TOML file holds.

    Returns
    -------
    WeightTable

    Raises
    ------
    SettingError
        If a row cannot be used, or the rows of a sex are not in order of age or do not reach from
        birth to the age from which adults count.
    """
    cells = Cells(table, file=FILE, path="")
    cells.only(("child", "adult", "spread"))
    adult = cells.table("adult")
    _only_with_source(
        adult, ("from_years", "again_low_kg", "again_high_kg", "never_low_kg", "never_high_kg")
    )
    adult_from_years = adult.number("from_years", 1, 25)
    never_low_kg = adult.number("never_low_kg", 1, 100)
    again_low_kg = adult.number("again_low_kg", never_low_kg, 100)
    again_high_kg = adult.number("again_high_kg", again_low_kg, 700)
    return WeightTable(
        spread=_spread(cells.table("spread"), adult_from_years),
        child=_child(cells.table("child")),
        adult_from_years=adult_from_years,
        adult=WeightRange(
            again_low_kg=again_low_kg,
            again_high_kg=again_high_kg,
            never_low_kg=never_low_kg,
            never_high_kg=adult.number("never_high_kg", again_high_kg, 700),
        ),
    )


def limits_for_age(age_years: float, table: WeightTable) -> WeightRange:
    """Return the limits at one age; between two rows L, M and S are taken on a straight line.

    Parameters
    ----------
    age_years : float
        Age.
    table : WeightTable
        Rows.

    Returns
    -------
    WeightRange

    Raises
    ------
    FieldError
        If it is not an age.
    """
    if not 0 <= age_years <= 150:
        raise FieldError(
            field="age_years", wrong="not an age", allowed="0 to 150", came=f"{age_years:g}"
        )
    if age_years >= table.adult_from_years:
        return table.adult
    rows = [_at_age(table.spread[sex], 12 * age_years) for sex in _SEXES]
    limits = table.child
    return WeightRange(
        again_low_kg=min(weight_at_modified_z(row, limits.again_low_z) for row in rows),
        again_high_kg=max(weight_at_modified_z(row, limits.again_high_z) for row in rows),
        never_low_kg=min(weight_at_modified_z(row, limits.never_low_z) for row in rows),
        never_high_kg=max(weight_at_modified_z(row, limits.never_high_z) for row in rows),
    )


def check_weight(
    weight_kg: float | None, *, age_years: float, table: WeightTable, weighed_again: bool = False
) -> float:
    """Return a weight that can be that of a person of this age.

    Parameters
    ----------
    weight_kg : float or None
        Weight; None where none was entered.
    age_years : float
        Age on the day.
    table : WeightTable
        Rows.
    weighed_again : bool
        Whether a second weighing gave the same. It opens the range of rare weights; a weight that
        no one of this age has stays refused.

    Returns
    -------
    float

    Raises
    ------
    FieldError
        If the weight is missing, no weight, rare and not weighed again, or implausible.
    """
    limits = limits_for_age(age_years, table)
    never = _range_in_words(limits.never_low_kg, limits.never_high_kg, age_years)
    if weight_kg is None:
        raise FieldError(field="weight_kg", wrong="missing", allowed=never, came="nothing")
    # What is not a number is refused here too: no comparison with it holds.
    if not limits.never_low_kg <= weight_kg <= limits.never_high_kg:
        raise FieldError(
            field="weight_kg",
            wrong="implausible for this age (was it in pounds?)",
            allowed=never,
            came=f"{weight_kg:g}",
        )
    if not weighed_again and not limits.again_low_kg <= weight_kg <= limits.again_high_kg:
        again = _range_in_words(limits.again_low_kg, limits.again_high_kg, age_years)
        raise FieldError(
            field="weight_kg",
            wrong="rare for this age (was it in pounds?)",
            allowed=f"{again}, or a weight that was weighed again",
            came=f"{weight_kg:g}",
        )
    return weight_kg


def weight_at_modified_z(row: SpreadRow, z: float) -> float:
    """Return the weight at a modified z-score.

    Parameters
    ----------
    row : SpreadRow
        L, M and S.
    z : float
        Distance from the median, in halves of the way to z = 2 on its side.

    Returns
    -------
    float
        kg.
    """
    way = abs(weight_at_z(row, math.copysign(2.0, z)) - row.median_kg) / 2
    return row.median_kg + z * way


def weight_at_z(row: SpreadRow, z: float) -> float:
    """Return the weight at a z-score, ``M (1 + L S z)^(1/L)``, or ``M exp(S z)`` where L is 0.

    Parameters
    ----------
    row : SpreadRow
        L, M and S.
    z : float
        Z-score; the formula is meant for -2 to 2.

    Returns
    -------
    float
        kg.
    """
    if row.power == 0:
        return row.median_kg * math.exp(row.spread * z)
    return float(row.median_kg * (1 + row.power * row.spread * z) ** (1 / row.power))


def _range_in_words(low_kg: float, high_kg: float, age_years: float) -> str:
    return f"{low_kg:.1f} to {high_kg:.1f} kg at {age_years:g} years"


def _at_age(rows: tuple[SpreadRow, ...], age_months: float) -> SpreadRow:
    """Return L, M and S at an age that the rows enclose."""
    before, after = next(
        (one, other) for one, other in pairwise(rows) if age_months <= other.age_months
    )
    share = (age_months - before.age_months) / (after.age_months - before.age_months)
    return SpreadRow(
        age_months=age_months,
        power=before.power + share * (after.power - before.power),
        median_kg=before.median_kg + share * (after.median_kg - before.median_kg),
        spread=before.spread + share * (after.spread - before.spread),
    )


def _only_with_source(cells: Cells, keys: tuple[str, ...]) -> None:
    """Refuse a table that has other keys than these, or does not say where they come from."""
    cells.only((*keys, "source", "provenance"))
    cells.text("source")
    cells.choice("provenance", PROVENANCES)


def _child(cells: Cells) -> ChildLimits:
    _only_with_source(cells, ("again_low_z", "again_high_z", "never_low_z", "never_high_z"))
    never_low_z = cells.number("never_low_z", -6, -1)
    never_high_z = cells.number("never_high_z", 1, 12)
    return ChildLimits(
        again_low_z=cells.number("again_low_z", never_low_z, -1),
        again_high_z=cells.number("again_high_z", 1, never_high_z),
        never_low_z=never_low_z,
        never_high_z=never_high_z,
    )


def _spread(cells: Cells, adult_from_years: float) -> dict[str, tuple[SpreadRow, ...]]:
    _only_with_source(cells, _SEXES)
    return {sex: _spread_of(cells, sex, adult_from_years) for sex in _SEXES}


def _spread_of(cells: Cells, sex: str, adult_from_years: float) -> tuple[SpreadRow, ...]:
    rows: list[SpreadRow] = []
    for row in cells.rows(sex):
        row.only(("age_months", "power", "median_kg", "spread"))
        age_months = row.number("age_months", 0, 300)
        if rows and age_months <= rows[-1].age_months:
            raise row.error(
                "age_months",
                "not in order of age",
                f"more than {rows[-1].age_months:g}",
                f"{age_months:g}",
            )
        power = row.number("power", -3, 3)
        spread = row.number("spread", 0.01, 0.3)
        if abs(2 * power * spread) >= 1:
            raise row.error(
                "power", "no weight at z = 2", f"less than {0.5 / spread:.3g} in size", f"{power:g}"
            )
        median_kg = row.number("median_kg", 1, 200)
        rows.append(
            SpreadRow(age_months=age_months, power=power, median_kg=median_kg, spread=spread)
        )
    ages = [row.age_months for row in rows]
    if not ages or ages[0] != 0 or ages[-1] < 12 * adult_from_years or len(ages) < 2:
        raise SettingError(
            f"{cells.file}, {cells.path}.{sex}: the rows do not reach far enough; allowed: from 0 "
            f"to {12 * adult_from_years:g} months; came: "
            + (f"{ages[0]:g} to {ages[-1]:g} months" if ages else "no row")
        )
    return tuple(rows)
