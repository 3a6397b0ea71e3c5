"""The rows of rule sets as arrays, and the verdicts that they come to."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.float64]
Byte = NDArray[np.int8]
Short = NDArray[np.int16]
Whole = NDArray[np.int64]


class Rows(NamedTuple):
    """The rows of all rule sets in use, as arrays (n_rows,), ordered by finding.

    ``series`` is the index into ``weights`` (n_series, 2), whose last row stands for symptoms.
    ``end`` is the by-minute, or the minute that readings must reach where ``closed`` is false.
    ``undecided_from`` is NaN where there is no such band. Row r belongs to finding
    ``finding[r]``; validity rows come last, from ``first_validity`` on, and spoil the findings of
    their rule set ``rule_set[r]``;
    ``finding_set`` (n_findings,) is the rule set of each finding. Rows that ask the same of a
    curve share an ``event`` and are computed once. ``of_substrate`` (n_substrates, n_rows) lists
    the rows that cover each substrate, filled up with -1, and ``uses`` (n_substrates, n_series)
    says which series they need. ``finding`` is -1 for validity rows.
    """

    series: Whole
    measure: Whole
    strict: NDArray[np.bool_]
    threshold: Float
    end: Float
    closed: NDArray[np.bool_]
    undecided_from: Float
    finding: Whole
    rule_set: Whole
    finding_set: Whole
    event: Whole
    n_events: int
    first_validity: int
    weights: Float
    of_substrate: Whole
    uses: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Verdicts:
    """What the rows say of each test; arrays (n_tests, n_rows) unless said otherwise.

    ``result`` and ``reason`` hold the codes of `ebbline.core.rules.codes`. ``at`` is the sample
    that decided: the first crossing where met, the last reading where the test stopped early, the
    next crossing where the key sample was missed; -1 elsewhere. ``finding`` is
    (n_tests, n_findings). The rises and levels themselves are had from
    `ebbline.core.rules.reported`.
    """

    result: Byte
    reason: Byte
    at: Short
    finding: Byte


def unfilled_verdicts(n_tests: int, rows: Rows) -> Verdicts:
    """Return room for verdicts, not filled in yet.

    Parameters
    ----------
    n_tests : int
        How many tests.
    rows : Rows
        The rows that will judge them.

    Returns
    -------
    Verdicts
    """
    shape = (n_tests, len(rows.series))
    return Verdicts(
        result=np.empty(shape, dtype=np.int8),
        reason=np.empty(shape, dtype=np.int8),
        at=np.empty(shape, dtype=np.int16),
        finding=np.empty((n_tests, len(rows.finding_set)), dtype=np.int8),
    )
