"""A trace: one exhalation, or one bag, sampled over time."""

from dataclasses import dataclass
from typing import Literal, Self

import numpy as np
from numpy.typing import NDArray

from ebbline.core.errors import InputError, list_allowed

Float = NDArray[np.float64]
Channel = Literal["h2_ppm", "ch4_ppm", "o2_pct", "co2_pct", "flow_l_per_s"]

# What a sensor can mean before it is zeroed, noise included. Outside it is a broken line, not
# breath. Engineering judgement, no source.
PHYSICAL: dict[Channel, tuple[float, float]] = {
    "h2_ppm": (-20.0, 2000.0),
    "ch4_ppm": (-20.0, 2000.0),
    "o2_pct": (5.0, 25.0),
    "co2_pct": (-1.0, 15.0),
    "flow_l_per_s": (-15.0, 15.0),
}
SLOWEST_HZ = 1.0
FASTEST_HZ = 100.0
# Where samples come unevenly the median interval is only near what the analyser means to send.
_UNEVEN = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """What the sensors showed during one exhalation, or of one bag.

    The arrays are copied and cannot be written to. NaN is a gap, a channel of None is not there.

    Parameters
    ----------
    time_s : ndarray, (n_samples,), s
        Strictly increasing; uneven intervals are allowed.
    h2_ppm, ch4_ppm : ndarray or None, (n_samples,), ppm
        -20 to 2000.
    o2_pct, co2_pct : ndarray or None, (n_samples,), %
        5 to 25 and -1 to 15.
    flow_l_per_s : ndarray or None, (n_samples,), L/s
        -15 to 15; breathing out is positive.

    Raises
    ------
    InputError
        If the times cannot be used, the median interval is not 0.01 to 1 s, a channel has another
        length, or a value is outside its physical limits.
    """

    time_s: Float
    h2_ppm: Float | None
    ch4_ppm: Float | None
    o2_pct: Float | None
    co2_pct: Float | None
    flow_l_per_s: Float | None

    def __post_init__(self) -> None:
        """Refuse what cannot be a trace, and keep own copies that nobody writes to."""
        object.__setattr__(self, "time_s", _frozen(self.time_s))
        _check_time(self.time_s)
        for name, limits in PHYSICAL.items():
            given: Float | None = getattr(self, name)
            if given is not None:
                kept = _frozen(given)
                _check_channel(name, kept, self.time_s, limits)
                object.__setattr__(self, name, kept)

    @property
    def channels(self) -> tuple[Channel, ...]:
        """Names of the channels that are there, in a fixed order."""
        return tuple(name for name in PHYSICAL if getattr(self, name) is not None)

    def channel(self, name: Channel) -> Float:
        """Return a channel by its name.

        Parameters
        ----------
        name : {"h2_ppm", "ch4_ppm", "o2_pct", "co2_pct", "flow_l_per_s"}
            Which channel.

        Returns
        -------
        ndarray, (n_samples,)
            In the unit of the name; NaN for gaps.

        Raises
        ------
        InputError
            If the trace has no such channel.
        """
        if name not in self.channels:
            raise InputError(
                f"the trace has no such channel; allowed: {list_allowed(self.channels) or 'none'}; "
                f"came: {name}"
            )
        values: Float = getattr(self, name)
        return values

    def between(self, start_s: float, end_s: float) -> Self:
        """Return the part of the trace from one time to another, both included.

        Parameters
        ----------
        start_s, end_s : float
            Limits on the trace's own time, s.

        Returns
        -------
        Trace
            The samples inside, at their own times.

        Raises
        ------
        InputError
            If what is inside is not a trace, such as fewer than two samples.
        """
        inside = (self.time_s >= start_s) & (self.time_s <= end_s)

        def part(values: Float | None) -> Float | None:
            return None if values is None else values[inside]

        return type(self)(
            time_s=self.time_s[inside],
            h2_ppm=part(self.h2_ppm),
            ch4_ppm=part(self.ch4_ppm),
            o2_pct=part(self.o2_pct),
            co2_pct=part(self.co2_pct),
            flow_l_per_s=part(self.flow_l_per_s),
        )


def _frozen(values: Float) -> Float:
    """Return a copy that cannot be written to."""
    kept = np.array(values, dtype=np.float64)
    kept.setflags(write=False)
    return kept


def _check_time(time_s: Float) -> None:
    """Refuse times that are not a series of rising numbers at a rate that sensors have."""
    if time_s.ndim != 1 or time_s.size < 2:
        raise InputError(
            "the trace's times cannot be used; allowed: one row of two or more; "
            f"came: shape {time_s.shape}"
        )
    bad = np.flatnonzero(~np.isfinite(time_s))
    if bad.size:
        raise InputError(
            f"the trace's time at sample {bad[0]} is not a number; allowed: finite seconds; "
            f"came: {time_s[bad[0]]:g}"
        )
    interval_s = np.diff(time_s)
    back = np.flatnonzero(interval_s <= 0.0)
    if back.size:
        at = back[0] + 1
        raise InputError(
            f"the trace's time does not rise at sample {at}; allowed: over {time_s[at - 1]:g} s; "
            f"came: {time_s[at]:g} s"
        )
    median_s = float(np.median(interval_s))
    shortest, longest = 1.0 / FASTEST_HZ, 1.0 / SLOWEST_HZ
    if not shortest * (1.0 - _UNEVEN) <= median_s <= longest * (1.0 + _UNEVEN):
        raise InputError(
            f"the trace's sampling cannot be used; allowed: {SLOWEST_HZ:g} to {FASTEST_HZ:g} Hz by "
            f"the median interval; came: {1.0 / median_s:g} Hz"
        )


def _check_channel(
    name: Channel, values: Float, time_s: Float, limits: tuple[float, float]
) -> None:
    """Refuse a channel of another length, or with a value that no sensor can mean."""
    if values.shape != time_s.shape:
        raise InputError(
            f"the trace's {name} does not fit its times; allowed: shape {time_s.shape}; "
            f"came: shape {values.shape}"
        )
    low, high = limits
    outside = np.flatnonzero((values < low) | (values > high))
    if outside.size:
        at = outside[0]
        raise InputError(
            f"the trace's {name} at {time_s[at]:g} s is outside physical limits; "
            f"allowed: {low:g} to {high:g}; came: {values[at]:g}"
        )
