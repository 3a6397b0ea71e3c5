"""The expirogram: a gas against expired volume, its dead space, plateau and end-tidal value.

Phase I is gas from the airways, II the transition, III the alveolar plateau. Every area is that of
straight lines between the samples, so it is exact for a curve made of straight pieces. Volume and
fraction must be stated for the same gas (dry or humid); nothing is converted here.

Sources: Fowler WS, Am J Physiol 1948;154:405 (from memory, not checked against the paper); Robinson
PD and others, ERS/ATS consensus on inert gas washout, Eur Respir J 2013;41:507-522.
"""

import math

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.alveolar_gas import bohr_dead_space_fraction
from ebbline.core.errors import InputError

Float = NDArray[np.float64]

# Rounding allowed for at the edges of a window, as a share of the breath.
_EDGE_SHARE = 1e-9


def expired_volume_l(time_s: Float, flow_l_per_s: Float) -> Float:
    """Return the volume breathed out since the first sample, by the trapezoid rule.

    Parameters
    ----------
    time_s : ndarray, (n_samples,), s
        Strictly increasing.
    flow_l_per_s : ndarray, (n_samples,), L/s
        Breathing out is positive.

    Returns
    -------
    ndarray, (n_samples,), L
        0 at the first sample; it falls where the patient breathes in.

    Raises
    ------
    InputError
        If the arrays do not fit each other or have gaps.
    """
    _check("expired volume", time_s, flow_l_per_s, "time_s", "flow_l_per_s")
    pieces = np.diff(time_s) * (flow_l_per_s[1:] + flow_l_per_s[:-1]) / 2.0
    return np.concatenate([[0.0], np.cumsum(pieces)])


def mixed_expired_pct(volume_l: Float, fraction_pct: Float) -> float:
    """Return the mean fraction of the whole breath, weighted by volume.

    Parameters
    ----------
    volume_l, fraction_pct : ndarray, (n_samples,), L and %
        Expired volume, never falling, and the gas.

    Returns
    -------
    float
        Percent.

    Raises
    ------
    InputError
        If the arrays cannot be used.
    """
    _check_breath("mixed expired gas", volume_l, fraction_pct)
    return _mean(volume_l, fraction_pct, float(volume_l[0]), float(volume_l[-1]))


def bohr_fraction(
    volume_l: Float, fraction_pct: Float, *, alveolar_pct: float, inspired_pct: float
) -> float:
    """Return Bohr's dead space as a share of the breath, (FA - FE)/(FA - FI).

    Parameters
    ----------
    volume_l, fraction_pct : ndarray, (n_samples,), L and %
        Expired volume, never falling, and the gas, CO2 as a rule.
    alveolar_pct, inspired_pct : float
        Its alveolar and its inspired fraction, %, which must differ.

    Returns
    -------
    float
        1.

    Raises
    ------
    InputError
        If the arrays cannot be used, or the two fractions are equal.
    """
    if alveolar_pct == inspired_pct:
        raise InputError(
            "Bohr dead space: the alveolar fraction cannot be used; allowed: other than the "
            f"inspired {inspired_pct:g} %; came: {alveolar_pct:g} %"
        )
    mixed = mixed_expired_pct(volume_l, fraction_pct)
    return bohr_dead_space_fraction(
        alveolar=alveolar_pct - inspired_pct, mixed_expired=mixed - inspired_pct
    )


def fowler_dead_space_l(
    volume_l: Float,
    fraction_pct: Float,
    *,
    inspired_pct: float,
    plateau_from: float,
    plateau_to: float,
) -> float:
    """Return Fowler's dead space: where an upright front would part the breath by equal areas.

    With the line of phase III carried back, VD solves

        area of F from 0 to V2 = area of the line from VD to V2,

    V2 being the end of the plateau window. The line is Theil and Sen's (median of all slopes), so
    that heart beats and single bad samples do not turn it. With a sloping plateau the result is
    not the middle of phase II: pi²/6 S w²/FA above V0 of the formula in `expirogram_model`.

    Parameters
    ----------
    volume_l, fraction_pct : ndarray, (n_samples,), L and %
        Expired volume, never falling, and the gas; CO2 rises, O2 falls, and both will do.
    inspired_pct : float
        Its inspired fraction, %, which dead space gas has.
    plateau_from, plateau_to : float
        Window of phase III as shares of expired volume, 0 to 1; the default of ERS/ATS 2013 is
        0.25 and 0.75.

    Returns
    -------
    float
        L.

    Raises
    ------
    InputError
        If the arrays or the window cannot be used, or no volume makes the areas equal.
    """
    start, end = _window("dead space", volume_l, fraction_pct, plateau_from, plateau_to)
    slope, level = _theil_sen("dead space", volume_l, fraction_pct - inspired_pct, start, end)
    first = float(volume_l[0])
    area = (_mean(volume_l, fraction_pct, first, end) - inspired_pct) * (end - first)
    # With d = V2 - VD the line's area is L2 d - S d²/2; this form of the root holds at S = 0 too.
    last = level + slope * end
    sign = math.copysign(1.0, last)
    under_root = last * last - 2.0 * slope * area
    bottom = abs(last) + math.sqrt(max(under_root, 0.0))
    plateau_l = 2.0 * sign * area / bottom if bottom > 0.0 else math.nan
    if not (under_root >= 0.0 and 0.0 < plateau_l <= end - first):
        raise InputError(
            "dead space: no volume makes the areas equal; allowed: a gas that leaves its inspired "
            f"{inspired_pct:g} % and reaches a plateau; came: a mean of "
            f"{area / (end - first) + inspired_pct:.3g} % and a plateau of "
            f"{last + inspired_pct:.3g} %"
        )
    return end - first - plateau_l


def phase_iii_slope_pct_per_l(
    volume_l: Float, fraction_pct: Float, *, plateau_from: float, plateau_to: float
) -> float:
    """Return the slope of the alveolar plateau, by Theil and Sen's line.

    Parameters
    ----------
    volume_l, fraction_pct : ndarray, (n_samples,), L and %
        Expired volume, never falling, and the gas.
    plateau_from, plateau_to : float
        Window as shares of expired volume, 0 to 1; the default of ERS/ATS 2013 is 0.25 and 0.75.

    Returns
    -------
    float
        %/L.

    Raises
    ------
    InputError
        If arrays or window cannot be used.
    """
    start, end = _window("phase III", volume_l, fraction_pct, plateau_from, plateau_to)
    return _theil_sen("phase III", volume_l, fraction_pct, start, end)[0]


def end_tidal(volume_l: Float, value: Float, *, from_share: float, to_share: float) -> float:
    """Return the end-tidal value: the mean over a late part of the expired volume.

    Parameters
    ----------
    volume_l, value : ndarray, (n_samples,), L and any unit
        Expired volume, never falling, and the gas.
    from_share, to_share : float
        The part, as shares of expired volume, 0 to 1; ERS/ATS 2013 give 0.95 and 0.98.

    Returns
    -------
    float
        In the unit of ``value``, weighted by volume; the ends are interpolated between samples.

    Raises
    ------
    InputError
        If arrays or window cannot be used.
    """
    start, end = _window("end-tidal value", volume_l, value, from_share, to_share)
    return _mean(volume_l, value, start, end)


def _check(what: str, along: Float, values: Float, along_name: str, name: str) -> None:
    """Refuse arrays that do not fit, or have gaps: an area over a gap would be made up."""
    if along.ndim != 1 or along.size < 2 or values.shape != along.shape:
        raise InputError(
            f"{what}: the arrays do not fit; allowed: {along_name} and {name} of one length, two "
            f"or more; came: shapes {along.shape} and {values.shape}"
        )
    gaps = np.flatnonzero(~(np.isfinite(along) & np.isfinite(values)))
    if gaps.size:
        raise InputError(
            f"{what}: {along_name} or {name} has gaps; allowed: none; "
            f"came: {gaps.size}, the first at sample {gaps[0]}"
        )


def _check_breath(what: str, volume_l: Float, values: Float) -> None:
    """Refuse a volume that falls, or that never rises."""
    _check(what, volume_l, values, "volume_l", "the gas")
    steps = np.diff(volume_l)
    back = np.flatnonzero(steps < 0.0)
    if back.size:
        raise InputError(
            f"{what}: expired volume falls at sample {back[0] + 1}; allowed: breathing out only; "
            f"came: {steps[back[0]]:.3g} L"
        )
    if not volume_l[-1] > volume_l[0]:
        raise InputError(f"{what}: nothing was breathed out; allowed: above 0 L; came: 0 L")


def _window(
    what: str, volume_l: Float, values: Float, from_share: float, to_share: float
) -> tuple[float, float]:
    """Return a window of volume, L, from its shares of the breath."""
    _check_breath(what, volume_l, values)
    if not 0.0 <= from_share < to_share <= 1.0:
        raise InputError(
            f"{what}: the window cannot be used; allowed: rising shares of 0 to 1; "
            f"came: {from_share:g} to {to_share:g}"
        )
    first, whole = float(volume_l[0]), float(volume_l[-1] - volume_l[0])
    return first + from_share * whole, first + to_share * whole


def _mean(volume_l: Float, values: Float, start_l: float, end_l: float) -> float:
    """Return the mean of straight pieces from one volume to another, exactly."""
    inside = (volume_l > start_l) & (volume_l < end_l)
    volume = np.concatenate([[start_l], volume_l[inside], [end_l]])
    ends = np.interp([start_l, end_l], volume_l, values)
    curve = np.concatenate([ends[:1], values[inside], ends[1:]])
    return float(np.sum(np.diff(volume) * (curve[1:] + curve[:-1])) / 2.0 / (end_l - start_l))


def _theil_sen(
    what: str, volume_l: Float, values: Float, start_l: float, end_l: float
) -> tuple[float, float]:
    """Return slope and level at 0 L of Theil and Sen's line through the samples of a window."""
    # A sample on the edge belongs to the window, whichever way its volume was rounded.
    edge = _EDGE_SHARE * float(volume_l[-1] - volume_l[0])
    inside = (volume_l >= start_l - edge) & (volume_l <= end_l + edge)
    volume, curve = volume_l[inside], values[inside]
    one, other = np.triu_indices(volume.size, k=1)
    run = volume[other] - volume[one]
    apart = run > 0.0
    if not apart.any():
        raise InputError(
            f"{what}: the plateau window is too short; allowed: two or more samples at different "
            f"volumes; came: {volume.size} sample(s)"
        )
    slope = float(np.median((curve[other] - curve[one])[apart] / run[apart]))
    return slope, float(np.median(curve - slope * volume))
