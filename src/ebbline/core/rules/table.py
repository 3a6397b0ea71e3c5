"""Lay the rows of several rule sets out as arrays, for the loops that judge."""

from dataclasses import dataclass

import numpy as np

from ebbline.core.curve.curves import WEIGHTS
from ebbline.core.rules.codes import BASELINE, MEASURE_CODES
from ebbline.core.rules.grammar import RuleSet, Statement, Validity
from ebbline.core.rules.rows import Rows


@dataclass(frozen=True, slots=True)
class RuleTable:
    """Rows as arrays, with the names that the arrays leave out.

    ``statements`` and ``validity`` pair each row with its rule set, in the order of the arrays;
    ``findings`` names the rule set and the question of each finding; ``substrates`` are the
    rows of ``rows.of_substrate``.
    """

    rows: Rows
    statements: tuple[tuple[RuleSet, Statement], ...]
    validity: tuple[tuple[RuleSet, Validity], ...]
    findings: tuple[tuple[RuleSet, str], ...]
    substrates: tuple[str, ...]


def lay_out(rule_sets: tuple[RuleSet, ...], substrates: tuple[str, ...]) -> RuleTable:
    """Return the table of all rows, statements grouped by rule set and question.

    Parameters
    ----------
    rule_sets : tuple of RuleSet
        In the order in which results are shown.
    substrates : tuple of str
        Every substrate that a test may have.

    Returns
    -------
    RuleTable
    """
    findings: list[tuple[RuleSet, str]] = []
    statements: list[tuple[RuleSet, Statement]] = []
    finding_of: list[int] = []
    set_of_finding: list[int] = []
    for place, rule_set in enumerate(rule_sets):
        for question in dict.fromkeys(row.question for row in rule_set.statements):
            for row in rule_set.statements:
                if row.question == question:
                    statements.append((rule_set, row))
                    finding_of.append(len(findings))
            findings.append((rule_set, question))
            set_of_finding.append(place)
    validity = [(rule_set, row) for rule_set in rule_sets for row in rule_set.validity]
    set_of_validity = [place for place, rule_set in enumerate(rule_sets) for _ in rule_set.validity]
    both: list[tuple[RuleSet, Statement | Validity]] = [*statements, *validity]
    gases = list(dict.fromkeys(row.gas for _, row in both if row.gas != "symptoms"))
    keys = [_key(row) for _, row in both]
    events = {key: i for i, key in enumerate(dict.fromkeys(keys))}
    ends = [row.end_minute if isinstance(row, Statement) else np.nan for _, row in both]
    closed = [isinstance(row, Statement) and row.by_minute is not None for _, row in both]
    undecided = [
        row.undecided_from
        if isinstance(row, Statement) and row.undecided_from is not None
        else np.nan
        for _, row in both
    ]
    series = [gases.index(row.gas) if row.gas in gases else len(gases) for _, row in both]
    of_substrate = np.full((len(substrates), len(both)), -1, dtype=np.int64)
    uses = np.zeros((len(substrates), len(gases) + 1), dtype=np.bool_)
    for column, substrate in enumerate(substrates):
        covering = [place for place, (_, row) in enumerate(both) if substrate in row.substrates]
        of_substrate[column, : len(covering)] = covering
        uses[column, [series[place] for place in covering]] = True
    rows = Rows(
        series=np.array(series, dtype=np.int64),
        measure=np.array([_measure(row) for _, row in both], dtype=np.int64),
        strict=np.array([row.comparison == "more than" for _, row in both]),
        threshold=np.array([row.threshold for _, row in both], dtype=np.float64),
        end=np.array(ends, dtype=np.float64),
        closed=np.array(closed),
        undecided_from=np.array(undecided, dtype=np.float64),
        finding=np.array([*finding_of, *(-1 for _ in validity)], dtype=np.int64),
        rule_set=np.array(
            [*(set_of_finding[f] for f in finding_of), *set_of_validity], dtype=np.int64
        ),
        finding_set=np.array(set_of_finding, dtype=np.int64),
        event=np.array([events[key] for key in keys], dtype=np.int64),
        n_events=len(events),
        first_validity=len(statements),
        of_substrate=of_substrate,
        uses=uses,
        weights=np.array([*(WEIGHTS[gas] for gas in gases), (0.0, 0.0)], dtype=np.float64),
    )
    return RuleTable(rows, tuple(statements), tuple(validity), tuple(findings), substrates)


def _measure(row: Statement | Validity) -> int:
    return MEASURE_CODES[row.measure] if isinstance(row, Statement) else BASELINE


def _key(row: Statement | Validity) -> tuple[object, ...]:
    """Return what two rows must share to be one question to the curve."""
    if isinstance(row, Validity):
        return ("validity", row.gas, row.comparison, row.threshold)
    return (
        row.gas,
        row.measure,
        row.comparison,
        row.threshold,
        row.by_minute,
        row.end_minute,
        row.undecided_from,
    )
