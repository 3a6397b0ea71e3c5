"""What is known of one channel of an analyser: its answer, its noise, its steps, its ends."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.response import Response
from ebbline.core.breath.trace import Channel
from ebbline.core.errors import SettingError

Float = NDArray[np.float64]
# The terms of a sum are added until they are no more than this, or for so long.
_NOTHING = 1e-12
_ORDERS = 1000
Regime = Literal["stream", "chamber"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """One channel, from the instrument's profile; the unit is the channel's own, ppm or percent.

    Parameters
    ----------
    regime : {"stream", "chamber"}
        Whether it sees the breath as it passes, or gas that is held in a chamber.
    response : Response
        Transport delay and lag.
    u_tau_fraction : float
        Relative standard uncertainty of the time constants, 0 to 1.
    u_delay_s : float
        Standard uncertainty of the delay, s.
    noise, noise_fraction : float
        Standard deviation of one value: constant, and as a fraction of the value; they add as
        squares.
    resolution : float
        Step of what is sent; 0 where none is known.
    u_drift_per_h : float
        Standard uncertainty of the zero's drift.
    u_gain_fraction : float or None
        Relative standard uncertainty of the calibration; None where it is not known.
    lowest, highest : float
        Ends of the range. A value at or beyond an end may mean anything beyond it.

    Raises
    ------
    SettingError
        If a value is outside its range.
    """

    regime: Regime
    response: Response
    u_tau_fraction: float
    u_delay_s: float
    noise: float
    noise_fraction: float
    resolution: float
    u_drift_per_h: float
    u_gain_fraction: float | None
    lowest: float
    highest: float

    def __post_init__(self) -> None:
        """Refuse what no sensor is."""
        for name in (
            "u_tau_fraction",
            "u_delay_s",
            "noise",
            "noise_fraction",
            "resolution",
            "u_drift_per_h",
            "u_gain_fraction",
        ):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value >= 0.0):
                raise SettingError(
                    f"sensor {name} cannot be used; allowed: 0 or more; came: {value:g}"
                )
        for name in ("u_tau_fraction", "noise_fraction", "u_gain_fraction"):
            value = getattr(self, name)
            if value is not None and value > 1.0:
                raise SettingError(
                    f"sensor {name} cannot be used; allowed: 0 to 1; came: {value:g}"
                )
        if not self.lowest < self.highest:
            raise SettingError(
                "sensor range cannot be used; allowed: lowest below highest; "
                f"came: {self.lowest:g} to {self.highest:g}"
            )
        if self.noise == 0.0 and self.resolution == 0.0:
            raise SettingError(
                "sensor noise cannot be used; allowed: above 0 where no resolution is known; "
                "came: 0"
            )


Sensors = Mapping[Channel, Sensor]
"""The analyser's gas channels by name; flow has none."""


def variance_of_one(sensor: Sensor, value: Float) -> Float:
    """Return the variance of single values: noise, and rounding as uniform over one step.

    Parameters
    ----------
    sensor : Sensor
        The channel.
    value : ndarray of any shape
        What it shows, in its unit.

    Returns
    -------
    ndarray of the same shape
        noise² + (noise_fraction value)² + resolution²/12 (JCGM 100:2008, F.2.2.1), unit squared.
    """
    rounding = sensor.resolution**2 / 12.0
    scaled = sensor.noise_fraction * np.asarray(value, dtype=np.float64)
    return sensor.noise**2 + rounding + scaled * scaled


def rounding_left(sensor: Sensor, value: float) -> float:
    """Return the standard uncertainty from rounding that no averaging takes away.

    The mean error of a rounded value whose noise has the sd s is a sine of where the value lies
    between two steps q, sum over k of (-1)^k q/(pi k) sin(2 pi k x/q) exp(-2 (pi k s/q)²) (Widrow
    and Kollar, Quantization Noise, 2008; from memory, not checked against the book; the tests
    check it by the normal distribution). This is the root of its mean square: q/sqrt(12) without
    noise, and nothing to speak of once the noise is half a step.

    Parameters
    ----------
    sensor : Sensor
        The channel.
    value : float
        What it shows, in its unit.

    Returns
    -------
    float
        In the channel's unit.
    """
    if sensor.resolution == 0.0:
        return 0.0
    ratio = math.hypot(sensor.noise, sensor.noise_fraction * value) / sensor.resolution
    if ratio == 0.0:
        return sensor.resolution / math.sqrt(12.0)
    total = 0.0
    for order in range(1, _ORDERS):
        term = math.exp(-4.0 * (math.pi * order * ratio) ** 2) / (2.0 * (math.pi * order) ** 2)
        total += term
        if term < _NOTHING:
            break
    return sensor.resolution * math.sqrt(total)
