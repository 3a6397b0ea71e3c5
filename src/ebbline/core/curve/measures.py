"""What is measured on a curve: baseline, rises, peak and areas.

Plain loops over one test (see `ebbline.core.curve.chance` for why). Intervals may be uneven, no
sample is ever interpolated, and a slot whose value is NaN is passed over.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ebbline.core.curve.chance import LAST, LOWEST, MEAN

Float = NDArray[np.float64]

BASELINE_RULES = {"mean": MEAN, "last": LAST, "lowest": LOWEST}
"""Names of the baseline rules in protocols and reports."""


@dataclass(frozen=True, slots=True)
class Measures:
    """What one gas, or a sum of gases, did in one test; None where there is nothing to say.

    Concentrations in ppm, minutes from T0, areas in ppm·min. The peak is the highest value that
    counts, fasting ones included; rises count from the drink on. Areas run from the last fasting
    reading to the last reading.
    """

    baseline: float | None
    peak: float | None
    peak_minute: float | None
    max_rise: float | None
    max_rise_minute: float | None
    max_rise_over_lowest: float | None
    area_total_ppm_min: float | None
    area_net_ppm_min: float | None
    area_positive_ppm_min: float | None


def baseline_of(minute: Float, value: Float, rule: int) -> float:
    """Return the fasting value of one test, NaN where there is no fasting reading.

    Parameters
    ----------
    minute : ndarray (n_samples,), minutes
    value : ndarray (n_samples,), ppm
        NaN where there is no value.
    rule : int
        `MEAN`, `LAST` or `LOWEST` of the readings at minute 0 or before.

    Returns
    -------
    float
        ppm.
    """
    total = 0.0
    count = 0
    last = math.nan
    lowest = math.inf
    for i in range(minute.shape[0]):
        if minute[i] > 0.0:
            break
        if value[i] == value[i]:
            total += value[i]
            count += 1
            last = value[i]
            lowest = min(lowest, value[i])
    if count == 0:
        return math.nan
    if rule == LAST:
        return last
    if rule == LOWEST:
        return lowest
    return total / count


def highest(minute: Float, value: Float, base: float) -> tuple[int, int, float]:
    """Return where one curve peaks and rises most.

    Parameters
    ----------
    minute : ndarray (n_samples,), minutes
    value : ndarray (n_samples,), ppm
    base : float
        Baseline, ppm; NaN where there is none.

    Returns
    -------
    peak, rise : int
        Index of the highest value, and of the highest after the drink; -1 where there is none.
    over_lowest : float
        Largest rise after the drink over the lowest earlier value, ppm; NaN where there is none.
    """
    peak = -1
    rise = -1
    lowest = math.inf
    over_lowest = math.nan
    for i in range(minute.shape[0]):
        v = value[i]
        if v != v:
            continue
        if peak < 0 or v > value[peak]:
            peak = i
        if minute[i] > 0.0:
            if base == base and (rise < 0 or v > value[rise]):
                rise = i
            if lowest < math.inf and not v - lowest <= over_lowest:
                over_lowest = v - lowest
        lowest = min(lowest, v)
    return peak, rise, over_lowest


def areas(minute: Float, value: Float, base: float) -> tuple[float, float, float]:
    """Return total, net and positive areas of one curve by trapezoids, ppm·min.

    Parameters
    ----------
    minute : ndarray (n_samples,), minutes
    value : ndarray (n_samples,), ppm
    base : float
        Baseline, ppm.

    Returns
    -------
    total, net, positive : float
        From the last fasting reading (or the first reading, where there is none) to the last one.
        Net is total less baseline times duration and may be negative; positive counts only what
        lies above the baseline, segments being split where they cross it. NaN with fewer than
        two readings.
    """
    start = -1
    for i in range(minute.shape[0]):
        if value[i] == value[i] and (start < 0 or minute[i] <= 0.0):
            start = i
    if start < 0:
        return math.nan, math.nan, math.nan
    total = 0.0
    net = 0.0
    positive = 0.0
    previous = start
    for i in range(start + 1, minute.shape[0]):
        if value[i] != value[i]:
            continue
        width = minute[i] - minute[previous]
        left = value[previous] - base
        right = value[i] - base
        total += 0.5 * (value[previous] + value[i]) * width
        net += 0.5 * (left + right) * width
        if left >= 0.0 and right >= 0.0:
            positive += 0.5 * (left + right) * width
        elif left > 0.0 or right > 0.0:
            top = max(left, right)
            positive += 0.5 * top * top / abs(right - left) * width
        previous = i
    if previous == start:
        return math.nan, math.nan, math.nan
    if base != base:
        positive = math.nan
    return total, net, positive


def measure(minute: Float, value: Float, rule: int) -> Measures:
    """Return all measures of one series of one test.

    Parameters
    ----------
    minute : ndarray (n_samples,), minutes
        Increasing.
    value : ndarray (n_samples,), ppm
        NaN where there is no value that counts.
    rule : int
        Baseline rule, `MEAN`, `LAST` or `LOWEST`.

    Returns
    -------
    Measures
    """
    base = baseline_of(minute, value, rule)
    peak, rise, over_lowest = highest(minute, value, base)
    total, net, positive = areas(minute, value, base)
    return Measures(
        baseline=_known(base),
        peak=float(value[peak]) if peak >= 0 else None,
        peak_minute=float(minute[peak]) if peak >= 0 else None,
        max_rise=float(value[rise] - base) if rise >= 0 else None,
        max_rise_minute=float(minute[rise]) if rise >= 0 else None,
        max_rise_over_lowest=_known(over_lowest),
        area_total_ppm_min=_known(total),
        area_net_ppm_min=_known(net),
        area_positive_ppm_min=_known(positive),
    )


def _known(value: float) -> float | None:
    """Return None for NaN: missing is None at the edges."""
    return None if math.isnan(value) else float(value)
