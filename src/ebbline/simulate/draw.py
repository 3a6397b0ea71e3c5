"""Draws what a blow is made of from its ranges; the same seed gives the same blow."""

import math
from typing import get_args

import numpy as np

from ebbline.core.errors import SettingError, list_allowed
from ebbline.simulate.bag import Bag, BagTruth, fill_bag
from ebbline.simulate.exhalation import (
    Cough,
    Event,
    Exhalation,
    Flow,
    Hold,
    Hyperventilation,
    Inhalation,
    Person,
)
from ebbline.simulate.gas import Gases, gases
from ebbline.simulate.ranges import ChannelRanges, Kind, Ranges, Span
from ebbline.simulate.sensor import Regime, VirtualSensor, t90_s

# Only one of these happens in a blow, and the last three leave no time for another.
_STOPS: tuple[Event, ...] = ("stopped_in_dead_space", "stopped_in_transition", "stopped_late")


def checked(events: tuple[Event, ...]) -> tuple[Event, ...]:
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


def draw_events(rng: np.random.Generator, ranges: Ranges) -> tuple[Event, ...]:
    """Draw what happens. After an early stop nothing else can; of two stops the first counts."""
    drawn = [event for event, chance in ranges.chances if rng.random() < chance]
    stop = next((event for event in drawn if event in _STOPS), None)
    if stop is not None:
        drawn = [event for event in drawn if event in ("held", "hyperventilated")] + [stop]
    return checked(tuple(drawn))


def draw_exhalation(
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


def draw_bag(rng: np.random.Generator, ranges: Ranges, exhalation: Exhalation) -> BagTruth:
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


def draw_sensors(
    rng: np.random.Generator, ranges: Ranges, kind: Kind
) -> tuple[VirtualSensor, VirtualSensor, VirtualSensor, VirtualSensor]:
    """Draw the four channels. The sensors of H2 and CH4 are slow unless they see the stream."""

    def one(row: int) -> VirtualSensor:
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


def draw_sensor(
    rng: np.random.Generator,
    ranges: ChannelRanges,
    *,
    regime: Regime,
    delay_s: Span,
    t90: Span,
    second_pole_share: Span,
    cross_factor: float,
) -> VirtualSensor:
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
        Cross-sensitivity, as in `VirtualSensor`.

    Returns
    -------
    VirtualSensor
    """
    share = second_pole_share.draw(rng)
    tau_s = t90.draw(rng) / t90_s(1.0, share)
    return VirtualSensor(
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
