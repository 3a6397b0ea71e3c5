"""Judge curves by the rows of rule sets: plain loops, one implementation for one test or many."""

import math

import numpy as np

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
from ebbline.core.rules.rows import (
    Byte,
    Float,
    Rows,
    Short,
    Verdicts,
    Whole,
    empty_verdicts,
)

# Readings are decimals, their differences are not exact in binary: 20.0 must be 20.
_ROUNDING = 1e-9


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
    if crossing_after >= 0 and key_sample_missed(
        minute, planned, value, last_inside, crossing_after, end, limit
    ):
        return CANNOT_BE_JUDGED, KEY_MISSED, value_after, crossing_after
    if best_at < 0:
        return CANNOT_BE_JUDGED, NO_READING, math.nan, -1
    if minute[last] < end - tolerance:
        return CANNOT_BE_JUDGED, STOPPED_EARLY, best, last
    if undecided_from == undecided_from and best >= undecided_from - _ROUNDING:
        return NOT_MET, UNDECIDED, best, best_at
    return NOT_MET, PLAIN, best, best_at


def key_sample_missed(
    minute: Float,
    planned: Float,
    value: Float,
    last_inside: int,
    crossing_after: int,
    end: float,
    limit: float,
) -> bool:
    """Tell whether the sample that would have decided by the end of the window is missing.

    Parameters
    ----------
    minute, planned : ndarray (n_samples,), minutes
        Actual and planned minutes.
    value : ndarray (n_samples,), ppm or points
        The row's series.
    last_inside, crossing_after : int
        Index of the last value inside the window (-1: none) and of the next one, which crosses.
    end, limit : float
        The by-minute, without and with the tolerance.

    Returns
    -------
    bool
        True where a sample planned for after the last value and by the end was missed, refused or
        late; or where the step over the end is half as long again as any before it, so that a
        sample was left out there. A step of the usual length misses nothing: samples every 20 min
        are at 80 and 100 min.
    """
    for j in range(last_inside + 1, crossing_after + 1):
        unseen = value[j] != value[j] or minute[j] > limit
        if unseen and 0.0 < planned[j] <= end:
            return True
    if last_inside < 0 or minute[last_inside] >= end:
        return False
    longest = 0.0
    previous = -1
    for i in range(last_inside + 1):
        if value[i] == value[i]:
            if previous >= 0:
                longest = max(longest, minute[i] - minute[previous])
            previous = i
    return longest > 0.0 and minute[crossing_after] - minute[last_inside] > 1.5 * longest


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
