"""The analyser's noise: what repeats of the same breath would scatter by."""

import math
from dataclasses import dataclass

from ebbline.core.errors import SettingError


@dataclass(frozen=True, slots=True)
class Noise:
    """Measurement noise of one analyser.

    A reading C scatters with sd = sqrt(ppm² + (fraction·C)²), independently of all others. The
    relative gain error is shared by every reading of a test and does not average out.

    Parameters
    ----------
    ppm : float
        Constant part, ppm, 0 or more.
    fraction : float
        Part proportional to the reading, 1, from 0 to 1.
    gain_fraction : float
        Relative standard uncertainty of the gain, 1, from 0 to 0.15: well above any analyser
        in use, and small enough that 1 + g stays positive wherever chances are computed.

    Raises
    ------
    SettingError
        If a value is outside its range.
    """

    ppm: float
    fraction: float
    gain_fraction: float

    def __post_init__(self) -> None:
        """Refuse what cannot be computed with."""
        limits = (("ppm", 100.0), ("fraction", 1.0), ("gain_fraction", 0.15))
        for name, highest in limits:
            value = getattr(self, name)
            if not (math.isfinite(value) and 0.0 <= value <= highest):
                raise SettingError(
                    f"noise {name} cannot be used; allowed: 0 to {highest:g}; came: {value:g}"
                )

    def sd_ppm(self, value_ppm: float) -> float:
        """Return the independent standard deviation at a reading.

        Parameters
        ----------
        value_ppm : float
            The reading, ppm.

        Returns
        -------
        float
            ppm.
        """
        return math.hypot(self.ppm, self.fraction * value_ppm)

    def u_ppm(self, value_ppm: float) -> float:
        """Return the combined standard uncertainty at a reading, gain included.

        Parameters
        ----------
        value_ppm : float
            The reading, ppm.

        Returns
        -------
        float
            ppm.
        """
        return math.hypot(self.sd_ppm(value_ppm), self.gain_fraction * value_ppm)
