"""The uncertainty of one raw value by source."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Budget:
    """Standard uncertainties of one value, in its unit; independent, so they add as squares.

    Parameters
    ----------
    noise : float
        Scatter of the samples, through the fit.
    zero : float
        Offset and drift taken off.
    response : float
        Time constants, delay and the moment of the step.
    resolution : float
        Rounding that no averaging takes away.
    calibration : float
        Gain; 0 where it is not known.
    """

    noise: float
    zero: float
    response: float
    resolution: float
    calibration: float

    @property
    def total(self) -> float:
        """Return the combined standard uncertainty (JCGM 100:2008, 5.1.2)."""
        return math.hypot(self.noise, self.zero, self.response, self.resolution, self.calibration)
