"""Judge curves by the rows of rule sets: plain loops, one implementation for one test or many."""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ebbline.core.curve.curves import Curves
from ebbline.core.curve.measures import baseline_of
from ebbline.core.rules.codes import (
    BASELINE,
    CANNOT_BE_JUDGED,
    INDETERMINATE,
    INVALID,
    KEY_MISSED,
    LATE_COUNTED,
    LEVEL,
    MET,
    NEGATIVE,
    NO_FASTING,
    NO_READING,
    NOT_ASKED,
    NOT_MET,
    PLAIN,
    POSITIVE,
    RISE_OVER_BASELINE,
    RISE_OVER_LOWEST,
    STOPPED_EARLY,
    UNDECIDED,
)

Float = NDArray[np.float64]
Byte = NDArray[np.int8]
Short = NDArray[np.int16]
Whole = NDArray[np.int64]

# Readings are decimals, their differences are not exact in binary: 20.0 must be 20.
_ROUNDING = 1e-9


class Rows(NamedTuple):
    """The rows of all rule sets in use, as arrays (n_rows,), ordered by finding.

    ``series`` is the index into ``weights`` (n_series, 2), whose last row stands for symptoms.
    ``end`` is the by-minute, or the minute that readings must reach where ``closed`` is false.
    ``undecided_from`` is NaN where there is no such band. ``asked`` (n_rows, n_substrates) says
    which substrates a row covers. Row r belongs to finding ``finding[r]``; validity rows come
    last, from ``first_validity`` on, and spoil the findings of their rule set ``rule_set[r]``;
    ``finding_set`` (n_findings,) is the rule set of each finding. Rows that ask the same of a
    curve share an ``event`` and are computed once.
    """

    series: Whole
    measure: Whole
    strict: NDArray[np.bool_]
    threshold: Float
    end: Float
    closed: NDArray[np.bool_]
    undecided_from: Float
    asked: NDArray[np.bool_]
    finding: Whole
    rule_set: Whole
    finding_set: Whole
    event: Whole
    n_events: int
    first_validity: int
    weights: Float


@dataclass(frozen=True, slots=True)
class Verdicts:
    """What the rows say of each test; arrays (n_tests, n_rows) unless said otherwise.

    ``result`` and ``reason`` hold the codes of `ebbline.core.rules.codes`. ``value`` is the rise
    or level at sample ``at`` (-1: none): the first crossing where met, else the highest that
    counts, the last reading where the test stopped early, or the next crossing where the key
    sample was missed. ``finding`` is (n_tests, n_findings).
    """

    result: Byte
    reason: Byte
    value: Float
    at: Short
    finding: Byte


def empty_verdicts(n_tests: int, rows: Rows) -> Verdicts:
    """Return verdicts to be filled in, all `NOT_ASKED`.

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
        result=np.full(shape, NOT_ASKED, dtype=np.int8),
        reason=np.zeros(shape, dtype=np.int8),
        value=np.full(shape, np.nan),
        at=np.full(shape, -1, dtype=np.int16),
        finding=np.full((n_tests, len(rows.finding_set)), NOT_ASKED, dtype=np.int8),
    )


def judge(
    curves: Curves,
    rows: Rows,
    substrate: Whole,
    *,
    baseline_rule: int,
    minute_tolerance: float,
) -> Verdicts:
    """Judge every test by every row that covers its substrate.

    Parameters
    ----------
    curves : Curves
        The tests.
    rows : Rows
        The rule sets' rows.
    substrate : ndarray (n_tests,) of int
        Index of each test's substrate in ``rows.asked``.
    baseline_rule : int
        A code of `ebbline.core.curve.chance`.
    minute_tolerance : float
        How late a sample may be and still count for a by-minute, minutes.

    Returns
    -------
    Verdicts
    """
    verdicts = empty_verdicts(curves.n_tests, rows)
    judge_range(
        0, curves.n_tests, curves.minute, curves.planned_minute, curves.h2_ppm, curves.ch4_ppm,
        curves.series("symptoms"), rows, substrate, baseline_rule, minute_tolerance,
        verdicts.result, verdicts.reason, verdicts.value, verdicts.at, verdicts.finding,
    )  # fmt: skip
    return verdicts


def judge_range(
    start: int,
    stop: int,
    minute: Float,
    planned: Float,
    h2: Float,
    ch4: Float,
    symptoms: Float,
    rows: Rows,
    substrate: Whole,
    baseline_rule: int,
    tolerance: float,
    result: Byte,
    reason: Byte,
    value: Float,
    at: Short,
    finding: Byte,
) -> None:
    """Judge tests `start` to `stop`; the loop behind `judge`.

    Parameters
    ----------
    start, stop : int
        Which tests.
    minute, planned, h2, ch4, symptoms : ndarray (n_tests, n_samples)
        As in `Curves`.
    rows : Rows
        The rows.
    substrate : ndarray (n_tests,)
        Index into ``rows.asked``.
    baseline_rule : int
        A code of `ebbline.core.curve.chance`.
    tolerance : float
        Minutes.
    result, reason, value, at, finding : ndarray
        Written to; as in `Verdicts`.
    """
    n_rows = len(rows.series)
    n_series = rows.weights.shape[0]
    series = np.empty((n_series, minute.shape[1]))
    base = np.empty(n_series)
    done = np.empty(rows.n_events, dtype=np.int64)
    for test in range(start, stop):
        for s in range(n_series):
            fill_series(series[s], h2[test], ch4[test], symptoms[test], rows.weights[s])
            base[s] = baseline_of(minute[test], series[s], baseline_rule)
        done[:] = -1
        for row in range(n_rows):
            if not rows.asked[row, substrate[test]]:
                continue
            s = rows.series[row]
            twin = done[rows.event[row]]
            if twin >= 0 and row < rows.first_validity:
                result[test, row] = result[test, twin]
                reason[test, row] = reason[test, twin]
                value[test, row] = value[test, twin]
                at[test, row] = at[test, twin]
                continue
            done[rows.event[row]] = row
            result[test, row], reason[test, row], value[test, row], at[test, row] = judge_row(
                minute[test], planned[test], series[s], base[s], rows.measure[row],
                rows.strict[row], rows.threshold[row], rows.end[row], rows.closed[row],
                tolerance, rows.undecided_from[row],
            )  # fmt: skip
        gather_findings(rows, result[test], reason[test], finding[test])


def fill_series(out: Float, h2: Float, ch4: Float, symptoms: Float, weights: Float) -> None:
    """Write one series of one test into `out`.

    Parameters
    ----------
    out : ndarray (n_samples,)
        Written to, ppm or points.
    h2, ch4, symptoms : ndarray (n_samples,)
        The test, ppm and points.
    weights : ndarray (2,)
        What hydrogen and methane count; (0, 0) stands for symptoms.
    """
    for i in range(out.shape[0]):
        if weights[1] == 0.0:
            out[i] = h2[i] if weights[0] > 0.0 else symptoms[i]
        elif weights[0] == 0.0:
            out[i] = ch4[i]
        else:
            out[i] = weights[0] * h2[i] + weights[1] * ch4[i]


def judge_row(
    minute: Float,
    planned: Float,
    value: Float,
    base: float,
    measure: int,
    strict: bool,
    threshold: float,
    end: float,
    closed: bool,
    tolerance: float,
    undecided_from: float,
) -> tuple[int, int, float, int]:
    """Judge one curve by one row.

    Parameters
    ----------
    minute, planned : ndarray (n_samples,), minutes
        Actual and planned minutes.
    value : ndarray (n_samples,), ppm or points
        The row's series.
    base : float
        Its baseline, ppm; NaN where there is none.
    measure : int
        A code of `ebbline.core.rules.codes`.
    strict : bool
        Whether "more than" is asked, not "at least".
    threshold : float
        ppm or points.
    end : float
        By-minute, or the minute that readings must reach.
    closed : bool
        Whether it is a by-minute.
    tolerance : float
        How late a sample may be, minutes.
    undecided_from : float
        Where the undecided band begins, ppm; NaN without one.

    Returns
    -------
    result, reason : int
        Codes of `ebbline.core.rules.codes`.
    value : float
        Rise or level, ppm or points; NaN where there is none.
    at : int
        Index of the sample it belongs to; -1 where there is none.
    """
    if measure in (RISE_OVER_BASELINE, BASELINE) and base != base:
        return CANNOT_BE_JUDGED, NO_FASTING, math.nan, -1
    bar = threshold + _ROUNDING if strict else threshold - _ROUNDING
    if measure == BASELINE:
        return (MET if base >= bar else NOT_MET), PLAIN, base, -1
    limit = end + tolerance if closed else math.inf
    best = -math.inf
    best_at = -1
    last = -1
    last_inside = -1
    crossing_after = -1
    value_after = math.nan
    seen_after = False
    lowest = math.inf
    for i in range(minute.shape[0]):
        v = value[i]
        if v != v:
            continue
        last = i
        x = v
        if measure == RISE_OVER_BASELINE:
            x = v - base
        elif measure == RISE_OVER_LOWEST:
            x = v - lowest
            lowest = min(lowest, v)
        # Levels count from the first sample, rises only after the drink.
        if measure != LEVEL and (minute[i] <= 0.0 or x == -math.inf):
            continue
        if minute[i] <= limit:
            last_inside = i
            if x >= bar:
                late = closed and minute[i] > end
                return MET, (LATE_COUNTED if late else PLAIN), x, i
            if x > best:
                best = x
                best_at = i
        elif not seen_after:
            seen_after = True
            if x >= bar:
                crossing_after = i
                value_after = x
    if best_at < 0 and crossing_after < 0:
        return CANNOT_BE_JUDGED, NO_READING, math.nan, -1
    if crossing_after >= 0:
        for j in range(last_inside + 1, crossing_after + 1):
            unseen = value[j] != value[j] or minute[j] > limit
            if unseen and 0.0 < planned[j] <= end:
                return CANNOT_BE_JUDGED, KEY_MISSED, value_after, crossing_after
    if best_at < 0 or minute[last] < end - tolerance:
        return CANNOT_BE_JUDGED, STOPPED_EARLY, best if best_at >= 0 else math.nan, last
    if undecided_from == undecided_from and best >= undecided_from - _ROUNDING:
        return NOT_MET, UNDECIDED, best, best_at
    return NOT_MET, PLAIN, best, best_at


def gather_findings(rows: Rows, result: Byte, reason: Byte, finding: Byte) -> None:
    """Say what the statements of each rule set say together about each of its questions.

    Parameters
    ----------
    rows : Rows
        The rows.
    result, reason : ndarray (n_rows,)
        The verdicts of one test.
    finding : ndarray (n_findings,)
        Written to.
    """
    for row in range(rows.first_validity):
        if result[row] == NOT_ASKED:
            continue
        f = rows.finding[row]
        if result[row] == MET:
            finding[f] = POSITIVE
        elif result[row] == CANNOT_BE_JUDGED or reason[row] == UNDECIDED:
            if finding[f] != POSITIVE:
                finding[f] = INDETERMINATE
        elif finding[f] == NOT_ASKED:
            finding[f] = NEGATIVE
    for row in range(rows.first_validity, len(rows.series)):
        if result[row] == MET:
            for f in range(len(rows.finding_set)):
                if rows.finding_set[f] == rows.rule_set[row] and finding[f] != NOT_ASKED:
                    finding[f] = INVALID
