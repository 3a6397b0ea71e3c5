"""What the two pandas peers share: how statements make a finding, for tests of one substrate.

The peers know the rules as rows and as the reference describes them, and nothing of the engine.
A statement's answer is two columns of True and False, met and cannot be judged, and a third where
a rule set leaves a band open.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import NamedTuple, TypeVar

import numpy as np
import pandas as pd

from ebbline.core.curve.curves import WEIGHTS
from ebbline.core.rules.grammar import Statement, Validity
from ebbline.core.rules.table import RuleTable

MET, NOT_MET, CANNOT_BE_JUDGED, NOT_ASKED = 1, 0, 2, 3
POSITIVE, NEGATIVE, INDETERMINATE, INVALID = 1, 0, 2, 4

# Differences of decimals are not exact in binary; a rise of exactly 20 must count as 20.
ROUNDING = 1e-9


class Answer(NamedTuple):
    """What one statement says of the tests of one substrate."""

    met: "pd.Series[bool]"
    cannot: "pd.Series[bool]"
    undecided: "pd.Series[bool] | None"


@dataclass(frozen=True, slots=True)
class Answers:
    """Results (tests by rows, statements first, then validity) and findings, as codes."""

    results: pd.DataFrame
    findings: pd.DataFrame


def bar(row: Statement | Validity) -> float:
    """Return the value that meets a threshold."""
    return row.threshold + (ROUNDING if row.comparison == "more than" else -ROUNDING)


Table = TypeVar("Table", "pd.Series[float]", pd.DataFrame)


def reach(minute: Table, planned: Table) -> Table:
    """Return how far each sample reaches: a planned one up to 5 min early reaches its plan."""
    latest = minute + 5.0
    early = planned.where(planned <= latest, latest)
    return early.where(early > minute, minute)


def weights(gas: str) -> tuple[float, float]:
    """Return how hydrogen and methane count in a series."""
    return WEIGHTS[gas]


def answer_rows(
    table: RuleTable,
    substrate: str,
    tests: "pd.Index[int]",
    ask: Callable[[Statement], Answer],
    spoils: Callable[[Validity], "pd.Series[bool]"],
) -> Answers:
    """Put every row to the tests of one substrate, equal rows once, and draw the findings.

    Parameters
    ----------
    table : RuleTable
        The rule sets' rows.
    substrate : str
        The substrate of these tests.
    tests : Index
        Their numbers, in the order of what the two callables return.
    ask, spoils : callable
        Judge a statement, and say where a validity row is met.

    Returns
    -------
    Answers
    """
    none_asked = np.full(len(tests), NOT_ASKED, dtype=np.int8)
    results: list[np.ndarray] = []
    answers: dict[tuple[object, ...], Answer] = {}
    codes: dict[tuple[object, ...], np.ndarray] = {}
    of_finding: dict[tuple[str, str], list[Answer]] = {}
    for rule_set, row in table.statements:
        if substrate not in row.substrates:
            results.append(none_asked)
            continue
        key = (row.gas, row.measure, row.comparison, row.threshold, row.by_minute,
               row.end_minute, row.undecided_from)  # fmt: skip
        if key not in answers:
            answers[key] = ask(row)
            codes[key] = np.select(
                [answers[key].met, answers[key].cannot], [MET, CANNOT_BE_JUDGED], NOT_MET
            ).astype(np.int8)
        results.append(codes[key])
        of_finding.setdefault((rule_set.id, row.question), []).append(answers[key])
    spoilt: dict[str, pd.Series[bool]] = {}
    for rule_set, validity in table.validity:
        if substrate not in validity.substrates:
            results.append(none_asked)
            continue
        met = spoils(validity)
        results.append(met.to_numpy().astype(np.int8))
        spoilt[rule_set.id] = spoilt[rule_set.id] | met if rule_set.id in spoilt else met
    findings = [
        _finding(of_finding[owner.id, question], spoilt.get(owner.id))
        if (owner.id, question) in of_finding
        else none_asked
        for owner, question in table.findings
    ]
    return Answers(
        pd.DataFrame(dict(enumerate(results)), index=tests),
        pd.DataFrame(dict(enumerate(findings)), index=tests),
    )


def gather(parts: list[Answers], tests: "pd.Index[int]") -> Answers:
    """Return the answers for all substrates, in the order of the tests."""
    return Answers(
        pd.concat([part.results for part in parts]).reindex(tests),
        pd.concat([part.findings for part in parts]).reindex(tests),
    )


def _finding(answers: list[Answer], spoilt: "pd.Series[bool] | None") -> np.ndarray:
    """Return the codes of one question of one rule set."""
    met = reduce(or_, [answer.met for answer in answers])
    still_open = reduce(
        or_,
        [a.cannot if a.undecided is None else a.cannot | a.undecided for a in answers],
    )
    conditions = [met, still_open]
    values = [POSITIVE, INDETERMINATE]
    if spoilt is not None:
        conditions.insert(0, spoilt)
        values.insert(0, INVALID)
    return np.select(conditions, values, NEGATIVE).astype(np.int8)
