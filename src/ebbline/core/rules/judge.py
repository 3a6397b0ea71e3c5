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
from ebbline.core.rules.rows import Byte, Float, Rows, Short, Verdicts, Whole, unfilled_verdicts

# Readings are decimals, their differences are not exact in binary: 20.0 must be 20.
_ROUNDING = 1e-9
# A sample planned for the end of the window and taken up to so many minutes early reaches it:
# clocks at the bench keep to 1 or 2 min (common practice, no source), and a test that ran to its
# last planned sample was not stopped early.
_EARLY_MINUTES = 5.0
# What `summarise` leaves of a series.
_BASE, _FIRST, _FIRST_AFTER, _LAST, _TOP, _TOP_AFTER, _N_FACTS = 0, 1, 2, 3, 4, 5, 6


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
        Index of each test's substrate in ``rows.of_substrate``.
    baseline_rule : int
        A code of `ebbline.core.curve.chance`.
    minute_tolerance : float
        How late a sample may be and still count for a by-minute, minutes.

    Returns
    -------
    Verdicts
    """
    verdicts = unfilled_verdicts(curves.n_tests, rows)
    judge_range(
        0, curves.n_tests, curves.minute, curves.planned_minute, curves.h2_ppm, curves.ch4_ppm,
        curves.series("symptoms"), rows_for(curves, rows), substrate, baseline_rule,
        minute_tolerance, verdicts.result, verdicts.reason, verdicts.at, verdicts.finding,
    )  # fmt: skip
    return verdicts


def rows_for(curves: Curves, rows: Rows) -> Rows:
    """Return rows that do not look for symptoms where none were asked.

    Parameters
    ----------
    curves : Curves
        The tests.
    rows : Rows
        The rows.

    Returns
    -------
    Rows
    """
    if curves.symptom_rise is not None:
        return rows
    uses = rows.uses.copy()
    uses[:, -1] = False
    return rows._replace(uses=uses)


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
        Index into ``rows.of_substrate``.
    baseline_rule : int
        A code of `ebbline.core.curve.chance`.
    tolerance : float
        Minutes.
    result, reason, at, finding : ndarray
        Written to; as in `Verdicts`.
    """
    n_rows = result.shape[1]
    n_series = rows.weights.shape[0]
    n_samples = minute.shape[1]
    # One test at a time is copied here: both threads would keep count of views of shared arrays.
    t = np.empty(n_samples)
    p = np.empty(n_samples)
    gases = np.empty((3, n_samples))
    series = np.empty((n_series, n_samples))
    facts = np.empty((n_series, _N_FACTS))
    # A series that is not used says that there is no value.
    facts[:, _BASE] = math.nan
    facts[:, _FIRST] = math.inf
    facts[:, _FIRST_AFTER] = math.inf
    facts[:, _LAST] = -1.0
    facts[:, _TOP] = -math.inf
    facts[:, _TOP_AFTER] = -math.inf
    done = np.empty(rows.n_events, dtype=np.int64)
    for test in range(start, stop):
        which = substrate[test]
        for i in range(n_samples):
            t[i] = minute[test, i]
            p[i] = planned[test, i]
            gases[0, i] = h2[test, i]
            gases[1, i] = ch4[test, i]
            gases[2, i] = symptoms[test, i]
        for s in range(n_series):
            if rows.uses[which, s]:
                summarise(
                    t,
                    gases,
                    rows.weights[s, 0],
                    rows.weights[s, 1],
                    baseline_rule,
                    s,
                    series,
                    facts,
                )
        for row in range(n_rows):
            result[test, row] = NOT_ASKED
            reason[test, row] = PLAIN
            at[test, row] = -1
        for f in range(finding.shape[1]):
            finding[test, f] = NOT_ASKED
        for event in range(rows.n_events):
            done[event] = -1
        for place in range(n_rows):
            row = rows.of_substrate[which, place]
            if row < 0:
                break
            twin = done[rows.event[row]]
            if twin >= 0:
                result[test, row] = result[test, twin]
                reason[test, row] = reason[test, twin]
                at[test, row] = at[test, twin]
            else:
                done[rows.event[row]] = row
                s = rows.series[row]
                result[test, row], reason[test, row], at[test, row] = judge_row(
                    t, p, s, series, facts, rows.measure[row], rows.strict[row],
                    rows.threshold[row], rows.end[row], rows.closed[row], tolerance,
                    rows.undecided_from[row],
                )  # fmt: skip
            f = rows.finding[row]
            if f >= 0:
                finding[test, f] = add_to_finding(
                    finding[test, f], result[test, row], reason[test, row]
                )
            elif result[test, row] == MET:
                # A validity row: it comes after all statements and spoils those of its rule set.
                for f in range(finding.shape[1]):
                    of_this_set = rows.finding_set[f] == rows.rule_set[row]
                    if of_this_set and finding[test, f] != NOT_ASKED:
                        finding[test, f] = INVALID


def summarise(
    minute: Float,
    gases: Float,
    by_h2: float,
    by_ch4: float,
    baseline_rule: int,
    s: int,
    series: Float,
    facts: Float,
) -> None:
    """Write down one series of one test, and what several rows ask of it.

    Parameters
    ----------
    minute : ndarray (n_samples,), minutes
    gases : ndarray (3, n_samples)
        Hydrogen and methane, ppm, and symptoms, points.
    by_h2, by_ch4 : float
        What hydrogen and methane count in the series; 0 and 0 stand for symptoms.
    baseline_rule : int
        A code of `ebbline.core.curve.chance`.
    s : int
        Index of the series in the two arrays that are written to.
    series : ndarray (n_series, n_samples)
        Written to: the series, ppm or points.
    facts : ndarray (n_series, 6)
        Written to: baseline; minute of the first value, and of the first after the drink (infinite
        where there is none); index of the last value (-1: none); highest value, and highest after
        the drink (minus infinity where there is none).
    """
    n_samples = minute.shape[0]
    for i in range(n_samples):
        if by_ch4 == 0.0:
            series[s, i] = gases[0, i] if by_h2 > 0.0 else gases[2, i]
        elif by_h2 == 0.0:
            series[s, i] = gases[1, i]
        else:
            series[s, i] = by_h2 * gases[0, i] + by_ch4 * gases[1, i]
    first = math.inf
    first_after = math.inf
    last = -1
    top = -math.inf
    top_after = -math.inf
    # min and max compile to code without branches, which a running extreme would mispredict.
    for i in range(n_samples):
        v = series[s, i]
        if v != v:
            continue
        last = i
        first = min(first, minute[i])
        top = max(top, v)
        if minute[i] > 0.0:
            first_after = min(first_after, minute[i])
            top_after = max(top_after, v)
    facts[s, _BASE] = baseline_of(minute, series[s], baseline_rule)
    facts[s, _FIRST] = first
    facts[s, _FIRST_AFTER] = first_after
    facts[s, _LAST] = last
    facts[s, _TOP] = top
    facts[s, _TOP_AFTER] = top_after


def judge_row(
    minute: Float,
    planned: Float,
    s: int,
    series: Float,
    facts: Float,
    measure: int,
    strict: bool,
    threshold: float,
    end: float,
    closed: bool,
    tolerance: float,
    undecided_from: float,
) -> tuple[int, int, int]:
    """Judge one curve by one row.

    Parameters
    ----------
    minute, planned : ndarray (n_samples,), minutes
        Actual and planned minutes.
    s : int
        Index of the row's series.
    series, facts : ndarray (n_series, n_samples) and (n_series, 6)
        From `summarise`.
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
    at : int
        Index of the sample that decided; -1 where none did.
    """
    base = facts[s, _BASE]
    if measure in (RISE_OVER_BASELINE, BASELINE) and base != base:
        return CANNOT_BE_JUDGED, NO_FASTING, -1
    bar = threshold + _ROUNDING if strict else threshold - _ROUNDING
    if measure == BASELINE:
        return (MET if base >= bar else NOT_MET), PLAIN, -1
    limit = end + tolerance if closed else math.inf
    # Levels count from the first sample, rises only after the drink.
    first = facts[s, _FIRST] if measure == LEVEL else facts[s, _FIRST_AFTER]
    best = facts[s, _TOP] if measure == LEVEL else facts[s, _TOP_AFTER] - base
    last = int(facts[s, _LAST])
    open_band = undecided_from == undecided_from
    if measure == RISE_OVER_LOWEST or best >= bar or (open_band and closed):
        best = -math.inf
        last_inside = -1
        seen_after = False
        lowest = math.inf
        for i in range(minute.shape[0]):
            v = series[s, i]
            if v != v:
                continue
            x = v
            if measure == RISE_OVER_BASELINE:
                x = v - base
            elif measure == RISE_OVER_LOWEST:
                x = v - lowest
                lowest = min(lowest, v)
            if measure != LEVEL and (minute[i] <= 0.0 or x == -math.inf):
                continue
            if minute[i] <= limit:
                last_inside = i
                if x >= bar:
                    late = closed and minute[i] > end
                    return MET, (LATE_COUNTED if late else PLAIN), i
                best = max(best, x)
            elif not seen_after:
                seen_after = True
                if x >= bar and key_sample_missed(
                    minute, planned, series[s], last_inside, i, end, limit
                ):
                    return CANNOT_BE_JUDGED, KEY_MISSED, i
        if best == -math.inf:
            return CANNOT_BE_JUDGED, NO_READING, -1
    elif first > limit or last < 0 or first == math.inf:
        return CANNOT_BE_JUDGED, NO_READING, -1
    if not reaches(minute[last], planned[last], end - tolerance):
        return CANNOT_BE_JUDGED, STOPPED_EARLY, last
    if open_band and best >= undecided_from - _ROUNDING:
        return NOT_MET, UNDECIDED, -1
    return NOT_MET, PLAIN, -1


def reaches(minute: float, planned: float, end: float) -> bool:
    """Tell whether a sample reaches the end of a window.

    Parameters
    ----------
    minute, planned : float
        Its actual and planned minute.
    end : float
        Minutes.

    Returns
    -------
    bool
    """
    return max(minute, min(planned, minute + _EARLY_MINUTES)) >= end


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
    if last_inside < 0 or reaches(minute[last_inside], planned[last_inside], end):
        return False
    longest = 0.0
    previous = -1
    for i in range(last_inside + 1):
        if value[i] == value[i]:
            if previous >= 0:
                longest = max(longest, minute[i] - minute[previous])
            previous = i
    return longest > 0.0 and minute[crossing_after] - minute[last_inside] > 1.5 * longest


def add_to_finding(finding: int, result: int, reason: int) -> int:
    """Return a finding with one more of its statements taken into account.

    Parameters
    ----------
    finding : int
        The finding so far, `NOT_ASKED` before the first statement.
    result, reason : int
        The statement's verdict.

    Returns
    -------
    int
        Positive if any statement is met; else indeterminate if one cannot be judged or falls in the
        undecided band; negative if all are not met.
    """
    if result == MET or finding == POSITIVE:
        return POSITIVE
    if result == CANNOT_BE_JUDGED or reason == UNDECIDED or finding == INDETERMINATE:
        return INDETERMINATE
    return NEGATIVE
