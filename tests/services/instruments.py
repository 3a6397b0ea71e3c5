"""Invented analysers, traces that are not on a disk, and a link that plays one."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from ebbline.core.breath.cycle import Method
from ebbline.core.breath.response import Response
from ebbline.core.breath.sensor import Regime, Sensor, Sensors
from ebbline.core.breath.trace import Channel, Float, Trace
from ebbline.core.errors import ProfileError, TraceFileError
from ebbline.services.events import Arrived, Event

ROOM = {"h2_ppm": 0.0, "ch4_ppm": 0.0, "o2_pct": 20.9, "co2_pct": 0.04}
BREATH = {"h2_ppm": 40.0, "ch4_ppm": 8.0, "o2_pct": 13.9, "co2_pct": 5.0}


@dataclass(frozen=True)
class AnInstrument:
    """An invented analyser."""

    name: str
    invented: bool
    sensors: Sensors


@dataclass(frozen=True)
class ARecord:
    """A trace as a file would hold it."""

    file: str
    trace: Trace
    kind: Method | None = None
    begun_s: float | None = None
    on_for_min: float | None = None
    invented: bool = False
    facts: Mapping[str, str] = field(default_factory=dict)
    unused: Mapping[str, str] = field(default_factory=dict)


def a_sensor(*, ppm: bool, regime: Regime = "stream", **changes: Any) -> Sensor:
    """Return a sensor of ppm or percent: 0.3 s to 90 % in a stream, 20 s in a chamber."""
    t90 = 0.3 if regime == "stream" else 20.0
    given: dict[str, Any] = {
        "regime": regime,
        "response": Response(delay_s=0.5, tau_s=t90 / math.log(10.0), tau2_s=0.0),
        "u_tau_fraction": 0.02,
        "u_delay_s": 0.02,
        "noise": 0.5 if ppm else 0.02,
        "noise_fraction": 0.0,
        "resolution": 0.0,
        "u_drift_per_h": 0.5 if ppm else 0.02,
        "u_gain_fraction": 0.02,
        "lowest": -20.0 if ppm else -1.0,
        "highest": 500.0 if ppm else 25.0,
    }
    return Sensor(**(given | changes))


def an_instrument(
    *channels: Channel, regime: Regime = "stream", invented: bool = False, **changes: Any
) -> AnInstrument:
    """Return an analyser with these channels, all of them without any."""
    names: tuple[Channel, ...] = channels or ("h2_ppm", "ch4_ppm", "o2_pct", "co2_pct")
    sensors = {name: a_sensor(ppm=name.endswith("ppm"), regime=regime, **changes) for name in names}
    return AnInstrument("our analyser", invented, sensors)


def with_sensor(instrument: AnInstrument, name: Channel, **changes: Any) -> AnInstrument:
    """Return an analyser with something else known of one channel."""
    sensors = dict(instrument.sensors)
    sensors[name] = replace(sensors[name], **changes)
    return replace(instrument, sensors=sensors)


def a_trace(
    instrument: AnInstrument,
    *,
    breath_s: tuple[float, float] = (65.0, 75.0),
    end_s: float = 85.0,
    rate_hz: float = 10.0,
    without: tuple[str, ...] = (),
) -> Trace:
    """Return what an analyser shows of room air, then a level breath, then room air; seed fixed."""
    rng = np.random.default_rng(5)
    time_s = np.arange(0.0, end_s, 1.0 / rate_hz)
    columns: dict[str, Float] = {}
    for name, sensor in instrument.sensors.items():
        since = np.maximum(time_s[:, None] - np.array(breath_s) - sensor.response.delay_s, 0.0)
        up, down = (1.0 - np.exp(-since / sensor.response.tau_s)).T
        clean = ROOM[name] + (BREATH[name] - ROOM[name]) * (up - down)
        columns[name] = clean + sensor.noise * rng.standard_normal(time_s.size)
    for missing in without:
        del columns[missing]
    none = dict.fromkeys(("h2_ppm", "ch4_ppm", "o2_pct", "co2_pct", "flow_l_per_s"))
    return Trace(time_s=time_s, **{**none, **columns})


class Shelf:
    """Traces and profiles that are not on a disk."""

    def __init__(self, instrument: AnInstrument, *records: ARecord) -> None:
        self.instrument = instrument
        self.records = {record.file: record for record in records}

    def read_trace(self, name: str) -> ARecord:
        if name not in self.records:
            raise TraceFileError(
                file=name, wrong="no such file", allowed="a trace file", came="nothing"
            )
        return self.records[name]

    def read_instrument(self, name: str) -> AnInstrument:
        if name != "our.toml":
            raise ProfileError(
                file=name, key="", wrong="no such file", allowed="a profile", came="nothing"
            )
        return self.instrument


class Played:
    """A link on which a trace arrives, one sample a look, with other events before some."""

    def __init__(self, trace: Trace, events: Mapping[int, Event] | None = None) -> None:
        self._trace = trace
        self._events = events or {}
        self._at = 0
        self.closed = False
        self.wrong: dict[Channel, float] = {}

    @property
    def over(self) -> bool:
        return self._at >= self._trace.time_s.size

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        at, self._at = self._at, self._at + 1
        values = {name: float(self._trace.channel(name)[at]) for name in self._trace.channels}
        arrived = Arrived(float(self._trace.time_s[at]), {**values, **self.wrong})
        return (self._events[at], arrived) if at in self._events else (arrived,)

    def close(self) -> None:
        self.closed = True
