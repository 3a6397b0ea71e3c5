"""Rows and cases that the tests of the rules share; every value is invented."""

from typing import Any

from ebbline.core.rules.grammar import RuleSet, Statement
from tests.helpers import rule_set, statement_row, without


def symptom_row(**changes: Any) -> dict[str, Any]:
    """Return a row on symptoms: a rise of 2 points, scores to 90 min."""
    row = statement_row(
        gas="symptoms",
        question="symptoms-provoked",
        measure="level",
        threshold_points=2,
        needs_minutes=90,
    )
    return without(row, "threshold_ppm", **changes)


def a_statement(**changes: Any) -> Statement:
    """Return one statement of a rule set."""
    return rule_set(statement_row(**changes)).statements[0]


def overgrowth(**changes: Any) -> RuleSet:
    """Return a rule set on overgrowth by 90 min, for glucose and lactulose."""
    row = statement_row(
        question="bacterial-overgrowth", substrates=["glucose", "lactulose"], by_minute=90
    )
    return rule_set(row | changes, id="overgrowth")
