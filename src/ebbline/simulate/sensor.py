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

from ebbline.core.errors import SettingError

Float = NDArray[np.float64]
Regime = Literal["stream", "chamber"]

# So many points are worked out by one matrix product; the next block starts from the last value.
_BLOCK = 64


@dataclass(frozen=True, slots=True)
class Sensor:
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
class Sampling:
    """When an analyser sends its lines.

    Parameters
    ----------
    rate_hz : float
        Lines per second, above 0.
    jitter_s : float
        Each line comes up to so much sooner or later, s; below half the interval.
    dropped_share : float
        Share of lines that arrive without values, 0 to 1.

    Raises
    ------
    SettingError
        If lines could overtake each other, or a value is outside its range.
    """

    rate_hz: float
    jitter_s: float
    dropped_share: float

    def __post_init__(self) -> None:
        """Refuse what is no order of lines."""
        fits = (
            self.rate_hz > 0.0
            and 0.0 <= self.jitter_s * self.rate_hz < 0.5
            and 0.0 <= self.dropped_share <= 1.0
        )
        if not fits:
            raise SettingError(
                "virtual sampling cannot be used; allowed: a rate above 0, jitter from 0 to below "
                f"half the interval, a share from 0 to 1; came: {self.rate_hz:g} Hz, "
                f"{self.jitter_s:g} s, {self.dropped_share:g}"
            )


@dataclass(frozen=True, slots=True)
class Lines:
    """When values were taken, (n_samples,) s, and which of the lines arrived without them."""

    time_s: Float
    dropped: NDArray[np.bool_]


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


def draw_lines(rng: np.random.Generator, sampling: Sampling, end_s: float) -> Lines:
    """Return the lines of one trace.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all chance.
    sampling : Sampling
        Rate, jitter and losses.
    end_s : float
        Length of the trace, s. The first line is due at half an interval.

    Returns
    -------
    Lines
        Moments rising strictly, all within the trace.
    """
    n_samples = int(math.floor(end_s * sampling.rate_hz))
    due = (np.arange(n_samples) + 0.5) / sampling.rate_hz
    return Lines(
        time_s=due + rng.uniform(-sampling.jitter_s, sampling.jitter_s, n_samples),
        dropped=rng.random(n_samples) < sampling.dropped_share,
    )


def sense(
    rng: np.random.Generator,
    *,
    time_s: ArrayLike,
    truth: ArrayLike,
    other: ArrayLike | None,
    sensor: Sensor,
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
    sensor : Sensor
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
    passed = respond(time, respond(time, mixed, sensor.tau_s), sensor.tau2_s)
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
    steps = np.diff(time)
    # Times far from 0 are rounded; a grid is even to that.
    if len(steps) == 0 or not np.allclose(steps, steps[0], rtol=1e-6, atol=1e-9):
        raise SettingError(
            "virtual sensor grid cannot be used; allowed: two or more points in even steps; came: "
            f"{len(time)} points"
        )
    if tau_s == 0.0:
        return signal.copy()
    ratio = (time[-1] - time[0]) / len(steps) / tau_s
    alpha, keep = math.exp(-ratio), -math.expm1(-ratio) / ratio
    drive = (1.0 - keep) * signal[1:] + (keep - alpha) * signal[:-1]
    return np.concatenate([signal[:1], _recur(drive, alpha, float(signal[0]))])


def _recur(drive: Float, alpha: float, start: float) -> Float:
    """Return y with y[n] = alpha y[n-1] + drive[n], block by block."""
    n_points = len(drive)
    padded = np.zeros(-(-n_points // _BLOCK) * _BLOCK)
    padded[:n_points] = drive
    behind = np.subtract.outer(np.arange(_BLOCK), np.arange(_BLOCK))
    weights = np.where(behind >= 0, alpha ** np.maximum(behind, 0), 0.0)
    blocks = padded.reshape(-1, _BLOCK) @ weights.T
    powers = alpha ** np.arange(1.0, _BLOCK + 1.0)
    last = start
    for block in blocks:
        np.add(block, last * powers, out=block)
        last = block[-1]
    return blocks.ravel()[:n_points]


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


@dataclass(frozen=True, slots=True)
class Span:
    """A range to draw from, both ends included.

    Raises
    ------
    SettingError
        If it ends before it begins.
    """

    low: float
    high: float

    def __post_init__(self) -> None:
        """Refuse an empty range."""
        if not self.low <= self.high:
            raise SettingError(
                "virtual range cannot be used; allowed: low at or below high; came: "
                f"{self.low:g} to {self.high:g}"
            )

    def at(self, share: float) -> float:
        """Return the value at a share of the way, 0 to 1."""
        return self.low + share * (self.high - self.low)

    def draw(self, rng: np.random.Generator) -> float:
        """Return a value, all equally likely."""
        return self.at(float(rng.random()))

    def draw_log(self, rng: np.random.Generator) -> float:
        """Return a value whose logarithm is equally likely; the range must be above 0."""
        return math.exp(Span(math.log(self.low), math.log(self.high)).draw(rng))


@dataclass(frozen=True, slots=True)
class ChannelRanges:
    """What one channel of the analyser is drawn from, in its own unit (ppm or percent).

    ``steps`` are the steps of the display of which one is drawn; ``ends`` the ends of the range.
    """

    noise: Span
    noise_fraction: Span
    offset: Span
    drift_per_h: Span
    gain_error: Span
    steps: tuple[float, ...]
    ends: Span


# Invented settings, for H2 and CH4 and for O2 and CO2.
PPM_CHANNEL = ChannelRanges(
    noise=Span(0.3, 2.0),
    noise_fraction=Span(0.0, 0.02),
    offset=Span(-3.0, 3.0),
    drift_per_h=Span(-2.0, 2.0),
    gain_error=Span(-0.01, 0.01),
    steps=(0.1, 1.0),
    ends=Span(-20.0, 500.0),
)
PERCENT_CHANNEL = ChannelRanges(
    noise=Span(0.02, 0.1),
    noise_fraction=Span(0.0, 0.0),
    offset=Span(-0.1, 0.1),
    drift_per_h=Span(-0.05, 0.05),
    gain_error=Span(-0.005, 0.005),
    steps=(0.01, 0.1),
    ends=Span(-1.0, 25.0),
)


def draw_sensor(
    rng: np.random.Generator,
    ranges: ChannelRanges,
    *,
    regime: Regime,
    delay_s: Span,
    t90: Span,
    second_pole_share: Span,
    cross_factor: float,
) -> Sensor:
    """Return a sensor drawn from ranges.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all chance.
    ranges : ChannelRanges
        Noise, errors, steps and ends.
    regime : {"stream", "chamber"}
        What it sees.
    delay_s, t90 : Span
        Delay, and time to 90 % of a step without it, s.
    second_pole_share : Span
        The second time constant over the first.
    cross_factor : float
        Cross-sensitivity, as in `Sensor`.

    Returns
    -------
    Sensor
    """
    share = second_pole_share.draw(rng)
    tau_s = t90.draw(rng) / t90_s(1.0, share)
    return Sensor(
        regime=regime,
        delay_s=delay_s.draw(rng),
        tau_s=tau_s,
        tau2_s=share * tau_s,
        noise=ranges.noise.draw(rng),
        noise_fraction=ranges.noise_fraction.draw(rng),
        offset=ranges.offset.draw(rng),
        drift_per_h=ranges.drift_per_h.draw(rng),
        gain_error=ranges.gain_error.draw(rng),
        step=float(rng.choice(ranges.steps)),
        lowest=ranges.ends.low,
        highest=ranges.ends.high,
        cross_factor=cross_factor,
    )
