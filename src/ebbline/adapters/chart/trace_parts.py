"""What of a trace and its reduction is drawn where: samples, fitted lines, windows and moments."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ebbline.adapters.chart.trace_axes import Moment
from ebbline.core.breath.cycle import TRACE_GASES, Cycle, Watched
from ebbline.core.breath.reading import Dilution
from ebbline.core.breath.reduction import Reduction, Value
from ebbline.core.breath.sensor import Sensor, Sensors
from ebbline.core.breath.trace import Channel, Trace
from ebbline.core.breath.zero import apply_zero

Float = NDArray[np.float64]

COVERAGE = 1.96
"""Standard uncertainties from the middle of a 95 % band to its edge, for a normal distribution."""

# A line is open where the values of a channel are further apart than so many usual intervals.
_OPEN = 2.5
# What is seen before the breath, and after the end, as shares of the time between.
_BEFORE, _AFTER = 0.35, 0.08


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """One channel as it came, arrays (n_samples,): zero taken off, time moved back by the delay.

    ``value`` is in ppm, or the share of the way to alveolar gas; ``piece`` numbers the unbroken
    lines.
    """

    time_s: Float
    value: Float
    piece: NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Fitted:
    """The line through a plateau, or the level that a held gas settles to, ppm, with its band."""

    from_s: float
    to_s: float
    from_ppm: float
    to_ppm: float
    half_ppm: float
    settles: bool


@dataclass(frozen=True, slots=True)
class Gas:
    """H2 or CH4 as it is drawn; ``value`` and ``fitted`` are None where there was none."""

    gas: str
    samples: Samples
    value: Value | None
    fitted: Fitted | None


@dataclass(frozen=True, slots=True)
class TraceParts:
    """All that is drawn of one trace; windows and limits in s on its clock.

    ``share`` is the marker gas on its way from room air, 0, to alveolar gas, 1; None without one.
    ``room_s`` is the room air that the zero was taken from.
    """

    start_s: float
    end_s: float
    gases: tuple[Gas, ...]
    marker: str
    share: Samples | None
    room_s: tuple[float, float] | None
    plateau_s: tuple[float, float] | None
    moments: tuple[Moment, ...]


def parts_of(
    trace: Trace, reduction: Reduction, *, sensors: Sensors, dilution: Dilution
) -> TraceParts:
    """Return what is drawn of a trace.

    Parameters
    ----------
    trace : Trace
        What was reduced.
    reduction : Reduction
        What came of it.
    sensors : mapping of channel name to Sensor
        What it was reduced with.
    dilution : Dilution
        References for room air and alveolar gas.

    Returns
    -------
    TraceParts

    Raises
    ------
    InputError
        If sensors and dilution are not such as can reduce a trace.
    """
    cycle = Cycle(sensors, reduction.method, reduction.settings, dilution)
    start_s, end_s = _seen(trace, reduction)
    watched = cycle.watched
    room_s = next((z.zero.window_s for z in reduction.zeros.values() if z.zero is not None), None)
    return TraceParts(
        start_s=start_s,
        end_s=end_s,
        gases=tuple(
            Gas(
                gas=name.partition("_")[0],
                samples=_samples(trace, name, sensors[name], reduction, (start_s, end_s)),
                value=reduction.values.get(name),
                fitted=_fitted(name, sensors[name], reduction),
            )
            for name in TRACE_GASES
            if name in sensors and name in trace.channels
        ),
        marker="" if watched is None else watched.marker.gas.upper(),
        share=_share(trace, watched, reduction, (start_s, end_s)),
        room_s=room_s,
        plateau_s=_plateau_s(reduction),
        moments=_moments(reduction),
    )


def _seen(trace: Trace, reduction: Reduction) -> tuple[float, float]:
    """Return from when to when a trace is shown: the breath and a little of what is around it."""
    first, last = float(trace.time_s[0]), float(trace.time_s[-1])
    times = reduction.times
    if times.onset_s is None:
        return first, last
    done_s = last if times.done_s is None else times.done_s
    lasted = max(done_s - times.onset_s, 1.0)
    return (
        max(first, times.onset_s - _BEFORE * lasted),
        max(min(last, done_s + _AFTER * lasted), times.onset_s),
    )


def _samples(
    trace: Trace, name: Channel, sensor: Sensor, reduction: Reduction, seen_s: tuple[float, float]
) -> Samples:
    """Return one channel's values, in pieces that no gap goes through."""
    value = trace.channel(name)
    zeroing = reduction.zeros.get(name)
    if zeroing is not None and zeroing.zero is not None:
        value = apply_zero(trace.time_s, value, zeroing.zero)
    at_s = trace.time_s - sensor.response.delay_s
    known = np.isfinite(value) & (at_s >= seen_s[0]) & (at_s <= seen_s[1])
    at_s, value = at_s[known], value[known]
    apart = np.diff(at_s)
    opened = apart > _OPEN * np.median(apart) if apart.size else apart > 0.0
    piece = np.concatenate([np.zeros(1, np.intp), np.cumsum(opened)])[: at_s.size]
    return Samples(at_s, value, piece)


def _share(
    trace: Trace, watched: Watched | None, reduction: Reduction, seen_s: tuple[float, float]
) -> Samples | None:
    if watched is None or watched.channel not in trace.channels:
        return None
    shown = _samples(trace, watched.channel, watched.sensor, reduction, seen_s)
    return Samples(shown.time_s, watched.share(shown.value), shown.piece)


def _plateau_s(reduction: Reduction) -> tuple[float, float] | None:
    """Return the plateau's window, or None where none was fitted."""
    fitted = any(value.slope_per_s is not None for value in reduction.values.values())
    return reduction.times.plateau_s if fitted else None


def _fitted(name: Channel, sensor: Sensor, reduction: Reduction) -> Fitted | None:
    """Return the line of a channel that saw the breath pass, or the level of one that held it."""
    value, times = reduction.values.get(name), reduction.times
    if value is None or not math.isfinite(value.u):
        return None
    half = COVERAGE * value.u
    window_s = _plateau_s(reduction)
    if value.slope_per_s is not None and window_s is not None and times.end_s is not None:
        begins = value.raw + value.slope_per_s * (window_s[0] - times.end_s)
        return Fitted(window_s[0], times.end_s, begins, value.raw, half, settles=False)
    if times.held_s is not None and times.done_s is not None:
        # Drawn on the inlet's clock as the samples are.
        done_s = max(times.done_s - sensor.response.delay_s, times.held_s)
        return Fitted(times.held_s, done_s, value.raw, value.raw, half, settles=True)
    return None


def _moments(reduction: Reduction) -> tuple[Moment, ...]:
    """Return what happened, in the order of time; what is known only later comes last."""
    times = reduction.times
    found = []
    if times.onset_s is not None:
        begins = "breath begins" if reduction.method == "blow" else "bag opened"
        held_at_once = times.held_s == times.onset_s
        found.append(Moment(times.onset_s, f"{begins}, gas held" if held_at_once else begins))
    if times.end_s is not None:
        held_then = times.held_s is not None
        found.append(Moment(times.end_s, "blow ends, gas held" if held_then else "blow ends"))
    elif times.held_s is not None and times.held_s != times.onset_s:
        found.append(Moment(times.held_s, "gas held"))
    if times.onset_s is not None and times.done_s is not None:
        found.append(Moment(times.done_s, "done"))
    return tuple(found)
