"""A blow with its lag undone: marker gas at the inlet, against time and, with flow, volume."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.cycle import Cycle
from ebbline.core.breath.expirogram import expired_volume_l
from ebbline.core.breath.lag import unlag
from ebbline.core.breath.plateau_models import (
    ByVolume,
    ExhaledNoModel,
    Unmet,
    WashoutModel,
    by_volume,
    exhaled_no_unmet,
)
from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.trace import Trace
from ebbline.core.errors import InputError

Float = NDArray[np.float64]

# Undoing the lag needs some of the record before the breath, and a front passes within this time.
_BEFORE_S = 5.0
# How far back from the front the exhalation may have begun: dead space at the slowest flow.
_DEAD_SPACE_S = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Expiration:
    """What one blow was like, beside the reading.

    ``time_s``, ``marker_pct`` and ``volume_l`` are arrays (n_samples,) of the exhalation at the
    inlet (``volume_l`` is None without flow); ``noise_gain`` what undoing the lag did to the noise.
    ``volumes`` is None without flow or where volume tells no dead space, and ``no_volumes`` then
    says why; ``exhaled_no`` lists the criteria of an exhaled-NO manoeuvre that are not met.
    """

    time_s: Float
    marker_pct: Float
    volume_l: Float | None
    noise_gain: float
    volumes: ByVolume | None
    no_volumes: str
    exhaled_no: tuple[Unmet, ...]


def expiration_of(
    trace: Trace,
    reduction: Reduction,
    cycle: Cycle,
    *,
    washout: WashoutModel,
    exhaled_no: ExhaledNoModel,
    age_years: float | None,
) -> Expiration | None:
    """Describe the blow of a trace.

    Parameters
    ----------
    trace : Trace
        The trace.
    reduction : Reduction
        What it was reduced to.
    cycle : Cycle
        What it was reduced with.
    washout, exhaled_no : WashoutModel and ExhaledNoModel
        Published windows and criteria.
    age_years : float or None
        Age of the patient, where known.

    Returns
    -------
    Expiration or None
        None where no blow was seen to pass, or too little of it.
    """
    watched, times = cycle.watched, reduction.times
    if watched is None or times.onset_s is None or times.end_s is None:
        return None
    zero = reduction.zeros[watched.channel].zero
    near = (trace.time_s >= times.onset_s - _BEFORE_S) & (trace.time_s <= times.end_s + _BEFORE_S)
    time_s, shown = trace.time_s[near], trace.channel(watched.channel)[near]
    if np.isfinite(shown).sum() < 5:
        return None
    zeroed = shown if zero is None else shown - zero.error(time_s)
    response = watched.sensor.response
    gas = unlag(time_s, zeroed, response, smoothing_s=(response.tau_s + response.tau2_s) / 2.0)
    flow = None if trace.flow_l_per_s is None else trace.flow_l_per_s[near]
    begun_s = _begun_s(time_s, flow, times.onset_s, cycle.settings.inhaled_l_per_s)
    during = (time_s >= begun_s) & (time_s <= times.end_s) & np.isfinite(gas.value)
    if flow is not None:
        during &= np.isfinite(flow)
    if during.sum() < 3:
        return None
    marker_pct, at_s = gas.value[during], time_s[during]
    volume_l = None if flow is None else expired_volume_l(at_s, flow[during])
    rate_hz = 1.0 / float(np.median(np.diff(at_s)))
    volumes, why = _volumes(volume_l, marker_pct, watched.marker.ambient_pct, washout, rate_hz)
    above = np.abs(marker_pct - watched.marker.ambient_pct)
    return Expiration(
        time_s=at_s,
        marker_pct=marker_pct,
        volume_l=volume_l,
        noise_gain=gas.noise_gain,
        volumes=volumes,
        no_volumes=why,
        exhaled_no=exhaled_no_unmet(
            at_s,
            above,
            volume_l,
            plateau_end_s=at_s[-1] if times.plateau_s is None else times.plateau_s[1],
            age_years=age_years,
            model=exhaled_no,
        ),
    )


def _begun_s(time_s: Float, flow: Float | None, onset_s: float, least_l_per_s: float) -> float:
    """Return when breathing out began: with flow, before the front came through the dead space."""
    if flow is None:
        return onset_s
    out = (time_s >= onset_s - _DEAD_SPACE_S) & (time_s <= onset_s) & (flow > least_l_per_s)
    return float(time_s[out][0]) if out.any() else onset_s


def _volumes(
    volume_l: Float | None,
    marker_pct: Float,
    inspired_pct: float,
    model: WashoutModel,
    rate_hz: float,
) -> tuple[ByVolume | None, str]:
    """Return what volume tells, or why it tells nothing."""
    if volume_l is None:
        return None, "no flow was measured"
    # Uneven times make the median interval a little longer than what the analyser means to send.
    if rate_hz < 0.95 * model.slowest_hz:
        return None, f"{rate_hz:.3g} samples a second, at least {model.slowest_hz:g} are needed"
    try:
        return by_volume(volume_l, marker_pct, inspired_pct=inspired_pct, model=model), ""
    except InputError as error:
        return None, str(error)
