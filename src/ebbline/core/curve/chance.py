"""The chance that a rise or a level reaches its threshold, exactly and without random numbers.

Given the readings C_i, the true values are

    T_i = (1 + g) X_i,   X_i ~ N(C_i, s_i²) independent,   g ~ N(0, u_gain²) shared by the test,

and where readings were normalised they also share the error of the alveolar reference:
X_i = room + (1 + r)(Y_i - room) with r ~ N(0, u_reference²). A statement is met when some eligible
(1 + g)(X_i - B) reaches the threshold, B being the baseline. Given B and the shared terms the X_i
are independent, so the chance of no crossing is a product of normal distribution functions and
what is left is an integral over one or two smooth bell-shaped variables. All integrals use the
trapezoidal rule on a line, whose error falls exponentially with the step for such integrands
(Trefethen and Weideman, SIAM Review 2014;56:385-458); the step is set from the narrowest sd.

The functions here are written as plain loops over one test. They run as they are for a handful of
tests and are compiled for a million (`ebbline.core.cohort`): one source, two ways to run it.
"""

import math

import numpy as np
from numpy.typing import NDArray

from ebbline.core.curve.bar import bar_density
from ebbline.core.curve.normal import CLEAR, bell_nodes, normal_cdf, normal_pdf
from ebbline.core.curve.running_minimum import none_over_running_minimum

Float = NDArray[np.float64]

MEAN, LAST, LOWEST = 0, 1, 2
"""Codes of the baseline rules."""

NO_BASELINE, FROM_BASELINE, FROM_LOWEST_EARLIER = 0, 1, 2
"""Codes of the measures: a level, a rise over baseline, a rise over the lowest earlier reading."""

# Smallest sd computed with: in ppm, so that a noise of zero divides nothing by zero, and, for the
# running minimum, as a share of the widest sd, so that one reading near 0 ppm does not ask for a
# needlessly fine grid (the variance of a rise changes by less than 1 in 1000).
_SMALLEST_SD = 0.05
_SMALLEST_SHARE = 1 / 40


def chance_of_reaching(
    measure: int,
    threshold: float,
    mean: Float,
    sd: Float,
    moving: Float,
    count: int,
    fasting: int,
    first_eligible: int,
    baseline_rule: int,
    u_gain: float,
    u_reference: float,
) -> float:
    """Return the chance that some eligible value reaches the threshold.

    Parameters
    ----------
    measure : int
        `NO_BASELINE`, `FROM_BASELINE` or `FROM_LOWEST_EARLIER`.
    threshold : float
        ppm, above 0.
    mean, sd, moving : ndarray (n_samples,), ppm
        The usable readings in order of time, their independent sd, and the part of each that
        moves with the alveolar reference (0 for a reading that was not normalised).
    count : int
        How many of them are used: the rest lies after the window.
    fasting : int
        How many of them, from the first, are fasting readings.
    first_eligible : int
        Index of the first reading that may cross; equal to `fasting` for a rise.
    baseline_rule : int
        `MEAN`, `LAST` or `LOWEST`; used by `FROM_BASELINE` only.
    u_gain, u_reference : float
        Relative standard uncertainties of the two shared terms, 1.

    Returns
    -------
    float
        Between 0 and 1, to within 1e-5 where every sd is at least `_SMALLEST_SD`.
    """
    value = np.empty(count)
    width = np.empty(count)
    low = np.empty(count)
    low_sd = np.empty(count)
    low_moving = np.empty(count)
    n_low = _lows(measure, mean, sd, moving, count, fasting, baseline_rule, low, low_sd, low_moving)
    clear = _clear_cut(
        measure, threshold, mean, sd, moving, count, first_eligible,
        low, low_sd, low_moving, n_low, u_gain, u_reference,
    )  # fmt: skip
    if clear >= 0.0:
        return clear
    narrowest = sd[0]
    widest = sd[0]
    largest_move = 0.0
    for i in range(count):
        largest_move = max(largest_move, abs(moving[i]))
        narrowest = min(narrowest, sd[i])
        widest = max(widest, sd[i])
    floor = _SMALLEST_SD
    if measure == FROM_LOWEST_EARLIER:
        floor = max(floor, _SMALLEST_SHARE * widest)
    narrowest = max(narrowest, floor)
    spread = u_reference * largest_move
    nodes, step = bell_nodes(spread / narrowest) if spread > 0.0 else (0, 0.0)
    total = 0.0
    weights = 0.0
    low_width = np.empty(count)
    bars = np.empty(0)
    density = np.empty(0)
    fixed = True
    for j in range(n_low):
        fixed = fixed and low_moving[j] == 0.0
    for node in range(-nodes, nodes + 1):
        z = node * step
        shift = u_reference * z
        weight = normal_pdf(z)
        for i in range(count):
            value[i] = mean[i] + moving[i] * shift
            # Only a normalised reading stretches with the reference.
            stretch = 1.0 + shift if moving[i] != 0.0 else 1.0
            width[i] = max(sd[i] * stretch, floor)
        if measure == FROM_LOWEST_EARLIER:
            none = none_over_running_minimum(threshold, value, width, count, first_eligible, u_gain)
        else:
            if node == -nodes or not fixed:
                # The bar stays where it is unless the baseline itself was normalised.
                _lows(
                    measure, value, width, moving, count, fasting, baseline_rule,
                    low, low_width, low_moving,
                )  # fmt: skip
                bars, density = bar_density(threshold, low, low_width, n_low, narrowest, u_gain)
            none = _none_over_bar(bars, density, value, width, first_eligible, count)
        total += weight * none
        weights += weight
    return min(1.0, max(0.0, 1.0 - total / weights))


def _lows(
    measure: int,
    mean: Float,
    sd: Float,
    moving: Float,
    count: int,
    fasting: int,
    baseline_rule: int,
    low: Float,
    low_sd: Float,
    low_moving: Float,
) -> int:
    """Fill in what a rise counts from, as independent normals of which the lowest holds."""
    if measure == NO_BASELINE:
        return 0
    if measure == FROM_LOWEST_EARLIER or baseline_rule == LOWEST:
        n_low = count if measure == FROM_LOWEST_EARLIER else fasting
        for j in range(n_low):
            low[j] = mean[j]
            low_sd[j] = sd[j]
            low_moving[j] = moving[j]
        return n_low
    if baseline_rule == LAST:
        low[0] = mean[fasting - 1]
        low_sd[0] = sd[fasting - 1]
        low_moving[0] = moving[fasting - 1]
        return 1
    total = 0.0
    variance = 0.0
    moves = 0.0
    for j in range(fasting):
        total += mean[j]
        variance += sd[j] * sd[j]
        moves += moving[j]
    low[0] = total / fasting
    low_sd[0] = math.sqrt(variance) / fasting
    low_moving[0] = moves / fasting
    return 1


def _clear_cut(
    measure: int,
    threshold: float,
    mean: Float,
    sd: Float,
    moving: Float,
    count: int,
    first_eligible: int,
    low: Float,
    low_sd: Float,
    low_moving: Float,
    n_low: int,
    u_gain: float,
    u_reference: float,
) -> float:
    """Return 0 or 1 where every pair is far from the threshold or one is far above, else -1."""
    all_far_below = True
    for i in range(first_eligible, count):
        pairs = max(1, n_low)
        if measure == FROM_LOWEST_EARLIER:
            pairs = i
        for j in range(pairs):
            rise = mean[i]
            variance = sd[i] * sd[i] + _SMALLEST_SD * _SMALLEST_SD
            moves = moving[i]
            if n_low > 0:
                rise -= low[j]
                variance += low_sd[j] * low_sd[j]
                moves -= low_moving[j]
            shared = u_gain * max(threshold, abs(rise))
            variance += shared * shared + (u_reference * moves) ** 2
            distance = (rise - threshold) / math.sqrt(variance)
            if distance > CLEAR:
                return 1.0
            if distance > -CLEAR:
                all_far_below = False
    return 0.0 if all_far_below else -1.0


def _none_over_bar(
    bars: Float, density: Float, value: Float, width: Float, first: int, count: int
) -> float:
    """Return the chance that no value from `first` on reaches the bar."""
    total = 0.0
    weights = 0.0
    for k in range(bars.shape[0]):
        weights += density[k]
        if density[k] > 0.0:
            total += density[k] * _all_below(bars[k], value, width, first, count)
    return total / weights


def _all_below(bar: float, value: Float, width: Float, first: int, count: int) -> float:
    """Return the chance that every value from `first` on is below the bar."""
    product = 1.0
    for i in range(first, count):
        product *= normal_cdf((bar - value[i]) / width[i])
        if product == 0.0:
            break
    return product
