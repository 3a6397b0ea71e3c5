"""Orocaecal transit from a rise, as an interval and under a named definition.

The consensus papers advise against clinical use (data/transit.toml); it is kept for those who
report it, never finer than the sampling.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class TransitDefinition:
    """What counts as arrival: a rise of `rise_ppm` or more over baseline, `samples` in a row."""

    id: str
    title: str
    rise_ppm: float
    samples: int
    source: str
    provenance: str


def transit_interval(
    minute: NDArray[np.float64],
    value: NDArray[np.float64],
    base: float,
    definition: TransitDefinition,
) -> tuple[float, float | None] | None:
    """Return the interval (previous sample, rise sample] in which the caecum was reached.

    Parameters
    ----------
    minute : ndarray (n_samples,), minutes
    value : ndarray (n_samples,), ppm
        NaN where there is no value.
    base : float
        Baseline, ppm.
    definition : TransitDefinition
        What counts as arrival.

    Returns
    -------
    (after, by) or None
        Minutes; `by` is None where no such rise was seen by the last sample. None where there is
        no baseline or no reading after the drink.
    """
    usable = [i for i in range(len(minute)) if value[i] == value[i]]
    after_drink = [i for i in usable if minute[i] > 0.0]
    if base != base or not after_drink:
        return None
    risen = 0
    previous = 0.0
    start = 0.0
    for i in after_drink:
        # Differences of decimals are not exact in binary; a rise of exactly 10 must count as 10.
        if value[i] - base >= definition.rise_ppm - 1e-9:
            if risen == 0:
                start = previous
                arrival = float(minute[i])
            risen += 1
            if risen == definition.samples:
                return start, arrival
        else:
            risen = 0
        previous = float(minute[i])
    # A last sample that has risen alone would have made it the interval before it.
    return (start if risen else previous), None
