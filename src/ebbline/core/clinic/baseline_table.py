"""The rows of the decision on the fasting readings: its choices and rules in plain words."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.core.clinic.cells import PROVENANCES, Cells
from ebbline.core.clinic.life import FILE
from ebbline.core.curve.measures import BASELINE_RULES

CHOICES = ("go", "rinse and repeat", "walk and repeat", "rebook")
"""What may be decided; only ``go`` makes a baseline."""


@dataclass(frozen=True, slots=True)
class ChoiceRow:
    """One choice in plain words, with its caution and where that comes from."""

    id: str
    says: str
    caution: str
    source: str
    provenance: str


@dataclass(frozen=True, slots=True)
class BaselineTable:
    """The choices in the order of `CHOICES`, and each baseline rule in plain words."""

    choices: tuple[ChoiceRow, ...]
    rules: Mapping[str, str]


def parse_baseline(table: Mapping[str, Any]) -> BaselineTable:
    """Return the choices and rules that a table holds, or refuse it whole.

    Parameters
    ----------
    table : mapping
        What data/test_life.toml holds.

    Returns
    -------
    BaselineTable

    Raises
    ------
    SettingError
        With row, key, what was allowed and what came; also if a choice or rule has no row.
    """
    top = Cells(table, file=FILE, path="")
    choices: dict[str, ChoiceRow] = {}
    for row in top.rows("baseline_choice"):
        row.only(("id", "says", "caution", "source", "provenance"))
        name = _new_id(row, CHOICES, choices)
        choices[name] = ChoiceRow(
            id=name,
            says=row.text("says"),
            caution=row.text("caution"),
            source=row.text("source"),
            provenance=row.choice("provenance", PROVENANCES),
        )
    rules: dict[str, str] = {}
    for row in top.rows("baseline_rule"):
        row.only(("id", "says"))
        rules[_new_id(row, BASELINE_RULES, rules)] = row.text("says")
    _all_there(top, "baseline_choice", CHOICES, choices)
    _all_there(top, "baseline_rule", BASELINE_RULES, rules)
    return BaselineTable(choices=tuple(choices[name] for name in CHOICES), rules=rules)


def _new_id(row: Cells, allowed: Collection[str], earlier: Collection[str]) -> str:
    name = row.choice("id", allowed)
    if name in earlier:
        raise row.error("id", "given twice", "an id that no other row has", name)
    return name


def _all_there(top: Cells, key: str, wanted: Collection[str], found: Collection[str]) -> None:
    missing = [name for name in wanted if name not in found]
    if missing:
        raise top.error(
            key, "a row is missing", f"a row for each of {', '.join(wanted)}", f"no {missing[0]}"
        )
