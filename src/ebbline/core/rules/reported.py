"""The rise or level that a verdict is reported with, and the sample it belongs to."""

import math

import numpy as np

from ebbline.core.curve.curves import Curves
from ebbline.core.curve.measures import baseline_of
from ebbline.core.rules.codes import (
    KEY_MISSED,
    LEVEL,
    MEASURE_CODES,
    MET,
    NO_FASTING,
    NO_READING,
    RISE_OVER_BASELINE,
    STOPPED_EARLY,
)
from ebbline.core.rules.grammar import Statement
from ebbline.core.rules.rows import Float


def reported(
    statement: Statement,
    curves: Curves,
    *,
    result: int,
    reason: int,
    at: int,
    baseline_rule: int,
    minute_tolerance: float,
) -> tuple[float, int]:
    """Return the number that stands beside a verdict on one test.

    Parameters
    ----------
    statement : Statement
        The row.
    curves : Curves
        The test, a batch of one.
    result, reason, at : int
        Its verdict.
    baseline_rule : int
        A code of `ebbline.core.curve.chance`.
    minute_tolerance : float
        How late a sample may be, minutes.

    Returns
    -------
    value : float
        The rise or level at the sample that decided; where none did the highest one inside the
        window. ppm or points; NaN where there is none.
    at : int
        Index of its sample (where the test stopped early, of the last reading); -1 where there is
        none.
    """
    if reason in (NO_FASTING, NO_READING):
        return math.nan, -1
    minute = curves.minute[0]
    value = curves.series(statement.gas)[0]
    amounts = _amounts(minute, value, MEASURE_CODES[statement.measure], baseline_rule)
    if result == MET or reason == KEY_MISSED:
        return float(amounts[at]), at
    limit = math.inf
    if statement.by_minute is not None:
        limit = statement.by_minute + minute_tolerance
    inside = np.where(minute <= limit, amounts, np.nan)
    best = int(np.nanargmax(inside))
    return float(inside[best]), at if reason == STOPPED_EARLY else best


def _amounts(minute: Float, value: Float, measure: int, baseline_rule: int) -> Float:
    """Return what each sample counts as, NaN where it does not count."""
    if measure == LEVEL:
        return value
    if measure == RISE_OVER_BASELINE:
        rises = value - baseline_of(minute, value, baseline_rule)
    else:
        lowest = np.fmin.accumulate(value)
        rises = value - np.concatenate(([np.nan], lowest[:-1]))
    return np.where(minute > 0.0, rises, np.nan)
