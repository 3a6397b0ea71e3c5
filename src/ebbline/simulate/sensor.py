"""Virtual sensors: what an instrument would show of a gas, with the truth beside it.

The gas reaches the sensor after a delay and passes two poles in a row. The response is computed
exactly for a signal that is straight between the points of an even, fine grid: with
alpha = exp(-dt / tau) and k = tau (1 - alpha) / dt,

    y[n] = alpha y[n-1] + (1 - k) x[n] + (k - alpha) x[n-1].

Then come gain, offset and drift, noise, the step of the display and the ends of the range.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.signal import lfilter

from ebbline.core.errors import SettingError
from ebbline.simulate.lines import Lines

Float = NDArray[np.float64]
Regime = Literal["stream", "chamber"]


@dataclass(frozen=True, slots=True)
class VirtualSensor:
    """One channel of an analyser; the unit is the gas's own, ppm or percent.

    Parameters
    ----------
    regime : {"stream", "chamber"}
        Whether it sees the breath as it passes, or gas that is held in a chamber.
    delay_s, tau_s, tau2_s : float
        Transport delay and the two time constants, s; 0: none.
    noise, noise_fraction : float
        Standard deviation of one sample: constant, and as a fraction of the value; they add as
        squares.
    offset, drift_per_h, gain_error : float
        Added to every value; added for each hour since the trace began; relative error of slope.
    step : float
        Step of the display; 0: none.
    lowest, highest : float
        Ends of the range; beyond them the end is shown.
    cross_factor : float
        How much of another gas is read as this one, in units of this one per unit of the other.

    Raises
    ------
    SettingError
        If a time, a noise or a step is negative, or the range is empty.
    """

    regime: Regime
    delay_s: float
    tau_s: float
    tau2_s: float
    noise: float
    noise_fraction: float
    offset: float
    drift_per_h: float
    gain_error: float
    step: float
    lowest: float
    highest: float
    cross_factor: float

    def __post_init__(self) -> None:
        """Refuse what cannot be computed with."""
        for name in ("delay_s", "tau_s", "tau2_s", "noise", "noise_fraction", "step"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0.0):
                raise SettingError(
                    f"virtual sensor {name} cannot be used; allowed: 0 or more; came: {value:g}"
                )
        if not self.lowest < self.highest:
            raise SettingError(
                "virtual sensor range cannot be used; allowed: lowest below highest; came: "
                f"{self.lowest:g} to {self.highest:g}"
            )


@dataclass(frozen=True, slots=True)
class Sensed:
    """One channel, arrays (n_samples,).

    ``shown`` is what the instrument shows, NaN where the line was dropped; ``lagged`` what a
    perfect display of this sensor's response would show; ``truth`` the gas itself at that moment;
    ``saturated`` is True where the end of the range is shown.
    """

    time_s: Float
    shown: Float
    lagged: Float
    truth: Float
    saturated: NDArray[np.bool_]


def sense(
    rng: np.random.Generator,
    *,
    time_s: ArrayLike,
    truth: ArrayLike,
    other: ArrayLike | None,
    sensor: VirtualSensor,
    lines: Lines,
) -> Sensed:
    """Return what the instrument would show.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of the noise.
    time_s : array-like (n_points,), seconds
        An even, fine grid.
    truth : array-like (n_points,), ppm or percent
        The gas at the sensor's inlet. Before the grid it was as at its first point.
    other : array-like (n_points,) or None
        The gas that the sensor is cross-sensitive to, in its own unit; None: none.
    sensor : VirtualSensor
        The channel.
    lines : Lines
        When values are taken.

    Returns
    -------
    Sensed

    Raises
    ------
    SettingError
        If the grid is not even.
    """
    time, gas = np.asarray(time_s, dtype=np.float64), np.asarray(truth, dtype=np.float64)
    mixed = gas if other is None else gas + sensor.cross_factor * np.asarray(other)
    step_s = _even_step_s(time)
    passed = _pass_pole(_pass_pole(mixed, step_s, sensor.tau_s), step_s, sensor.tau2_s)
    at = lines.time_s
    lagged = np.interp(at - sensor.delay_s, time, passed)
    drift = sensor.drift_per_h * (at - time[0]) / 3600.0
    value = lagged * (1.0 + sensor.gain_error) + sensor.offset + drift
    value = value + np.hypot(sensor.noise, sensor.noise_fraction * value) * rng.standard_normal(
        len(at)
    )
    if sensor.step > 0.0:
        value = np.round(value / sensor.step) * sensor.step
    shown = np.clip(value, sensor.lowest, sensor.highest)
    return Sensed(
        time_s=at,
        shown=np.where(lines.dropped, np.nan, shown),
        lagged=lagged,
        truth=np.interp(at, time, gas),
        saturated=(value < sensor.lowest) | (value > sensor.highest),
    )


def respond(time_s: ArrayLike, value: ArrayLike, tau_s: float) -> Float:
    """Return the response of one pole, exact for a signal that is straight between the points.

    Parameters
    ----------
    time_s : array-like (n_points,), seconds
        An even grid of two points or more.
    value : array-like (n_points,)
        The signal; it is taken to have been steady before the first point.
    tau_s : float
        Time constant, s; 0: the signal itself.

    Returns
    -------
    ndarray (n_points,)

    Raises
    ------
    SettingError
        If the grid is not even.
    """
    time, signal = np.asarray(time_s, dtype=np.float64), np.asarray(value, dtype=np.float64)
    return _pass_pole(signal, _even_step_s(time), tau_s)


def _even_step_s(time_s: Float) -> float:
    """Return the step of a grid, or refuse one that is not even."""
    steps = np.diff(time_s)
    # Times far from 0 are rounded; a grid is even to that.
    even = len(steps) > 0 and np.abs(steps - steps[0]).max() <= 1e-9 + 1e-6 * abs(steps[0])
    if not even:
        raise SettingError(
            "virtual sensor grid cannot be used; allowed: two or more points in even steps; came: "
            f"{len(time_s)} points"
        )
    return float((time_s[-1] - time_s[0]) / len(steps))


def _pass_pole(signal: Float, step_s: float, tau_s: float) -> Float:
    """Return what one pole makes of a signal in even steps, steady before its first point."""
    if tau_s == 0.0:
        return signal.copy()
    ratio = step_s / tau_s
    alpha, keep = math.exp(-ratio), -math.expm1(-ratio) / ratio
    # Counted from its first value, the signal comes out of rest.
    passed: Float = lfilter([1.0 - keep, keep - alpha], [1.0, -alpha], signal - signal[0])
    passed += signal[0]
    return passed


def held_gas(time_s: ArrayLike, *, before: float, held: float, from_s: float) -> Float:
    """Return the gas in a chamber: `before`, and from one moment on what is held.

    Parameters
    ----------
    time_s : array-like (n_points,), seconds
        The grid.
    before, held : float
        The gas until then and from then on, ppm or percent.
    from_s : float
        When the chamber is closed, s.

    Returns
    -------
    ndarray (n_points,)
    """
    return np.where(np.asarray(time_s) < from_s, before, held)


def t90_s(tau_s: float, tau2_s: float) -> float:
    """Return the time in which two poles in a row reach 90 % of a step.

    ``1 - (tau exp(-t / tau) - tau2 exp(-t / tau2)) / (tau - tau2)``; one pole alone: ln 10 tau.

    Parameters
    ----------
    tau_s, tau2_s : float
        Time constants, s, not both 0.

    Returns
    -------
    float
        Seconds, without the delay.
    """
    long, short = max(tau_s, tau2_s), min(tau_s, tau2_s)
    low, high = 0.0, 5.0 * (long + short)
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _left(middle, long, short) > 0.1 else (low, middle)
    return (low + high) / 2.0


def _left(time_s: float, long_s: float, short_s: float) -> float:
    """Return what is left of a step after some time."""
    slow = math.exp(-time_s / long_s)
    if short_s == 0.0:
        return slow
    if long_s - short_s < 1e-6 * long_s:
        return (1.0 + time_s / long_s) * slow
    return (long_s * slow - short_s * math.exp(-time_s / short_s)) / (long_s - short_s)
