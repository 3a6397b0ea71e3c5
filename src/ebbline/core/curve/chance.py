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

Float = NDArray[np.float64]

MEAN, LAST, LOWEST = 0, 1, 2
"""Codes of the baseline rules."""

NO_BASELINE, FROM_BASELINE, FROM_LOWEST_EARLIER = 0, 1, 2
"""Codes of the measures: a level, a rise over baseline, a rise over the lowest earlier reading."""

# Tails beyond this many sd are dropped: 2·Φ(-4.9) = 1e-6.
_REACH = 4.9
# Step of the trapezoidal rule in units of the narrowest feature; 1.2 leaves about 1e-6.
_STEP = 1.2
# The greatest or least of a dozen equal normals is about half as wide as one of them.
_CROWDING = 2.0
# A factor this far out is 0 or 1 to within 2e-8.
_CLEAR = 5.5
# Smallest sd computed with: in ppm, so that a noise of zero divides nothing by zero, and as a share
# of the widest sd, so that one reading near 0 ppm does not ask for a needlessly fine grid (the
# variance of a rise changes by less than 1 in 1000).
_SMALLEST_SD = 0.05
_SMALLEST_SHARE = 1 / 40

# Integral over one cell of the quintic through the three nodes on either side (in steps); the
# weights follow from Lagrange's formula.
_CELL = (11 / 1440, -93 / 1440, 802 / 1440, 802 / 1440, -93 / 1440, 11 / 1440)
_CELL_STEP = 0.3

_ROOT_HALF = math.sqrt(0.5)
_ROOT_TWO_PI = math.sqrt(2.0 * math.pi)


def normal_cdf(x: float) -> float:
    """Return the standard normal distribution function at x."""
    if x > _CLEAR:
        return 1.0
    if x < -_CLEAR:
        return 0.0
    return 0.5 * math.erfc(-x * _ROOT_HALF)


def normal_pdf(x: float) -> float:
    """Return the standard normal density at x."""
    return math.exp(-0.5 * x * x) / _ROOT_TWO_PI


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
        Between 0 and 1, to within 1e-5.
    """
    value = np.empty(count)
    width = np.empty(count)
    low = np.empty(count)
    low_sd = np.empty(count)
    low_moving = np.empty(count)
    n_low = _lows(
        measure, mean, sd, moving, count, fasting, baseline_rule, low, low_sd, low_moving
    )
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
    floor = max(_SMALLEST_SD, _SMALLEST_SHARE * widest)
    narrowest = max(narrowest, floor)
    spread = u_reference * largest_move
    nodes, step = _nodes(spread / narrowest) if spread > 0.0 else (0, 0.0)
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
        for j in range(n_low):
            low_value[j] = low[j] + low_moving[j] * shift
            stretch = 1.0 + shift if low_moving[j] != 0.0 else 1.0
            low_width[j] = max(low_sd[j] * stretch, floor)
        if measure == FROM_LOWEST_EARLIER:
            none = _none_over_running_minimum(
                threshold, value, width, count, first_eligible, u_gain
            )
        else:
            none = _none_over_baseline(
                threshold, value, width, first_eligible, count, low_value, low_width, n_low, u_gain
            )
        total += weight * none
        weights += weight
    return min(1.0, max(0.0, 1.0 - total / weights))


def _nodes(sharpness: float) -> tuple[int, float]:
    """Return nodes on either side of 0 and the step, for N(0, 1) times a curve so much sharper."""
    step = _STEP / math.sqrt(1.0 + (_CROWDING * sharpness) ** 2)
    return int(math.ceil(_REACH / step)), step


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
            if distance > _CLEAR:
                return 1.0
            if distance > -_CLEAR:
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
        nodes, step = _nodes(threshold * u_gain / narrowest) if u_gain > 0.0 else (0, 0.0)
        total = 0.0
        weights = 0.0
        for node in range(-nodes, nodes + 1):
            weight = normal_pdf(node * step)
            bar = threshold / (1.0 + u_gain * node * step)
            total += weight * _all_below(bar, value, width, first, count)
            weights += weight
        return total / weights
    bottom = low[0] - _REACH * low_width[0]
    top = low[0] + _REACH * low_width[0]
    narrowest_low = low_width[0]
    for j in range(1, n_low):
        bottom = min(bottom, low[j] - _REACH * low_width[j])
        top = min(top, low[j] + _REACH * low_width[j])
        narrowest_low = min(narrowest_low, low_width[j])
    crowding = _CROWDING if n_low > 1 else 1.0
    gain_nodes, gain_step = (
        _nodes(threshold * u_gain / narrowest_low) if u_gain > 0.0 else (0, 0.0)
    )
    reach = u_gain * gain_nodes * gain_step
    start = bottom + threshold / (1.0 + reach)
    end = top + threshold / (1.0 - reach)
    step = _STEP / math.hypot(crowding / narrowest_low, _CROWDING / narrowest)
    total = 0.0
    weights = 0.0
    steps = int(math.ceil((end - start) / step))
    for k in range(steps + 1):
        bar = start + k * step
        density = 0.0
        for node in range(-gain_nodes, gain_nodes + 1):
            z = node * gain_step
            base = bar - threshold / (1.0 + u_gain * z)
            density += normal_pdf(z) * _density_of_lowest(base, low, low_width, n_low)
        weights += density
        if density > 0.0:
            total += density * _all_below(bar, value, width, first, count)
    return total / weights


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
        if abs(distance) > _REACH + 1.0:
            return 0.0
        return normal_pdf(distance) / low_width[0]
    total = 0.0
    for j in range(n_low):
        product = normal_pdf((x - low[j]) / low_width[j]) / low_width[j]
        for k in range(n_low):
            if k != j:
                product *= normal_cdf((low[k] - x) / low_width[k])
        total += product
    return total


def _none_over_running_minimum(
    threshold: float, value: Float, width: Float, count: int, first: int, u_gain: float
) -> float:
    """Return the chance that no reading from `first` on rises so far over the lowest before it.

    Let M be the lowest value so far and p(m) its density together with "no crossing yet". A next
    value X ~ F crosses if X >= M + bar. It leaves M where it is if m < X < m + bar, or becomes the
    new lowest if X < M, so

        p'(m) = [F(m + bar) - F(m)] p(m) + f(m) S(m),   S(m) = integral of p from m upwards.

    p lives on an even grid; S is summed from the top, each cell by the quintic through its six
    nearest nodes (`_CELL`).
    """
    bottom = value[0] - _REACH * width[0]
    top = value[0] + _REACH * width[0]
    narrowest = width[0]
    for i in range(1, count):
        bottom = min(bottom, value[i] - _REACH * width[i])
        narrowest = min(narrowest, width[i])
    step = _CELL_STEP * narrowest
    size = int(math.ceil((top - bottom) / step)) + 1
    below = np.empty((count, size))
    density = np.empty((count, size))
    for i in range(count):
        for k in range(size):
            distance = (bottom + k * step - value[i]) / width[i]
            below[i, k] = normal_cdf(distance)
            density[i, k] = 0.0 if abs(distance) > _CLEAR else normal_pdf(distance) / width[i]
    gain_nodes, gain_step = (
        _nodes(threshold * u_gain / narrowest) if u_gain > 0.0 else (0, 0.0)
    )
    mass = np.empty(size)
    tail = np.empty(size)
    total = 0.0
    weights = 0.0
    for node in range(-gain_nodes, gain_nodes + 1):
        z = node * gain_step
        bar = threshold / (1.0 + u_gain * z)
        for k in range(size):
            mass[k] = density[0, k]
        for i in range(1, count):
            _next_minimum(
                mass, tail, below[i], density[i], i >= first, bottom + bar, step, value[i], width[i]
            )
        none = 0.0
        for k in range(size):
            none += mass[k] * step
        weight = normal_pdf(z)
        total += weight * none
        weights += weight
    return total / weights


def _next_minimum(
    mass: Float,
    tail: Float,
    below: Float,
    density: Float,
    may_cross: bool,
    bar_at_bottom: float,
    step: float,
    value: float,
    width: float,
) -> None:
    """Replace, in place, the density of the lowest value so far by that after one more reading."""
    size = mass.shape[0]
    tail[size - 1] = 0.0
    for k in range(size - 2, -1, -1):
        cell = 0.0
        for j in range(6):
            node = k - 2 + j
            if 0 <= node < size:
                cell += _CELL[j] * mass[node]
        tail[k] = tail[k + 1] + cell * step
    for k in range(size):
        kept = 1.0 - below[k]
        if may_cross:
            kept -= 1.0 - normal_cdf((bar_at_bottom + k * step - value) / width)
        mass[k] = kept * mass[k] + density[k] * max(tail[k], 0.0)
