"""Random blows and bags, as an analyser shows them, with the truth beside the trace.

Every range is a row of `Ranges`; `TYPICAL` holds those of this project's own checks. Where no
source stands beside a row it is an **invented setting**. The same seed gives the same blow.
"""

import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from ebbline.core.errors import SettingError, list_allowed
from ebbline.simulate.bag import (
    PLASTIC_SYRINGE,
    Bag,
    BagTruth,
    Collected,
    Storage,
    collect,
    fill_bag,
)
from ebbline.simulate.breath import (
    GASES,
    Cough,
    Event,
    Exhalation,
    Flow,
    Gases,
    Hold,
    Hyperventilation,
    Inhalation,
    Marks,
    Person,
    expirogram,
    gases,
)
from ebbline.simulate.sensor import (
    PERCENT_CHANNEL,
    PPM_CHANNEL,
    ChannelRanges,
    Sampling,
    Sensed,
    Sensor,
    Span,
    draw_lines,
    draw_sensor,
    held_gas,
    sense,
    t90_s,
)

Float = NDArray[np.float64]
Kind = Literal["stream", "chamber", "bag"]
# Only one of these happens in a blow, and the last three leave no time for another.
_STOPS: tuple[Event, ...] = ("stopped_in_dead_space", "stopped_in_transition", "stopped_late")
# The sensors' input is straight between points this far apart. The steepest transition in TYPICAL
# takes over 0.1 s, so what that leaves out is below 0.1 % of the step.
_GRID_S = 0.005


@dataclass(frozen=True, slots=True)
class Ranges:
    """What a blow is drawn from; each row's unit is in its name, times as shares of the blow.

    ``alveolar_o2_pct`` falls as ``alveolar_co2_pct`` rises: one draw places both, since both follow
    from the arterial CO2. ``hold_t90s`` is how long a chamber is watched, in t90 of the slow
    sensor. ``channels`` are in the order of `GASES`. ``chances`` gives each event's probability.
    """

    alveolar_h2_ppm: Span
    alveolar_ch4_ppm: Span
    alveolar_o2_pct: Span
    alveolar_co2_pct: Span
    room_h2_ppm: Span
    room_ch4_ppm: Span
    room_o2_pct: Span
    room_co2_pct: Span
    slope_fraction_per_l: Span
    dead_space_l: Span
    apparatus_l: Span
    transition_l: Span
    lung_l: Span
    expired_l: Span
    flow_l_per_s: Span
    flow_end_share: Span
    room_before_s: Span
    room_after_s: Span
    flush_s: Span
    hold_s: Span
    hold_co2_pct_per_s: Span
    hold_o2_pct_per_s: Span
    hold_trace_fraction_per_s: Span
    hyperventilation_share: Span
    stop_in_dead_space_share: Span
    stop_in_transition_fraction: Span
    stop_late_share: Span
    cough_at_share: Span
    cough_s: Span
    cough_spike: Span
    cough_dip: Span
    inhalation_at_share: Span
    inhalation_s: Span
    inhalation_l: Span
    chamber_l: Span
    hold_t90s: Span
    discard_l: Span
    bag_l: Span
    leak_share: Span
    age_h: Span
    storage: Storage
    rate_hz: Span
    jitter_share: Span
    dropped_share: Span
    delay_s: Span
    fast_t90_s: Span
    slow_t90_s: Span
    second_pole_share: Span
    h2_per_ch4: Span
    channels: tuple[ChannelRanges, ChannelRanges, ChannelRanges, ChannelRanges]
    chances: tuple[tuple[Event, float], ...]


TYPICAL = Ranges(
    alveolar_h2_ppm=Span(0.0, 200.0),
    alveolar_ch4_ppm=Span(0.0, 60.0),
    # Alveolar gas equation, sea level, R 0.8, arterial CO2 35 to 45 mmHg.
    alveolar_o2_pct=Span(13.0, 14.8),
    alveolar_co2_pct=Span(4.9, 6.3),
    # About 0.5 ppm H2 and 1.9 ppm CH4 outdoors (memory, not checked against a paper), more indoors.
    room_h2_ppm=Span(0.4, 3.0),
    room_ch4_ppm=Span(1.8, 4.0),
    room_o2_pct=Span(20.85, 20.95),
    room_co2_pct=Span(0.04, 0.12),
    slope_fraction_per_l=Span(0.0, 0.02),
    # About 0.15 L in an adult (memory: Fowler 1948), with mouthpiece and tube beside it.
    dead_space_l=Span(0.1, 0.2),
    apparatus_l=Span(0.0, 0.05),
    transition_l=Span(0.05, 0.09),
    lung_l=Span(1.5, 3.5),
    expired_l=Span(0.8, 4.0),
    flow_l_per_s=Span(0.15, 0.45),
    flow_end_share=Span(0.5, 0.95),
    # Common practice, no source: room air for 60 s before the blow.
    room_before_s=Span(60.0, 65.0),
    room_after_s=Span(2.0, 6.0),
    flush_s=Span(0.0, 1.0),
    hold_s=Span(5.0, 20.0),
    hold_co2_pct_per_s=Span(0.01, 0.04),
    hold_o2_pct_per_s=Span(0.05, 0.12),
    hold_trace_fraction_per_s=Span(0.0, 0.004),
    hyperventilation_share=Span(0.5, 0.9),
    stop_in_dead_space_share=Span(0.3, 0.95),
    stop_in_transition_fraction=Span(0.1, 0.9),
    stop_late_share=Span(0.4, 0.9),
    cough_at_share=Span(0.2, 0.45),
    cough_s=Span(0.2, 0.4),
    cough_spike=Span(1.5, 2.5),
    cough_dip=Span(0.0, 0.3),
    inhalation_at_share=Span(0.5, 0.8),
    inhalation_s=Span(0.4, 1.2),
    inhalation_l=Span(0.15, 1.0),
    chamber_l=Span(0.02, 0.1),
    hold_t90s=Span(2.5, 3.0),
    discard_l=Span(0.3, 0.5),
    bag_l=Span(0.25, 0.75),
    leak_share=Span(0.0, 0.15),
    age_h=Span(0.0, 48.0),
    storage=PLASTIC_SYRINGE,
    rate_hz=Span(1.0, 100.0),
    jitter_share=Span(0.0, 0.2),
    dropped_share=Span(0.0, 0.02),
    delay_s=Span(0.0, 1.0),
    fast_t90_s=Span(0.1, 1.0),
    slow_t90_s=Span(10.0, 60.0),
    second_pole_share=Span(0.0, 0.5),
    h2_per_ch4=Span(0.0, 0.0),
    channels=(PPM_CHANNEL, PPM_CHANNEL, PERCENT_CHANNEL, PERCENT_CHANNEL),
    chances=(
        ("held", 0.3),
        ("hyperventilated", 0.05),
        ("stopped_in_dead_space", 0.03),
        ("stopped_in_transition", 0.05),
        ("stopped_late", 0.1),
        ("coughed", 0.05),
        ("breathed_in", 0.05),
    ),
)


@dataclass(frozen=True, slots=True)
class BlowTruth:
    """What a perfect reading of a blow would be.

    ``alveolar`` is undiluted alveolar gas of what was measured; ``sample`` the gas that was
    measured (the last of a stream, the contents of a chamber or bag) and ``fraction`` its alveolar
    share. ``held_from_s`` is when chamber or bag comes to the sensors, NaN for a stream.
    """

    alveolar: Gases
    sample: Gases
    fraction: float
    held_from_s: float
    marks: Marks
    events: tuple[Event, ...]
    bag: BagTruth | None


@dataclass(frozen=True, slots=True)
class Blow:
    """One trace, arrays (n_samples,) with NaN where a line was dropped, and its truth.

    ``flow_l_per_s`` is None for a bag. ``channels`` and ``sensors`` are in the order of `GASES`:
    each channel with its gas at the inlet and its response, and the sensor that showed it.
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
    sensors: tuple[Sensor, Sensor, Sensor, Sensor]
    sampling: Sampling


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
    chosen = _draw_events(rng, ranges) if events is None else _checked(events)
    exhalation = _draw_exhalation(rng, ranges, chosen)
    sensors = _draw_sensors(rng, ranges, kind)
    rate_hz = ranges.rate_hz.draw_log(rng)
    sampling = Sampling(
        rate_hz=rate_hz,
        jitter_s=ranges.jitter_share.draw(rng) / rate_hz,
        dropped_share=ranges.dropped_share.draw(rng),
    )
    marks = expirogram(exhalation, np.zeros(1)).truth.marks
    bag = _draw_bag(rng, ranges, exhalation) if kind == "bag" else None
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
    )


def _checked(events: tuple[Event, ...]) -> tuple[Event, ...]:
    """Refuse events that are unknown or cannot be in one blow; return them in their order."""
    known: tuple[Event, ...] = get_args(Event)
    for event in events:
        if event not in known:
            raise SettingError(
                f"virtual event is unknown; allowed: {list_allowed(known)}; came: {event}"
            )
    stops = [event for event in events if event in _STOPS]
    crowded = bool(stops) and ("coughed" in events or "breathed_in" in events)
    if len(stops) > 1 or crowded:
        raise SettingError(
            "virtual events do not go together; allowed: one early stop, and then neither a cough "
            f"nor an inhalation; came: {', '.join(events)}"
        )
    return tuple(event for event in known if event in events)


def _draw_events(rng: np.random.Generator, ranges: Ranges) -> tuple[Event, ...]:
    """Draw what happens. After an early stop nothing else can; of two stops the first counts."""
    drawn = [event for event, chance in ranges.chances if rng.random() < chance]
    stop = next((event for event in drawn if event in _STOPS), None)
    if stop is not None:
        drawn = [event for event in drawn if event in ("held", "hyperventilated")] + [stop]
    return _checked(tuple(drawn))


def _draw_exhalation(
    rng: np.random.Generator, ranges: Ranges, events: tuple[Event, ...]
) -> Exhalation:
    """Draw a person and a blow in which the events happen."""
    share = float(rng.random())
    room = Gases(
        h2_ppm=ranges.room_h2_ppm.draw(rng),
        ch4_ppm=ranges.room_ch4_ppm.draw(rng),
        o2_pct=ranges.room_o2_pct.draw(rng),
        co2_pct=ranges.room_co2_pct.draw(rng),
    )
    alveolar = Gases(
        h2_ppm=ranges.alveolar_h2_ppm.draw(rng),
        ch4_ppm=ranges.alveolar_ch4_ppm.draw(rng),
        o2_pct=ranges.alveolar_o2_pct.at(1.0 - share),
        co2_pct=ranges.alveolar_co2_pct.at(share),
    )
    slope = ranges.slope_fraction_per_l.draw(rng) * (alveolar.values() - room.values())
    person = Person(
        alveolar=alveolar,
        room=room,
        slope_per_l=gases(slope),
        dead_space_l=ranges.dead_space_l.draw(rng),
        transition_l=ranges.transition_l.draw(rng),
        lung_l=ranges.lung_l.draw(rng),
    )
    apparatus_l, expired_l = ranges.apparatus_l.draw(rng), ranges.expired_l.draw(rng)
    flow = _draw_flow(rng, ranges)
    stop_l = _draw_stop(rng, ranges, events, person, apparatus_l, expired_l)
    seconds = flow.seconds(expired_l if stop_l is None else stop_l, expired_l)
    cough = Cough(
        at_s=ranges.cough_at_share.draw(rng) * seconds,
        duration_s=ranges.cough_s.draw(rng),
        spike=ranges.cough_spike.draw(rng),
        dip=ranges.cough_dip.draw(rng),
    )
    # Somebody who coughs breathes in after the cough at the earliest.
    earliest = cough.at_s + cough.duration_s if "coughed" in events else 0.0
    inhalation = Inhalation(
        at_s=max(ranges.inhalation_at_share.draw(rng) * seconds, earliest),
        duration_s=ranges.inhalation_s.draw(rng),
        volume_l=ranges.inhalation_l.draw(rng),
    )
    hold = Hold(
        seconds=ranges.hold_s.draw(rng),
        co2_pct_per_s=ranges.hold_co2_pct_per_s.draw(rng),
        o2_pct_per_s=ranges.hold_o2_pct_per_s.draw(rng),
        trace_fraction_per_s=ranges.hold_trace_fraction_per_s.draw(rng),
    )
    deep = Hyperventilation(
        marker_share=ranges.hyperventilation_share.draw(rng),
        trace_share=ranges.hyperventilation_share.draw(rng),
    )
    return Exhalation(
        person=person,
        apparatus_l=apparatus_l,
        expired_l=expired_l,
        flow=flow,
        room_before_s=ranges.room_before_s.draw(rng),
        flush_s=ranges.flush_s.draw(rng),
        hold=hold if "held" in events else None,
        hyperventilation=deep if "hyperventilated" in events else None,
        stop_l=stop_l,
        cough=cough if "coughed" in events else None,
        inhalation=inhalation if "breathed_in" in events else None,
    )


def _draw_flow(rng: np.random.Generator, ranges: Ranges) -> Flow:
    """Draw a flow: a third of them constant, a third decaying, a third a ramp up or down."""
    high = ranges.flow_l_per_s.draw(rng)
    low = high * ranges.flow_end_share.draw(rng)
    flows = (
        Flow("constant", high, high),
        Flow("decaying", high, low),
        Flow("ramp", high, low),
        Flow("ramp", low, high),
    )
    return flows[int(rng.choice(4, p=(1 / 3, 1 / 3, 1 / 6, 1 / 6)))]


def _draw_stop(
    rng: np.random.Generator,
    ranges: Ranges,
    events: tuple[Event, ...],
    person: Person,
    apparatus_l: float,
    expired_l: float,
) -> float | None:
    """Draw the expired volume at which the blow breaks off."""
    dead, half = person.dead_space_l + apparatus_l, person.transition_l / 2.0
    if "stopped_in_dead_space" in events:
        return ranges.stop_in_dead_space_share.draw(rng) * (dead - half)
    if "stopped_in_transition" in events:
        fraction = ranges.stop_in_transition_fraction.draw(rng)
        return dead + half * math.log(fraction / (1.0 - fraction)) / math.log(19.0)
    if "stopped_late" in events:
        return Span(dead + half, expired_l).at(ranges.stop_late_share.draw(rng))
    return None


def _draw_bag(rng: np.random.Generator, ranges: Ranges, exhalation: Exhalation) -> BagTruth:
    """Draw a bag and fill it."""
    discard_l = ranges.discard_l.draw(rng)
    bag = Bag(
        discard_l=discard_l if exhalation.stop_l is None else 0.0,
        volume_l=ranges.bag_l.draw(rng),
        leak_share=ranges.leak_share.draw(rng),
        age_h=ranges.age_h.draw(rng),
        storage=ranges.storage,
    )
    return fill_bag(exhalation, bag)


def _draw_sensors(
    rng: np.random.Generator, ranges: Ranges, kind: Kind
) -> tuple[Sensor, Sensor, Sensor, Sensor]:
    """Draw the four channels. The sensors of H2 and CH4 are slow unless they see the stream."""

    def one(row: int) -> Sensor:
        slow = row < 2 and kind != "stream"
        return draw_sensor(
            rng,
            ranges.channels[row],
            regime="chamber" if slow or kind == "bag" else "stream",
            delay_s=ranges.delay_s,
            t90=ranges.slow_t90_s if slow else ranges.fast_t90_s,
            second_pole_share=ranges.second_pole_share,
            cross_factor=ranges.h2_per_ch4.draw(rng) if row == 0 else 0.0,
        )

    return one(0), one(1), one(2), one(3)
