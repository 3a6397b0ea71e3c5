"""What speaks against a breath: every reason, with what was seen."""

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.cycle import Watched
from ebbline.core.breath.ended import Ended
from ebbline.core.breath.plateau import Plateau
from ebbline.core.breath.reasons import Reason
from ebbline.core.breath.reduction import Value
from ebbline.core.breath.samples import column
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.breath.trace import Channel

Float = NDArray[np.float64]


def reasons_against(
    ended: Ended,
    plateaus: Mapping[Channel, Plateau | None],
    values: Mapping[Channel, Value],
) -> tuple[Reason, ...]:
    """Return all reasons but dilution, in the order in which a cycle runs.

    Parameters
    ----------
    ended : Ended
        What the cycle has seen.
    plateaus : mapping
        The plateau of each channel that saw the breath pass; None: too few values.
    values : mapping
        The channels that have a value.

    Returns
    -------
    tuple of Reason
    """
    if ended.onset_s is None:
        return (Reason("no_breath", "no breath was seen"), *_outside(ended))
    return (
        *_warm(ended),
        *_zeroed(ended),
        *_blown(ended, plateaus),
        *_held(ended, values),
        *_range(ended),
        *_outside(ended),
    )


def _warm(ended: Ended) -> tuple[Reason, ...]:
    if ended.on_for_s is None or ended.on_for_s >= ended.cycle.settings.warm_up_s:
        return ()
    seen = (
        f"still warming: on for {math.floor(ended.on_for_s / 60.0)} min, "
        f"at least {ended.cycle.settings.warm_up_s / 60.0:g} min are needed"
    )
    return (Reason("still_warming", seen),)


def _zeroed(ended: Ended) -> tuple[Reason, ...]:
    return tuple(
        Reason("not_zeroed", f"{_gas(name)}: {why}")
        for name, zeroing in ended.zeros.items()
        for why in zeroing.reasons
    )


def _blown(ended: Ended, plateaus: Mapping[Channel, Plateau | None]) -> tuple[Reason, ...]:
    """Judge a blow that was seen as it passed."""
    watched = ended.cycle.watched
    if ended.blow_end_s is None or ended.onset_s is None or watched is None:
        return ()
    settings = ended.cycle.settings
    found: list[Reason] = []
    if ended.again or _inhaled(ended, ended.onset_s, ended.blow_end_s[1]):
        found.append(Reason("breathed_in", "room air came in the middle of the blow"))
    lasted_s = ended.blow_end_s[0] - ended.onset_s
    least_s = settings.wash_s + settings.trim_s + settings.plateau_shortest_s
    if lasted_s < least_s:
        # Rounded down, so that what is too short is never shown as long enough.
        shown_s = math.floor(max(lasted_s, 0.0) * 10.0) / 10.0
        seen = f"{shown_s:.1f} s of breath, at least {least_s:g} s are needed"
        return (*found, Reason("too_short", seen))
    gap_s = _longest_gap_s(ended, watched, ended.onset_s, ended.blow_end_s[1])
    if gap_s > settings.longest_gap_s:
        seen = f"{gap_s:.2f} s without a value, in which an inhalation could hide"
        found.append(Reason("gaps", seen))
    if plateaus[watched.channel] is None:
        seen = f"{_gas(watched.channel)}: too few values on the plateau"
        return (*found, Reason("too_short", seen))
    for name, line in plateaus.items():
        if line is None:
            found.append(Reason("gaps", f"{_gas(name)}: too few values on the plateau"))
            continue
        found += _unsteady(name, line, settings, name == watched.channel)
    return tuple(found)


def _unsteady(
    name: Channel, line: Plateau, settings: ReductionSettings, is_marker: bool
) -> list[Reason]:
    """Judge one plateau."""
    drift = line.slope_per_s * line.span_s
    # Noise alone makes a slope: what counts is what is beyond twice its uncertainty.
    beyond = abs(drift) - 2.0 * line.u_slope_per_s * line.span_s
    if beyond > settings.largest_drift * abs(line.level):
        share = 100.0 * abs(drift / line.level) if line.level else math.inf
        if is_marker and drift * line.level > 0.0:
            seen = f"{_gas(name)} still on its way to alveolar air, by {share:.0f} %"
            return [Reason("stopped_early", seen)]
        return [Reason("unsteady", f"{_gas(name)} moves by {share:.0f} % over the plateau")]
    if line.largest_residual > settings.largest_residual or line.misfit > settings.largest_misfit:
        seen = (
            f"{_gas(name)} is up to {line.largest_residual:.1f} times its noise off a straight "
            f"plateau, {settings.largest_residual:g} are allowed"
        )
        return [Reason("unsteady", seen)]
    return []


def _inhaled(ended: Ended, onset_s: float, end_s: float) -> bool:
    """Return whether the flow went inwards during the blow."""
    flow = ended.rows[:, column("flow_l_per_s")]
    during = (ended.rows[:, 0] >= onset_s) & (ended.rows[:, 0] <= end_s)
    return bool(np.any(flow[during] < -ended.cycle.settings.inhaled_l_per_s))


def _longest_gap_s(ended: Ended, watched: Watched, onset_s: float, end_s: float) -> float:
    """Return the longest time without a value of the marker, s, at onset and end included."""
    known = np.isfinite(ended.rows[:, column(watched.channel)])
    at_s = ended.rows[known, 0] - watched.sensor.response.delay_s
    first = max(int(np.searchsorted(at_s, onset_s)) - 1, 0)
    during = at_s[first : int(np.searchsorted(at_s, end_s, side="right")) + 1]
    return float(np.max(np.diff(during))) if during.size > 1 else math.inf


def _held(ended: Ended, values: Mapping[Channel, Value]) -> tuple[Reason, ...]:
    """Judge what was held."""
    found: list[Reason] = []
    for name, running in ended.held.items():
        if name not in values:
            found.append(Reason("too_short", f"{_gas(name)}: not watched long enough"))
        elif running.share[-1] < ended.cycle.settings.least_share:
            seen = f"{_gas(name)}: {100.0 * running.share[-1]:.0f} % of the response was seen"
            found.append(Reason("too_short", seen))
        elif running.misfit[-1] > ended.cycle.settings.largest_misfit:
            seen = f"{_gas(name)} does not settle as its sensor should"
            found.append(Reason("unsteady", seen))
    return tuple(found)


def _range(ended: Ended) -> tuple[Reason, ...]:
    """Judge whether a sensor was at an end of its range during the breath."""
    found: list[Reason] = []
    since = ended.rows[:, 0] >= (ended.onset_s or 0.0)
    for name, sensor in ended.cycle.sensors.items():
        shown = ended.rows[since, column(name)]
        if np.any(shown >= sensor.highest) or np.any(shown <= sensor.lowest):
            seen = f"{_gas(name)} at the end of its range, {sensor.lowest:g} to {sensor.highest:g}"
            found.append(Reason("over_range", seen))
    return tuple(found)


def _outside(ended: Ended) -> tuple[Reason, ...]:
    """Tell of numbers that no gas can have."""
    if not ended.outside:
        return ()
    first = ended.outside[0]
    seen = (
        f"{len(ended.outside)} value(s) outside physical limits, the first {first.value:g} of "
        f"{first.channel} at {first.time_s:g} s"
    )
    return (Reason("over_range", seen),)


def _gas(name: str) -> str:
    """Return a channel's gas as it is written."""
    return name.split("_", maxsplit=1)[0].upper()
