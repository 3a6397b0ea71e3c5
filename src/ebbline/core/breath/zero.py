"""The zero: what a sensor shows in room air just before the blow, as a straight line in time."""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.zero_line import Zero, fit_line
from ebbline.core.errors import InputError, SettingError

Float = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroLimits:
    """When a window of room air counts as a zero; all are settings.

    Parameters
    ----------
    shortest_s : float
        Least length of the window, s; 60 s is common practice, no source.
    fewest : int
        Least number of samples, 3 or more.
    ambient_o2_pct, o2_within_pct : float
        O2 of room air, %, and how far the measured O2 may be from it.
    steady_in_u : float
        Largest slope of the channel, in standard uncertainties of that slope, known drift included.
    spread : float
        Largest residual sd about the line, in the channel's unit.
    remains : float
        Largest value above room air at the end of the window, in the channel's unit; above it
        breath gas of the last patient is taken to remain.

    Raises
    ------
    SettingError
        If a limit is outside its range.
    """

    shortest_s: float
    fewest: int
    ambient_o2_pct: float
    o2_within_pct: float
    steady_in_u: float
    spread: float
    remains: float

    def __post_init__(self) -> None:
        """Refuse limits that nothing can meet."""
        if not self.fewest >= 3:
            raise SettingError(
                f"zero limit fewest cannot be used; allowed: 3 or more; came: {self.fewest:g}"
            )
        for name in (
            "shortest_s",
            "ambient_o2_pct",
            "o2_within_pct",
            "steady_in_u",
            "spread",
            "remains",
        ):
            if not getattr(self, name) > 0.0:
                raise SettingError(
                    f"zero limit {name} cannot be used; allowed: above 0; "
                    f"came: {getattr(self, name):g}"
                )


class Zeroing(NamedTuple):
    """A zero and why it must not be used; without reasons it may.

    The numbers are kept beside the reasons. ``zero`` is None where there is no line to fit.
    """

    zero: Zero | None
    reasons: tuple[str, ...]


def zero_from(
    time_s: Float,
    value: Float,
    *,
    window_s: tuple[float, float],
    ambient: float,
    o2_pct: Float | None,
    least_sd: float,
    u_drift_per_s: float,
    limits: ZeroLimits,
) -> Zeroing:
    """Find offset and drift from the window of room air before the blow.

    A straight line by least squares; a slope that the noise alone makes would be carried on beyond
    the window, so what is known of the drift holds it back (JCGM 100:2008, 4.3). What is wrong with
    the measurement is told in words; a wrong call is an error.

    Parameters
    ----------
    time_s : ndarray, (n_samples,), s
        Times.
    value : ndarray, (n_samples,)
        One channel; NaN for gaps, which do not count.
    window_s : tuple of float
        Start and end of the window, both included, s.
    ambient : float
        What room air truly holds, in the channel's unit.
    o2_pct : ndarray or None, (n_samples,), %
        O2 on the same times; None where there is no such channel, and then it is not judged.
    least_sd : float
        Sd of single values that is known of the sensor, in the channel's unit; the scatter seen
        counts where it is larger. 0: nothing is known.
    u_drift_per_s : float
        Standard uncertainty of the drift before looking, about 0; infinite: nothing is known.
    limits : ZeroLimits
        When the window counts.

    Returns
    -------
    Zeroing
        The zero, and the reasons against it.

    Raises
    ------
    InputError
        If the arrays do not fit each other.
    """
    for name, array in (("value", value), ("o2_pct", o2_pct)):
        if array is not None and array.shape != time_s.shape:
            raise InputError(
                f"zero: {name} does not fit time_s; allowed: shape {time_s.shape}; "
                f"came: shape {array.shape}"
            )
    inside = (time_s >= window_s[0]) & (time_s <= window_s[1])
    known = inside & np.isfinite(value)
    count = int(known.sum())
    if count < limits.fewest:
        return Zeroing(
            None, (f"too few samples in room air: {count}, at least {limits.fewest} are needed",)
        )
    line = fit_line(time_s[known], value[known] - ambient)
    zero = line.zero(least_sd, u_drift_per_s)
    against = _against(line.zero(least_sd, math.inf), zero, u_drift_per_s, limits)
    return Zeroing(zero, (*against, *_against_o2(time_s, o2_pct, inside, limits)))


def apply_zero(time_s: Float, value: Float, zero: Zero) -> Float:
    """Return a channel with the zero taken off.

    Parameters
    ----------
    time_s : ndarray, (n_samples,), s
        Times.
    value : ndarray, (n_samples,)
        What the sensor showed; NaN for gaps, which stay.
    zero : Zero
        Its error, carried on as a line.

    Returns
    -------
    ndarray, (n_samples,)
        In the channel's unit.
    """
    return value - zero.error(time_s)


def _against(line: Zero, zero: Zero, u_drift_per_s: float, limits: ZeroLimits) -> tuple[str, ...]:
    """Return what speaks against a zero in its own channel."""
    reasons: list[str] = []
    length_s = zero.window_s[1] - zero.window_s[0]
    if length_s < limits.shortest_s:
        reasons.append(
            f"room air too short: {length_s:.3g} s, at least {limits.shortest_s:g} s are needed"
        )
    known = 0.0 if math.isinf(u_drift_per_s) else u_drift_per_s
    steady = limits.steady_in_u * math.hypot(line.u_drift_per_s, known)
    if abs(line.drift_per_s) > steady:
        reasons.append(
            f"room air not steady: it moves by {line.drift_per_s:.3g} a second, "
            f"at most {steady:.3g} is allowed"
        )
    if zero.residual_sd > limits.spread:
        reasons.append(
            f"room air not steady: it scatters by {zero.residual_sd:.3g}, "
            f"at most {limits.spread:.3g} is allowed"
        )
    if zero.offset > limits.remains:
        reasons.append(
            f"breath gas remains: {zero.offset:.3g} above room air, "
            f"at most {limits.remains:g} is allowed"
        )
    return tuple(reasons)


def _against_o2(
    time_s: Float, o2_pct: Float | None, inside: NDArray[np.bool_], limits: ZeroLimits
) -> tuple[str, ...]:
    """Return what speaks against a zero in the O2 of the same window."""
    if o2_pct is None:
        return ()
    known = inside & np.isfinite(o2_pct)
    if int(known.sum()) < limits.fewest:
        return ("O2 of room air not known: too few samples",)
    # Both ends of the line: a mean would hide breath that is still being washed out.
    line = fit_line(time_s[known], o2_pct[known]).zero(0.0, math.inf)
    ends = line.error(np.array(line.window_s))
    far = float(ends[np.argmax(np.abs(ends - limits.ambient_o2_pct))])
    if abs(far - limits.ambient_o2_pct) > limits.o2_within_pct:
        return (
            (
                f"O2 of room air is {far:.2f} %, "
                f"{limits.ambient_o2_pct:g} ± {limits.o2_within_pct:g} % is allowed"
            ),
        )
    return ()
