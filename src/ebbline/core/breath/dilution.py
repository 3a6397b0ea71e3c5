"""How much of a sample is alveolar gas, and what the undiluted value would have been.

A sample is a share a of alveolar gas and 1 - a of room air. A marker gas that differs between the
two, O2 or CO2, gives the share; with s the sample, A the room and L the assumed alveolar value,

    a = (A - s) / (A - L),    k = 1 / a,    C = C_room + (C_sample - C_room) k.

The algebra is exact for mixing and holds for both markers, since both differences change sign for
CO2. It does not correct hyperventilation or breath holding: those change the alveolar gas itself.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ebbline.core.errors import SettingError

Float = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Marker:
    """What is assumed of one marker gas, as dry fractions in percent.

    Parameters
    ----------
    gas : {"o2", "co2"}
        The marker gas.
    ambient_pct, u_ambient_pct : float
        Room air and its standard uncertainty.
    alveolar_pct, u_alveolar_pct : float
        Assumed alveolar value and its standard uncertainty. It is one assumption for a whole
        test, so its error moves all normalised readings of the test together.
    u_sample_pct : float
        Standard uncertainty of the marker in one sample.
    correlation : float
        Correlation of the room and the sample reading, -1 to 1: near 1 where one sensor's offset
        is in both, 0 where the room value is assumed.

    Raises
    ------
    SettingError
        If a value is outside its range or the two references do not differ in the right direction.
    """

    gas: Literal["o2", "co2"]
    ambient_pct: float
    u_ambient_pct: float
    alveolar_pct: float
    u_alveolar_pct: float
    u_sample_pct: float
    correlation: float

    def __post_init__(self) -> None:
        """Refuse references that leave nothing to divide by."""
        fall = self.ambient_pct - self.alveolar_pct
        wanted = "below" if self.gas == "o2" else "above"
        if not (fall > 0.0 if self.gas == "o2" else fall < 0.0):
            raise SettingError(
                f"alveolar {self.gas.upper()} reference cannot be used; allowed: {wanted} the "
                f"ambient {self.ambient_pct:g} %; came: {self.alveolar_pct:g} %"
            )
        for name in ("u_ambient_pct", "u_alveolar_pct", "u_sample_pct"):
            if not getattr(self, name) >= 0.0:
                raise SettingError(
                    f"{self.gas.upper()} {name} cannot be used; allowed: 0 or more; "
                    f"came: {getattr(self, name):g}"
                )
        if not -1.0 <= self.correlation <= 1.0:
            raise SettingError(
                f"{self.gas.upper()} correlation cannot be used; allowed: -1 to 1; "
                f"came: {self.correlation:g}"
            )


@dataclass(frozen=True, slots=True)
class Scale:
    """Factors that bring samples to full alveolar fraction, all of one shape.

    ``fraction`` is the alveolar share a and ``factor`` is k = 1/a (1). ``u_independent`` is the
    standard uncertainty of k from this sample's own marker readings; ``u_shared`` is the part from
    the alveolar reference, common to the test. ``span_in_u`` is |A - s| over its own standard
    uncertainty: below about 5 the first-order propagation no longer holds.
    """

    fraction: Float
    factor: Float
    u_independent: Float
    u_shared: Float
    span_in_u: Float


def alveolar_fraction(sample_pct: ArrayLike, marker: Marker) -> Float:
    """Return the share of alveolar gas in samples.

    Parameters
    ----------
    sample_pct : array-like of any shape, percent
        O2 or CO2 of the samples, dry.
    marker : Marker
        The references for that gas.

    Returns
    -------
    ndarray of the same shape, 1
        0 is room air, 1 is alveolar; above 1 where the marker has passed its reference and 0 or
        below where it has not left the room value.
    """
    sample = np.asarray(sample_pct, dtype=np.float64)
    return (marker.ambient_pct - sample) / (marker.ambient_pct - marker.alveolar_pct)


def scale(sample_pct: ArrayLike, marker: Marker) -> Scale:
    """Return the factors to full alveolar fraction with first-order uncertainty.

    With D = A - s: dk/ds = k/D, dk/dA = (L - s)/D², dk/dL = -1/D. Room and sample may come from
    one sensor, so their covariance is kept (JCGM 100:2008, 5.2).

    Parameters
    ----------
    sample_pct : array-like of any shape, percent
        O2 or CO2 of the samples, dry.
    marker : Marker
        The references for that gas.

    Returns
    -------
    Scale
        Arrays of the same shape. Where the fraction is 0 or below, factor and uncertainties are
        NaN: such a sample holds no alveolar gas to scale.
    """
    sample = np.asarray(sample_pct, dtype=np.float64)
    fraction = alveolar_fraction(sample, marker)
    span = np.where(fraction > 0.0, marker.ambient_pct - sample, np.nan)
    factor = (marker.ambient_pct - marker.alveolar_pct) / span
    by_sample = factor / span * marker.u_sample_pct
    by_ambient = (marker.alveolar_pct - sample) / span**2 * marker.u_ambient_pct
    variance = by_sample**2 + by_ambient**2 + 2.0 * marker.correlation * by_sample * by_ambient
    u_span = np.sqrt(
        marker.u_ambient_pct**2
        + marker.u_sample_pct**2
        - 2.0 * marker.correlation * marker.u_ambient_pct * marker.u_sample_pct
    )
    with np.errstate(divide="ignore"):
        span_in_u = np.abs(span) / u_span
    return Scale(
        fraction=fraction,
        factor=factor,
        u_independent=np.sqrt(np.maximum(variance, 0.0)),
        u_shared=np.abs(marker.u_alveolar_pct / span),
        span_in_u=span_in_u,
    )


def normalise(sample_ppm: ArrayLike, ambient_ppm: float, factor: ArrayLike) -> Float:
    """Return trace-gas values scaled to full alveolar fraction.

    Parameters
    ----------
    sample_ppm : array-like of any shape, ppm
        Raw values.
    ambient_ppm : float
        The same gas in the room; it is subtracted before scaling and added back.
    factor : array-like, 1
        k, broadcast against `sample_ppm`.

    Returns
    -------
    ndarray, ppm
        Never negative: a concentration below 0 is noise about 0.
    """
    sample = np.asarray(sample_ppm, dtype=np.float64)
    scaled = ambient_ppm + (sample - ambient_ppm) * np.asarray(factor, dtype=np.float64)
    return np.maximum(scaled, 0.0)


def u_normalised(
    sample_ppm: ArrayLike,
    u_sample_ppm: ArrayLike,
    ambient_ppm: float,
    u_ambient_ppm: float,
    factor: ArrayLike,
    u_factor: ArrayLike,
) -> Float:
    """Return the first-order standard uncertainty of normalised values.

    u²(C) = k² u²(C_s) + (1 - k)² u²(C_room) + (C_s - C_room)² u²(k)  (JCGM 100:2008, 5.1.2).

    Parameters
    ----------
    sample_ppm, u_sample_ppm : array-like, ppm
        Raw values and their standard uncertainties.
    ambient_ppm, u_ambient_ppm : float
        The same gas in the room and its standard uncertainty.
    factor, u_factor : array-like, 1
        k and its standard uncertainty.

    Returns
    -------
    ndarray, ppm
        Broadcast of the arguments.
    """
    sample = np.asarray(sample_ppm, dtype=np.float64)
    k = np.asarray(factor, dtype=np.float64)
    by_sample = k * np.asarray(u_sample_ppm, dtype=np.float64)
    by_ambient = (1.0 - k) * u_ambient_ppm
    by_factor = (sample - ambient_ppm) * np.asarray(u_factor, dtype=np.float64)
    total: Float = np.sqrt(by_sample**2 + by_ambient**2 + by_factor**2)
    return total
