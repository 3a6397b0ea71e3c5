"""The normal distribution and the trapezoidal nodes that integrals over it use; plain loops."""

import math

REACH = 4.9
"""Tails beyond this many sd are dropped: 2·Φ(-4.9) = 1e-6."""

CLEAR = 5.5
"""A distribution function this far out is 0 or 1 to within 2e-8."""

STEP = 1.2
"""Step of the trapezoidal rule in units of the narrowest feature; 1.2 leaves about 1e-6."""

CROWDING = 2.0
"""The greatest or least of a dozen equal normals is about half as wide as one of them."""

_ROOT_HALF = math.sqrt(0.5)
_ROOT_TWO_PI = math.sqrt(2.0 * math.pi)


def normal_cdf(x: float) -> float:
    """Return the standard normal distribution function.

    Parameters
    ----------
    x : float
        In standard deviations, 1.

    Returns
    -------
    float
        Exactly 0 or 1 beyond `CLEAR`.
    """
    if x > CLEAR:
        return 1.0
    if x < -CLEAR:
        return 0.0
    return 0.5 * math.erfc(-x * _ROOT_HALF)


def normal_pdf(x: float) -> float:
    """Return the standard normal density.

    Parameters
    ----------
    x : float
        In standard deviations, 1.

    Returns
    -------
    float
    """
    return math.exp(-0.5 * x * x) / _ROOT_TWO_PI


def bell_nodes(sharpness: float) -> tuple[int, float]:
    """Return trapezoidal nodes for N(0, 1) times a curve with a sharper feature.

    Parameters
    ----------
    sharpness : float
        How many times narrower than the bell the feature is, 1.

    Returns
    -------
    nodes : int
        Nodes on either side of 0.
    step : float
        Distance between them, in standard deviations.
    """
    step = STEP / math.sqrt(1.0 + (CROWDING * sharpness) ** 2)
    return int(math.ceil(REACH / step)), step
