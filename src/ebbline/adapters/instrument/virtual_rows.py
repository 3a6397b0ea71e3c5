"""What a virtual analyser with a profile's sensors would show: room air, a breath, and the next."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ebbline.adapters.instrument.profile import Profile, What
from ebbline.core.breath.sensor import Sensor
from ebbline.core.breath.trace import PHYSICAL, Channel
from ebbline.simulate.blow import TYPICAL, Blow, virtual_blow
from ebbline.simulate.breath import expirogram
from ebbline.simulate.exhalation import Event
from ebbline.simulate.gas import GASES, Gases
from ebbline.simulate.lines import Lines, Sampling, draw_lines
from ebbline.simulate.ranges import Ranges, Span
from ebbline.simulate.sensor import VirtualSensor, held_gas, sense, t90_s

Row = tuple[float, Mapping[Channel, float]]
"""Time, s, and values by channel."""

# Invented settings of the virtual analyser: ten lines a second, a little uneven, and 65 s of room
# air before a breath.
_RATE_HZ, _JITTER_SHARE, _ROOM_S = 10.0, 0.1, 65.0
# After a breath so many time constants of the slowest sensor pass until it shows room air again.
_CLEARED = 6.0
# Whoever learns sees a good breath first: nothing happens in it, and it is long enough, L.
_FIRST_L = Span(2.0, 4.0)
_ROOM = Gases(h2_ppm=0.6, ch4_ppm=1.9, o2_pct=20.9, co2_pct=0.05)
_OFFSET = Gases(h2_ppm=1.0, ch4_ppm=-0.5, o2_pct=0.02, co2_pct=0.01)
# As in `ebbline.simulate.blow`: the gas is straight between points so far apart.
_GRID_S = 0.005


def virtual_rows(profile: Profile, *, what: What, seed: int) -> Iterator[Row]:
    """Yield rows without end, each breath drawn anew; whatever can happen may, after the first.

    Parameters
    ----------
    profile : Profile
        Its sensors show the gas; room air, offsets and rate are invented.
    what : {"stream", "chamber", "bag"}
        What is measured, as in `ebbline.simulate.blow.virtual_blow`.
    seed : int
        Of all chance; the same seed gives the same rows.

    Yields
    ------
    time_s : float
        Rising strictly from 0.
    values : mapping of channel to float
    """
    rng = np.random.default_rng(seed)
    lags = [one.response.tau_s + one.response.tau2_s for one in profile.sensors.values()]
    begins_s, before = 0.0, _ROOM
    events: tuple[Event, ...] | None = ()
    while True:
        room_s = _ROOM_S if begins_s == 0.0 else _ROOM_S + _CLEARED * max(lags)
        ranges = replace(
            _ranges(profile, room_s), expired_l=_FIRST_L if events == () else TYPICAL.expired_l
        )
        blow = virtual_blow(rng, ranges=ranges, kind=what, events=events)
        end_s = math.ceil(float(blow.time_s[-1]))
        sampling = Sampling(rate_hz=_RATE_HZ, jitter_s=_JITTER_SHARE / _RATE_HZ, dropped_share=0.0)
        lines = draw_lines(rng, sampling, end_s)
        columns = _columns(rng, blow, profile, lines, before)
        for at, time_s in enumerate(lines.time_s):
            yield begins_s + float(time_s), {name: float(row[at]) for name, row in columns.items()}
        begins_s += end_s
        events = None
        before = _ROOM if what == "stream" else blow.truth.sample


def _ranges(profile: Profile, room_s: float) -> Ranges:
    """Return what a breath is drawn from: the typical ranges, in this analyser's room."""
    slow = [one for one in profile.sensors.values() if one.regime == "chamber"]
    held_s = max((_t90_s(one) for one in slow), default=TYPICAL.slow_t90_s.low)
    return replace(
        TYPICAL,
        room_h2_ppm=Span(_ROOM.h2_ppm, _ROOM.h2_ppm),
        room_ch4_ppm=Span(_ROOM.ch4_ppm, _ROOM.ch4_ppm),
        room_o2_pct=Span(_ROOM.o2_pct, _ROOM.o2_pct),
        room_co2_pct=Span(_ROOM.co2_pct, _ROOM.co2_pct),
        room_before_s=Span(room_s, room_s),
        slow_t90_s=Span(held_s, held_s),
        # The trace of this blow itself is not used, so it need not be fine.
        rate_hz=Span(1.0, 1.0),
        dropped_share=Span(0.0, 0.0),
    )


def _t90_s(sensor: Sensor) -> float:
    return t90_s(sensor.response.tau_s, sensor.response.tau2_s)


def _columns(
    rng: np.random.Generator, blow: Blow, profile: Profile, lines: Lines, before: Gases
) -> dict[Channel, NDArray[np.float64]]:
    """Return what each channel of the profile shows."""
    grid_s = np.arange(0.0, float(lines.time_s[-1]) + 2.0 * _GRID_S, _GRID_S)
    passing = expirogram(blow.exhalation, grid_s)
    columns: dict[Channel, NDArray[np.float64]] = {}
    for at, gas in enumerate(GASES):
        if gas not in profile.sensors:
            continue
        held = blow.kind == "bag" or (blow.kind == "chamber" and at < 2)
        inlet = (
            held_gas(
                grid_s,
                before=getattr(_ROOM, gas),
                held=getattr(blow.truth.sample, gas),
                from_s=blow.truth.held_from_s,
            )
            if held
            else np.array(getattr(passing, gas))
        )
        if held:
            # The sensor still shows the last breath, and room air comes to it at time 0.
            inlet[0] = getattr(before, gas)
        sensed = sense(
            rng,
            time_s=grid_s,
            truth=inlet,
            other=None,
            sensor=_virtual(profile.sensors[gas], getattr(_OFFSET, gas)),
            lines=lines,
        )
        columns[gas] = np.clip(sensed.shown, *PHYSICAL[gas])
    if any(one.channel == "flow_l_per_s" for one in profile.channels):
        flow = np.zeros(len(lines.time_s))
        if blow.kind != "bag":
            flow = expirogram(blow.exhalation, lines.time_s).flow_l_per_s
        columns["flow_l_per_s"] = flow
    return columns


def _virtual(sensor: Sensor, offset: float) -> VirtualSensor:
    """Return a virtual sensor that is as the profile says, with an offset that it does not know."""
    return VirtualSensor(
        regime=sensor.regime,
        delay_s=sensor.response.delay_s,
        tau_s=sensor.response.tau_s,
        tau2_s=sensor.response.tau2_s,
        noise=sensor.noise,
        noise_fraction=sensor.noise_fraction,
        offset=offset,
        drift_per_h=0.0,
        gain_error=0.0,
        step=sensor.resolution,
        lowest=sensor.lowest,
        highest=sensor.highest,
        cross_factor=0.0,
    )
