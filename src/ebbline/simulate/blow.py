"""Random blows and bags, as an analyser shows them, with the truth beside the trace."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.response import Response
from ebbline.core.breath.sensor import Sensor
from ebbline.core.breath.trace import Channel, Trace
from ebbline.simulate.bag import BagTruth, Collected, collect
from ebbline.simulate.breath import Marks, expirogram
from ebbline.simulate.draw import checked, draw_bag, draw_events, draw_exhalation, draw_sensors
from ebbline.simulate.exhalation import Event, Exhalation
from ebbline.simulate.gas import GASES, Gases
from ebbline.simulate.lines import Sampling, draw_lines
from ebbline.simulate.ranges import TYPICAL, Kind, Ranges
from ebbline.simulate.sensor import Sensed, VirtualSensor, held_gas, sense, t90_s

# TYPICAL, Kind and Ranges stand beside the function that takes them.
__all__ = [
    "TYPICAL",
    "Blow",
    "BlowTruth",
    "Kind",
    "Ranges",
    "known_sensors",
    "trace_of",
    "virtual_blow",
]

Float = NDArray[np.float64]
# The sensors' input is straight between points this far apart. The steepest transition in TYPICAL
# takes over 0.1 s, so what that leaves out is below 0.1 % of the step.
_GRID_S = 0.005


@dataclass(frozen=True, slots=True)
class BlowTruth:
    """What a perfect reading of a blow would be.

    ``alveolar`` is undiluted alveolar gas of what was measured; ``sample`` the gas that was
    measured (the last of a stream, the contents of a chamber or bag) and ``fraction`` its alveolar
    share. ``above_room`` is what an analyser zeroed on room air should show of the sample: H2 and
    CH4 above the room, O2 and CO2 as they are. ``held_from_s`` is when chamber or bag comes to the
    sensors, NaN for a stream.
    """

    alveolar: Gases
    sample: Gases
    above_room: Gases
    fraction: float
    held_from_s: float
    marks: Marks
    events: tuple[Event, ...]
    bag: BagTruth | None


@dataclass(frozen=True, slots=True)
class Blow:
    """One trace, arrays (n_samples,) with NaN where a line was dropped, and its truth.

    ``flow_l_per_s`` is None for a bag. ``channels`` and ``sensors`` are in the order of `GASES`:
    each channel with its gas at the inlet and its response, and the sensor that showed it;
    ``ranges`` is what all of it was drawn from.
    """

    kind: Kind
    time_s: Float
    h2_ppm: Float
    ch4_ppm: Float
    o2_pct: Float
    co2_pct: Float
    flow_l_per_s: Float | None
    truth: BlowTruth
    exhalation: Exhalation
    channels: tuple[Sensed, Sensed, Sensed, Sensed]
    sensors: tuple[VirtualSensor, VirtualSensor, VirtualSensor, VirtualSensor]
    sampling: Sampling
    ranges: Ranges


def virtual_blow(
    rng: np.random.Generator, *, ranges: Ranges, kind: Kind, events: tuple[Event, ...] | None
) -> Blow:
    """Return one blow as an analyser shows it.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all chance; the same seed gives the same blow.
    ranges : Ranges
        What is drawn from.
    kind : {"stream", "chamber", "bag"}
        All sensors see the breath pass; H2 and CH4 see its last part held in a chamber while O2 and
        CO2 see it pass; all see a bag, after room air. A blow that stops early goes into the bag
        whole: discarding first would leave it empty.
    events : tuple of event or None
        What happens; () is a good blow; None: drawn by ``ranges.chances``.

    Returns
    -------
    Blow

    Raises
    ------
    SettingError
        If an event is unknown, or two cannot be in one blow.
    """
    chosen = draw_events(rng, ranges) if events is None else checked(events)
    exhalation = draw_exhalation(rng, ranges, chosen)
    sensors = draw_sensors(rng, ranges, kind)
    rate_hz = ranges.rate_hz.draw_log(rng)
    sampling = Sampling(
        rate_hz=rate_hz,
        jitter_s=ranges.jitter_share.draw(rng) / rate_hz,
        dropped_share=ranges.dropped_share.draw(rng),
    )
    marks = expirogram(exhalation, np.zeros(1)).truth.marks
    bag = draw_bag(rng, ranges, exhalation) if kind == "bag" else None
    held_from_s = {"stream": math.nan, "chamber": marks.end_s, "bag": marks.onset_s}[kind]
    slow_s = max(t90_s(sensor.tau_s, sensor.tau2_s) for sensor in sensors)
    end_s = (
        marks.end_s + ranges.room_after_s.draw(rng)
        if kind == "stream"
        else held_from_s + ranges.hold_t90s.draw(rng) * slow_s
    )
    lines = draw_lines(rng, sampling, end_s)
    grid_s = np.arange(0.0, end_s + _GRID_S, _GRID_S)
    passing = expirogram(exhalation, grid_s)
    if bag is not None:
        measured = Collected(bag.fraction_after, bag.after, bag.alveolar)
    elif kind == "chamber":
        chamber_l = min(ranges.chamber_l.draw(rng), exhalation.end_l)
        measured = collect(exhalation, exhalation.end_l - chamber_l, exhalation.end_l)
    else:
        last = passing.truth
        measured = Collected(last.fraction, last.last, last.alveolar)
    inlet = [
        getattr(passing, gas)
        if sensor.regime == "stream"
        else held_gas(
            grid_s,
            before=getattr(exhalation.person.room, gas),
            held=getattr(measured.mixed, gas),
            from_s=held_from_s,
        )
        for gas, sensor in zip(GASES, sensors, strict=True)
    ]
    h2, ch4, o2, co2 = (
        sense(
            rng,
            time_s=grid_s,
            truth=truth,
            other=inlet[1] if gas == "h2_ppm" else None,
            sensor=sensor,
            lines=lines,
        )
        for gas, truth, sensor in zip(GASES, inlet, sensors, strict=True)
    )
    flow = None if bag is not None else expirogram(exhalation, lines.time_s).flow_l_per_s
    return Blow(
        kind=kind,
        time_s=lines.time_s,
        h2_ppm=h2.shown,
        ch4_ppm=ch4.shown,
        o2_pct=o2.shown,
        co2_pct=co2.shown,
        flow_l_per_s=None if flow is None else np.where(lines.dropped, np.nan, flow),
        truth=BlowTruth(
            alveolar=measured.alveolar,
            sample=measured.mixed,
            above_room=_above_room(measured.mixed, exhalation.person.room),
            fraction=measured.fraction,
            held_from_s=held_from_s,
            marks=marks,
            events=passing.truth.events,
            bag=bag,
        ),
        exhalation=exhalation,
        channels=(h2, ch4, o2, co2),
        sensors=sensors,
        sampling=sampling,
        ranges=ranges,
    )


def _above_room(sample: Gases, room: Gases) -> Gases:
    """Return a sample with its H2 and CH4 counted from room air."""
    return replace(
        sample, h2_ppm=sample.h2_ppm - room.h2_ppm, ch4_ppm=sample.ch4_ppm - room.ch4_ppm
    )


def trace_of(blow: Blow) -> Trace:
    """Return what the analyser sent of a blow, without its truth.

    Parameters
    ----------
    blow : Blow
        Any kind; a bag has no flow.

    Returns
    -------
    Trace

    Raises
    ------
    InputError
        If it is no trace, such as lines that came at less than 1 Hz by their median interval.
    """
    return Trace(
        time_s=blow.time_s,
        h2_ppm=blow.h2_ppm,
        ch4_ppm=blow.ch4_ppm,
        o2_pct=blow.o2_pct,
        co2_pct=blow.co2_pct,
        flow_l_per_s=blow.flow_l_per_s,
    )


def known_sensors(
    rng: np.random.Generator,
    blow: Blow,
    *,
    u_tau_fraction: float,
    u_delay_s: float,
) -> dict[Channel, Sensor]:
    """Return what an instrument's profile would know of the sensors that showed a blow.

    Regime, noise, step and range are the true ones. Time constants and delay are off by normal
    draws, both time constants of a channel by one factor. Offset, drift, gain error and
    cross-sensitivity stay unknown, but for how large they may be.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all chance.
    blow : Blow
        The blow.
    u_tau_fraction : float
        Relative standard deviation of the factor, 0 to 1; no factor is below 0.1.
    u_delay_s : float
        Standard deviation of the delay, s; no delay is below 0.

    Returns
    -------
    dict of channel to Sensor
        In the order of `GASES`. ``u_drift_per_h`` and ``u_gain_fraction`` are the root mean
        squares of the ranges that drift and gain error were drawn from; of one as wide on either
        side of 0, half its width over sqrt(3).

    Raises
    ------
    InputError
        If a sensor of the blow has no lag at all.
    SettingError
        If an uncertainty is outside its range, or a sensor has neither noise nor a step.
    """
    known: dict[Channel, Sensor] = {}
    for gas, sensor, drawn in zip(GASES, blow.sensors, blow.ranges.channels, strict=True):
        factor = max(1.0 + u_tau_fraction * float(rng.standard_normal()), 0.1)
        off_s = u_delay_s * float(rng.standard_normal())
        known[gas] = Sensor(
            regime=sensor.regime,
            response=Response(
                delay_s=max(sensor.delay_s + off_s, 0.0),
                tau_s=factor * sensor.tau_s,
                tau2_s=factor * sensor.tau2_s,
            ),
            u_tau_fraction=u_tau_fraction,
            u_delay_s=u_delay_s,
            noise=sensor.noise,
            noise_fraction=sensor.noise_fraction,
            resolution=sensor.step,
            u_drift_per_h=drawn.drift_per_h.root_mean_square(),
            u_gain_fraction=drawn.gain_error.root_mean_square(),
            lowest=sensor.lowest,
            highest=sensor.highest,
        )
    return known
