"""The four gases that are followed, and limits for what is set of a virtual breath."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.trace import Channel
from ebbline.core.errors import SettingError

Float = NDArray[np.float64]
# The order of the four gases wherever they are rows of one array.
GASES: tuple[Channel, Channel, Channel, Channel] = ("h2_ppm", "ch4_ppm", "o2_pct", "co2_pct")


def require(name: str, value: float, lowest: float, highest: float) -> None:
    """Refuse a setting that is not finite or outside its limits, which are allowed themselves."""
    if not (math.isfinite(value) and lowest <= value <= highest):
        raise SettingError(
            f"virtual {name} cannot be used; allowed: {lowest:g} to {highest:g}; came: {value:g}"
        )


@dataclass(frozen=True, slots=True)
class Gases:
    """One value for each gas: H2 and CH4 in ppm, O2 and CO2 in dry percent (or those per litre)."""

    h2_ppm: float
    ch4_ppm: float
    o2_pct: float
    co2_pct: float

    def values(self) -> Float:
        """Return them as an array (4,) in the order of `GASES`."""
        return np.array([self.h2_ppm, self.ch4_ppm, self.o2_pct, self.co2_pct])


def gases(values: Float) -> Gases:
    """Return an array (4,) in the order of `GASES` as named values."""
    return Gases(*(float(value) for value in values))
