"""The shipped rows of preparation, doses and weights, and copies of them to spoil."""

import copy
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import ebbline
from ebbline.core.clinic.dose_table import DoseRule, DoseTable, parse_doses
from ebbline.core.clinic.preparation_table import PreparationTable, parse_preparation
from ebbline.core.clinic.weight import WeightTable, parse_weights

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
