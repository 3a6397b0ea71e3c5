"""Rows of doses: how much of a substrate, for whom, in how much drink, and by which source."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from ebbline.core.clinic.cells import PROVENANCES, Cells

FILE = "doses.toml"

Who = Literal["adult", "child"]

_RULE_KEYS = (
    "id", "title", "substrate", "who", "from_years", "below_years", "dose_g", "g_per_kg", "cap_g",
    "concentration_pct", "volume_ml", "resolution_g", "source", "provenance", "drink_source",
    "drink_provenance",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class FixedAmount:
    """The same dose for everybody."""

    dose_g: float


@dataclass(frozen=True, slots=True)
class AmountByWeight:
    """A dose by weight that never goes above its cap."""

    g_per_kg: float
    cap_g: float


@dataclass(frozen=True, slots=True)
class DrinkByConcentration:
    """Grams in 100 ml of the drink as it is drunk."""

    concentration_pct: float


@dataclass(frozen=True, slots=True)
class DrinkByVolume:
    """Volume of the drink as it is drunk."""

    volume_ml: float


@dataclass(frozen=True, slots=True)
class DoseRule:
    """One way of dosing one substrate; ``resolution_g`` is what the balance shows."""

    id: str
    title: str
    substrate: str
    who: Who
    from_years: float
    below_years: float | None
    amount: FixedAmount | AmountByWeight
    drink: DrinkByConcentration | DrinkByVolume
    resolution_g: float
    source: str
    provenance: str
    drink_source: str
    drink_provenance: str

    @property
    def checked(self) -> bool:
        """Whether the dose was read in its source."""
        return self.provenance == "read"

    def fits_age(self, age_years: float) -> bool:
        """Return whether the rule is for this age."""
        return self.from_years <= age_years and (
            self.below_years is None or age_years < self.below_years
        )


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a dose as weighed out may be off: the larger of a share of it and a mass."""

    share_pct: float
    least_g: float
    source: str
    provenance: str


@dataclass(frozen=True, slots=True)
class DoseTable:
    """What data/doses.toml holds, in the order of the file."""

    rules: tuple[DoseRule, ...]
    tolerance: Tolerance


def parse_doses(table: Mapping[str, Any], *, substrates: tuple[str, ...]) -> DoseTable:
    """Return the rows of data/doses.toml.

    Parameters
    ----------
    table : mapping
        What the TOML file holds.
    substrates : tuple of str
        Ids of the substrates that a test may use.

    Returns
    -------
    DoseTable

    Raises
    ------
    SettingError
        If a row cannot be used.
    """
    cells = Cells(table, file=FILE, path="")
    cells.only(("rule", "weighing"))
    rules: list[DoseRule] = []
    for row in cells.rows("rule"):
        rule = _rule(row, substrates)
        if any(rule.id == other.id for other in rules):
            raise row.error("id", "a second rule of this name", "each id once", rule.id)
        rules.append(rule)
    return DoseTable(tuple(rules), _tolerance(cells.table("weighing")))


def rules_for(table: DoseTable, *, substrate: str, age_years: float) -> tuple[DoseRule, ...]:
    """Return the rules that a person may choose from; none of them is chosen by itself.

    Parameters
    ----------
    table : DoseTable
        Rows.
    substrate : str
        Id of the substrate.
    age_years : float
        Age on the day.

    Returns
    -------
    tuple of DoseRule
        In the order of the file; empty where no rule fits.
    """
    return tuple(
        rule for rule in table.rules if rule.substrate == substrate and rule.fits_age(age_years)
    )


def _rule(row: Cells, substrates: tuple[str, ...]) -> DoseRule:
    row.only(_RULE_KEYS)
    start = row.number("from_years", 0, 150)
    end = row.number("below_years", start, 150) if row.has("below_years") else None
    if end == start:
        raise row.error("below_years", "no age is left", f"more than {start:g}", f"{end:g}")
    return DoseRule(
        id=row.text("id"),
        title=row.text("title"),
        substrate=row.choice("substrate", substrates),
        who="adult" if row.choice("who", ("adult", "child")) == "adult" else "child",
        from_years=start,
        below_years=end,
        amount=_amount(row),
        drink=_drink(row),
        resolution_g=row.number("resolution_g", 0.001, 1),
        source=row.text("source"),
        provenance=row.choice("provenance", PROVENANCES),
        drink_source=row.text("drink_source"),
        drink_provenance=row.choice("drink_provenance", PROVENANCES),
    )


def _amount(row: Cells) -> FixedAmount | AmountByWeight:
    """Return the amount; a dose by weight without its cap is refused."""
    by_weight = row.has("g_per_kg") or row.has("cap_g")
    if row.has("dose_g") == by_weight:
        came = "both" if by_weight else "nothing"
        raise row.error("dose_g", "not one dose", "dose_g, or g_per_kg with cap_g", came)
    if not by_weight:
        return FixedAmount(row.number("dose_g", 0.1, 150))
    return AmountByWeight(row.number("g_per_kg", 0.05, 5), row.number("cap_g", 1, 150))


def _drink(row: Cells) -> DrinkByConcentration | DrinkByVolume:
    if row.has("concentration_pct") == row.has("volume_ml"):
        came = "both" if row.has("volume_ml") else "nothing"
        raise row.error("volume_ml", "not one drink", "concentration_pct or volume_ml", came)
    if row.has("volume_ml"):
        return DrinkByVolume(row.number("volume_ml", 10, 1000))
    return DrinkByConcentration(row.number("concentration_pct", 1, 100))


def _tolerance(cells: Cells) -> Tolerance:
    cells.only(("share_pct", "least_g", "source", "provenance"))
    return Tolerance(
        share_pct=cells.number("share_pct", 0, 10),
        least_g=cells.number("least_g", 0, 1),
        source=cells.text("source"),
        provenance=cells.choice("provenance", PROVENANCES),
    )
