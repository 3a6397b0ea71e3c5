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

from ebbline.core.curve.normal import (
    CLEAR,
    CROWDING,
    REACH,
    STEP,
    bell_nodes,
    normal_cdf,
    normal_pdf,
)
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
    low_value = np.empty(count)
    low_width = np.empty(count)
    for node in range(-nodes, nodes + 1):
        z = node * step
        shift = u_reference * z
        weight = normal_pdf(z)
        for i in range(count):
            value[i] = mean[i] + moving[i] * shift
            # Only a normalised reading stretches with the reference.
            stretch = 1.0 + shift if moving[i] != 0.0 else 1.0
            width[i] = max(sd[i] * stretch, floor)
        _lows(
            measure, value, width, moving, count, fasting, baseline_rule,
            low_value, low_width, low_moving,
        )  # fmt: skip
        if measure == FROM_LOWEST_EARLIER:
            none = none_over_running_minimum(threshold, value, width, count, first_eligible, u_gain)
        else:
            none = _none_over_baseline(
                threshold, value, width, first_eligible, count, low_value, low_width, n_low, u_gain
            )
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


def _none_over_baseline(
    threshold: float,
    value: Float,
    width: Float,
    first: int,
    count: int,
    low: Float,
    low_width: Float,
    n_low: int,
    u_gain: float,
) -> float:
    """Return the chance that no value from `first` on reaches baseline + threshold/(1 + g).

    The bar c = B + threshold/(1 + g) is one scalar; its density is B's, averaged over the gain.
    """
    narrowest = width[first]
    for i in range(first, count):
        narrowest = min(narrowest, width[i])
    if n_low == 0:
        nodes, step = bell_nodes(threshold * u_gain / narrowest) if u_gain > 0.0 else (0, 0.0)
        total = 0.0
        weights = 0.0
        for node in range(-nodes, nodes + 1):
            weight = normal_pdf(node * step)
            bar = threshold / (1.0 + u_gain * node * step)
            total += weight * _all_below(bar, value, width, first, count)
            weights += weight
        return total / weights
    bottom = low[0] - REACH * low_width[0]
    top = low[0] + REACH * low_width[0]
    narrowest_low = low_width[0]
    for j in range(1, n_low):
        bottom = min(bottom, low[j] - REACH * low_width[j])
        top = min(top, low[j] + REACH * low_width[j])
        narrowest_low = min(narrowest_low, low_width[j])
    crowding = CROWDING if n_low > 1 else 1.0
    gain_nodes, gain_step = (
        bell_nodes(threshold * u_gain / narrowest_low) if u_gain > 0.0 else (0, 0.0)
    )
    reach = u_gain * gain_nodes * gain_step
    start = bottom + threshold / (1.0 + reach)
    end = top + threshold / (1.0 - reach)
    step = STEP / math.hypot(crowding / narrowest_low, CROWDING / narrowest)
    total = 0.0
    weights = 0.0
    steps = int(math.ceil((end - start) / step))
    for k in range(steps + 1):
        bar = start + k * step
        density = 0.0
        lowest_node, highest_node = _gain_range(
            bar, bottom, top, threshold, u_gain * gain_step, gain_nodes
        )
        for node in range(lowest_node, highest_node + 1):
            z = node * gain_step
            base = bar - threshold / (1.0 + u_gain * z)
            density += normal_pdf(z) * _density_of_lowest(base, low, low_width, n_low)
        weights += density
        if density > 0.0:
            total += density * _all_below(bar, value, width, first, count)
    return total / weights


def _gain_range(
    bar: float, bottom: float, top: float, threshold: float, gain_per_node: float, nodes: int
) -> tuple[int, int]:
    """Return the nodes of the gain at which the baseline below a bar has any density."""
    if nodes == 0:
        return 0, 0
    lowest, highest = nodes + 1, nodes
    if bar > bottom:
        # bar - threshold / (1 + g) >= bottom
        share = (threshold / (bar - bottom) - 1.0) / gain_per_node
        lowest = int(min(max(math.floor(share), -nodes), nodes + 1))
    if bar > top:
        share = (threshold / (bar - top) - 1.0) / gain_per_node
        highest = int(min(max(math.ceil(share), -nodes - 1), nodes))
    return lowest, highest


def _all_below(bar: float, value: Float, width: Float, first: int, count: int) -> float:
    """Return the chance that every value from `first` on is below the bar."""
    product = 1.0
    for i in range(first, count):
        product *= normal_cdf((bar - value[i]) / width[i])
        if product == 0.0:
            break
    return product


def _density_of_lowest(x: float, low: Float, low_width: Float, n_low: int) -> float:
    """Return the density at x of the lowest of independent normals."""
    if n_low == 1:
        distance = (x - low[0]) / low_width[0]
        if abs(distance) > REACH + 1.0:
            return 0.0
        density: float = normal_pdf(distance) / low_width[0]
        return density
    total = 0.0
    for j in range(n_low):
        product = normal_pdf((x - low[j]) / low_width[j]) / low_width[j]
        for k in range(n_low):
            if k != j:
                product *= normal_cdf((low[k] - x) / low_width[k])
        total += product
    return total
