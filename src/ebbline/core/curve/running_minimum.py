"""The chance of no rise over the lowest earlier reading, by recursion on the running minimum."""

import math

import numpy as np
from numpy.typing import NDArray

from ebbline.core.curve.normal import CLEAR, REACH, bell_nodes, normal_cdf, normal_pdf

Float = NDArray[np.float64]

# Integral over one cell of the quintic through the three nodes on either side (in steps); the
# weights follow from Lagrange's formula. With a step of 0.3 sd the chance is good to 5e-6.
_CELL = (11 / 1440, -93 / 1440, 802 / 1440, 802 / 1440, -93 / 1440, 11 / 1440)
_CELL_STEP = 0.3


def none_over_running_minimum(
    threshold: float, value: Float, width: Float, count: int, first: int, u_gain: float
) -> float:
    """Return the chance that no reading from `first` on rises so far over the lowest before it.

    Let M be the lowest value so far and p(m) its density together with "no crossing yet". A next
    value X ~ F crosses if X >= M + bar. It leaves M where it is if m < X < m + bar, or becomes the
    new lowest if X < M, so

        p'(m) = [F(m + bar) - F(m)] p(m) + f(m) S(m),   S(m) = integral of p from m upwards.

    p lives on an even grid; S is summed from the top, each cell by the quintic through its six
    nearest nodes (`_CELL`).

    Parameters
    ----------
    threshold : float
        ppm.
    value, width : ndarray (n_samples,), ppm
        The usable readings in order of time and their standard deviations.
    count : int
        How many of them are used.
    first : int
        Index of the first that may cross, at least 1.
    u_gain : float
        Relative standard uncertainty of the gain, 1.

    Returns
    -------
    float
        Between 0 and 1.
    """
    bottom = value[0] - REACH * width[0]
    top = value[0] + REACH * width[0]
    narrowest = width[0]
    for i in range(1, count):
        bottom = min(bottom, value[i] - REACH * width[i])
        narrowest = min(narrowest, width[i])
    step = _CELL_STEP * narrowest
    size = int(math.ceil((top - bottom) / step)) + 1
    below = np.empty((count, size))
    density = np.empty((count, size))
    for i in range(count):
        for k in range(size):
            distance = (bottom + k * step - value[i]) / width[i]
            below[i, k] = normal_cdf(distance)
            density[i, k] = 0.0 if abs(distance) > CLEAR else normal_pdf(distance) / width[i]
    gain_nodes, gain_step = bell_nodes(threshold * u_gain / narrowest) if u_gain > 0.0 else (0, 0.0)
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
