"""The bar that a value must reach, B + threshold/(1 + g), as a density on a grid; plain loops."""

import math

import numpy as np
from numpy.typing import NDArray

from ebbline.core.curve.normal import (
    CROWDING,
    REACH,
    STEP,
    bell_nodes,
    normal_cdf,
    normal_pdf,
)

Float = NDArray[np.float64]


def bar_density(
    threshold: float, low: Float, low_width: Float, n_low: int, narrowest: float, u_gain: float
) -> tuple[Float, Float]:
    """Return where the bar lies: the baseline's density, averaged over the gain.

    The bar is one scalar, so the gain costs no second integral over the values.

    Parameters
    ----------
    threshold : float
        ppm.
    low, low_width : ndarray (n_samples,), ppm
        What the baseline is the lowest of: independent normals by mean and sd.
    n_low : int
        How many of them are used; 0 where a level is asked and the bar is the threshold alone.
    narrowest : float
        Smallest sd of the values that will be held against the bar, ppm.
    u_gain : float
        Relative standard uncertainty of the gain, 1.

    Returns
    -------
    bars, density : ndarray (n_nodes,)
        Nodes of the trapezoidal rule, ppm, and their weights, of any sum.
    """
    if n_low == 0:
        nodes, step = bell_nodes(threshold * u_gain / narrowest) if u_gain > 0.0 else (0, 0.0)
        bars = np.empty(2 * nodes + 1)
        density = np.empty(2 * nodes + 1)
        for node in range(-nodes, nodes + 1):
            bars[node + nodes] = threshold / (1.0 + u_gain * node * step)
            density[node + nodes] = normal_pdf(node * step)
        return bars, density
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
    size = int(math.ceil((end - start) / step)) + 1
    bars = np.empty(size)
    density = np.zeros(size)
    for k in range(size):
        bars[k] = start + k * step
        first, last = _gain_range(bars[k], bottom, top, threshold, u_gain * gain_step, gain_nodes)
        for node in range(first, last + 1):
            z = node * gain_step
            base = bars[k] - threshold / (1.0 + u_gain * z)
            density[k] += normal_pdf(z) * _density_of_lowest(base, low, low_width, n_low)
    return bars, density


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
