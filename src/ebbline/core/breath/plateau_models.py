"""Published definitions of a plateau, of other breath tests, that describe a blow.

No standard defines a plateau for hydrogen or methane, so these stand beside a reading and never
refuse it. Their numbers are rows of data/plateau_models.toml.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.expirogram import (
    bohr_fraction,
    end_tidal,
    fowler_dead_space_l,
    phase_iii_slope_pct_per_l,
)
from ebbline.core.errors import InputError

Float = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class WashoutModel:
    """Windows on expired volume, as shares of it.

    Parameters
    ----------
    title, source, provenance : str
        What it is, where it stands, and how it was read.
    phase_iii_from_share, phase_iii_to_share : float
        The alveolar plateau; 0.25 and 0.75.
    end_tidal_from_share, end_tidal_to_share : float
        The end-tidal value; 0.95 and 0.98.
    slowest_hz : float
        Least sampling rate, Hz, at which volumes are told.
    """

    title: str
    source: str
    provenance: str
    phase_iii_from_share: float
    phase_iii_to_share: float
    end_tidal_from_share: float
    end_tidal_to_share: float
    slowest_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ExhaledNoModel:
    """When a single exhalation counts for exhaled nitric oxide.

    Parameters
    ----------
    title, source, provenance : str
        What it is, where it stands, and how it was read.
    blow_s, child_blow_s : float
        Least exhalation, s, of an adult and of a child.
    child_under_years : float
        Age below which somebody is a child here.
    plateau_s, plateau_l : float
        Least plateau, s and L.
    largest_drift, largest_off : float
        Largest change between the ends of the plateau, and of any point from either end, as shares.
    """

    title: str
    source: str
    provenance: str
    blow_s: float
    child_blow_s: float
    child_under_years: float
    plateau_s: float
    plateau_l: float
    largest_drift: float
    largest_off: float


@dataclass(frozen=True, slots=True)
class ByVolume:
    """A blow against expired volume, from one marker gas.

    ``expired_l`` is the volume; ``fowler_l`` the dead space and ``bohr_share`` Bohr's as a share of
    the breath; ``phase_iii_per_l`` the plateau's slope, %/L; ``end_tidal_pct`` the mean of the
    end-tidal part.
    """

    expired_l: float
    fowler_l: float
    bohr_share: float
    phase_iii_per_l: float
    end_tidal_pct: float


class Unmet(NamedTuple):
    """One criterion that a blow does not meet: what was seen and what is asked."""

    what: str
    seen: float
    asked: float


def by_volume(
    volume_l: Float, fraction_pct: Float, *, inspired_pct: float, model: WashoutModel
) -> ByVolume:
    """Describe a blow against expired volume.

    Parameters
    ----------
    volume_l, fraction_pct : ndarray, (n_samples,), L and %
        Expired volume, never falling, and the marker gas at the inlet.
    inspired_pct : float
        The gas breathed in, %.
    model : WashoutModel
        The windows.

    Returns
    -------
    ByVolume

    Raises
    ------
    InputError
        If the arrays cannot be used, or there is no plateau to tell a dead space by.
    """
    plateau = {"plateau_from": model.phase_iii_from_share, "plateau_to": model.phase_iii_to_share}
    last = end_tidal(
        volume_l,
        fraction_pct,
        from_share=model.end_tidal_from_share,
        to_share=model.end_tidal_to_share,
    )
    return ByVolume(
        expired_l=float(volume_l[-1] - volume_l[0]),
        fowler_l=fowler_dead_space_l(volume_l, fraction_pct, inspired_pct=inspired_pct, **plateau),
        bohr_share=bohr_fraction(
            volume_l, fraction_pct, alveolar_pct=last, inspired_pct=inspired_pct
        ),
        phase_iii_per_l=phase_iii_slope_pct_per_l(volume_l, fraction_pct, **plateau),
        end_tidal_pct=last,
    )


def exhaled_no_unmet(
    time_s: Float,
    value: Float,
    volume_l: Float | None,
    *,
    plateau_end_s: float,
    age_years: float | None,
    model: ExhaledNoModel,
) -> tuple[Unmet, ...]:
    """Return which of the criteria of an exhaled-NO manoeuvre a blow does not meet.

    The plateau ends where it is said to end, and begins as much earlier as it is asked to be long
    and to hold.

    Parameters
    ----------
    time_s, value : ndarray, (n_samples,)
        Times of the exhalation, s, from its beginning to its end, and the gas at the inlet, smooth,
        in any unit, above what is in the room.
    volume_l : ndarray or None, (n_samples,), L
        Expired volume; None: not known, and not judged.
    plateau_end_s : float
        Until when the gas is told: the very end of an exhalation is often mixed with room air, s.
    age_years : float or None
        Age; None: judged as an adult.
    model : ExhaledNoModel
        The criteria.

    Returns
    -------
    tuple of Unmet
        Empty where all are met.

    Raises
    ------
    InputError
        If the arrays do not fit each other or are empty.
    """
    if time_s.ndim != 1 or time_s.size < 2 or value.shape != time_s.shape:
        raise InputError(
            "plateau: the arrays do not fit; allowed: times and values of one length, two or more; "
            f"came: shapes {time_s.shape} and {value.shape}"
        )
    child = age_years is not None and age_years < model.child_under_years
    least_s = model.child_blow_s if child else model.blow_s
    unmet: list[Unmet] = []
    lasted_s = float(time_s[-1] - time_s[0])
    if lasted_s < least_s:
        unmet.append(Unmet("breathed out for, s", lasted_s, least_s))
    last_at = max(int(np.searchsorted(time_s, plateau_end_s, side="right")) - 1, 0)
    begins = time_s >= time_s[last_at] - model.plateau_s
    if volume_l is not None:
        begins |= volume_l >= volume_l[last_at] - model.plateau_l
        held_l = float(volume_l[last_at] - volume_l[0])
        if held_l < model.plateau_l:
            unmet.append(Unmet("plateau volume, L", held_l, model.plateau_l))
    part = begins & (np.arange(time_s.size) <= last_at)
    first, last = float(value[part][0]), float(value[last_at])
    size = max(abs(first), abs(last))
    drift = abs(last - first) / size if size > 0.0 else 0.0
    if drift > model.largest_drift:
        unmet.append(Unmet("change over the plateau, share", drift, model.largest_drift))
    from_ends = np.maximum(np.abs(value[part] - first), np.abs(value[part] - last))
    off = float(from_ends.max()) / size if size > 0.0 else 0.0
    if off > model.largest_off:
        unmet.append(Unmet("farthest point from an end, share", off, model.largest_off))
    return tuple(unmet)
