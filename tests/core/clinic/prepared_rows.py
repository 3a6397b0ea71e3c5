"""The shipped rows of preparation, doses and weights, and copies of them to spoil."""

import copy
import tomllib
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

import ebbline
from ebbline.core.clinic.dose_table import DoseRule, DoseTable, parse_doses
from ebbline.core.clinic.preparation import PlannedItem, plan_preparation
from ebbline.core.clinic.preparation_table import PreparationTable, parse_preparation
from ebbline.core.clinic.weight import WeightTable, parse_weights
from ebbline.core.errors import SettingError

DATA = Path(ebbline.__file__).parent / "data"


@cache
def _loaded(name: str) -> dict[str, Any]:
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def rows_of(name: str) -> dict[str, Any]:
    """Return what a file under data/ holds, to change at will."""
    return copy.deepcopy(_loaded(name))


SUBSTRATES = tuple(_loaded("substrates"))
GUIDANCES = tuple(_loaded("settings")["rule_sets"])


def preparation_of(rows: dict[str, Any]) -> PreparationTable:
    """Parse rows of preparation with the shipped substrates and rule sets."""
    return parse_preparation(rows, substrates=SUBSTRATES, guidances=GUIDANCES)


def doses_of(rows: dict[str, Any]) -> DoseTable:
    """Parse rows of doses with the shipped substrates."""
    return parse_doses(rows, substrates=SUBSTRATES)


PREPARATION = preparation_of(rows_of("preparation"))
DOSES = doses_of(rows_of("doses"))
WEIGHTS: WeightTable = parse_weights(rows_of("weights"))


def rule_of(name: str) -> DoseRule:
    """Return a shipped dose rule by its id."""
    (rule,) = [rule for rule in DOSES.rules if rule.id == name]
    return rule


def an_item(**changes: Any) -> dict[str, Any]:
    """Return one good row with some keys changed; None takes a key out."""
    row: dict[str, Any] = {
        "id": "antibiotics",
        "tells": "From {date}: none.",
        "before": {"weeks": 4},
        "answer": "date",
        "asks": "Any since {date}?",
        "kept_when": "no",
        "last": "the last one was on",
        "guidance": ["service"],
        "source": "invented",
        "provenance": "common practice",
    }
    row.update(changes)
    return {key: value for key, value in row.items() if value is not None}


def rows_with(*items: dict[str, Any]) -> dict[str, Any]:
    """Return the shipped rows with other items."""
    return {**rows_of("preparation"), "item": list(items)}


def refused_rows(rows: dict[str, Any]) -> str:
    """Return the text with which rows are refused."""
    with pytest.raises(SettingError) as caught:
        preparation_of(rows)
    return str(caught.value)


LONDON = ZoneInfo("Europe/London")
AT = datetime(2026, 11, 27, 9, 0, tzinfo=LONDON)
CONSENSUS = "north-american-2017"


def planned(
    *,
    at: datetime = AT,
    substrate: str = "lactose",
    guidance: str = CONSENSUS,
    age: float | None = 40.0,
) -> tuple[PlannedItem, ...]:
    """Return the shipped plan of one invented appointment."""
    return plan_preparation(
        appointment=at,
        substrate=substrate,
        guidance=guidance,
        age_years=age,
        table=PREPARATION,
    )


def item_of(plan: tuple[PlannedItem, ...], name: str) -> PlannedItem:
    """Return one item of a plan by its id."""
    (one,) = [one for one in plan if one.item.id == name]
    return one
