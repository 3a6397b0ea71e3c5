"""What the tests of reducing a trace are given, worked out by hand; every value is invented."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.testing import assert_array_equal
from numpy.typing import NDArray

from ebbline.core.breath.dilution import Marker
from ebbline.core.breath.reading import Dilution
from ebbline.core.breath.reduce import Reducer, reduce
from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.response import Response
from ebbline.core.breath.samples import rows_of
from ebbline.core.breath.sensor import Sensor
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.breath.trace import Channel, Trace
from tests.helpers import a_dilution, known

Float = NDArray[np.float64]

# Like data/reduction.toml, but for a slope of 0 before looking; the tests keep their own, so that
# another choice there does not make them tell of something else.
SETTINGS = ReductionSettings(
    warm_up_s=1200.0,
    zero_window_s=60.0,
    zero_shortest_s=50.0,
    zero_guard_s=1.5,
    zero_o2_within_pct=0.5,
    zero_steady_in_u=5.0,
    zero_spread=3.0,
    zero_remains_ppm=10.0,
    onset_share=0.2,
    turn_share=0.05,
    turn_in_sd=7.0,
    smooth_s=0.3,
    confirm_s=5.0,
    longest_blow_s=60.0,
    inhaled_l_per_s=0.05,
    longest_gap_s=1.25,
    wash_s=1.0,
    trim_s=0.3,
    plateau_shortest_s=1.0,
    plateau_longest_s=8.0,
    largest_drift=0.1,
    slope_fraction_per_s=0.0,
    u_slope_fraction_per_s=0.005,
    largest_residual=6.0,
    fewest=3,
    least_share=0.5,
    u_ppm=1.0,
    u_fraction=0.05,
    longest_hold_s=45.0,
    u_begun_s=1.0,
    largest_misfit=4.0,
)
MARKERS = (
    Marker("o2", 20.9, 0.05, 13.9, 0.5, 0.2, 0.0),
    Marker("co2", 0.04, 0.01, 5.0, 0.4, 0.1, 0.0),
)
DILUTION = a_dilution(*MARKERS, u_ambient_ppm=0.3)

# 10 Hz: 70 s of room air, a breath from 0 to 10 s, and room air again.
TIME = np.arange(-700, 181) / 10.0
LONG = np.arange(-700, 900) / 10.0
END_S = 10.0
ROOM: dict[Channel, float] = {"h2_ppm": 0.0, "ch4_ppm": 0.0, "o2_pct": 20.9, "co2_pct": 0.04}
BREATH: dict[Channel, float] = {"h2_ppm": 40.0, "ch4_ppm": 12.0, "o2_pct": 13.5, "co2_pct": 5.2}


def a_sensor(**changes: Any) -> Sensor:
    """Return a fast sensor for ppm that sees the breath pass."""
    given: dict[str, Any] = {
        "regime": "stream",
        "response": Response(delay_s=0.2, tau_s=0.3, tau2_s=0.0),
        "u_tau_fraction": 0.02,
        "u_delay_s": 0.05,
        "noise": 0.5,
        "noise_fraction": 0.0,
        "resolution": 0.0,
        "u_drift_per_h": 2.0,
        "u_gain_fraction": 0.01,
        "lowest": -20.0,
        "highest": 500.0,
    }
    return Sensor(**(given | changes))


FAST = a_sensor()
SLOW = a_sensor(regime="chamber", response=Response(delay_s=0.5, tau_s=12.0, tau2_s=3.0))
PERCENT = a_sensor(noise=0.02, u_drift_per_h=0.05, lowest=-1.0, highest=25.0)
STREAM: dict[Channel, Sensor] = {
    "h2_ppm": FAST,
    "ch4_ppm": FAST,
    "o2_pct": PERCENT,
    "co2_pct": PERCENT,
}
CHAMBER: dict[Channel, Sensor] = STREAM | {"h2_ppm": SLOW, "ch4_ppm": SLOW}
BAG: dict[Channel, Sensor] = {
    name: replace(sensor, regime="chamber") for name, sensor in CHAMBER.items()
}

# A bag of which only hydrogen is measured: a person has to say when it begins.
BLIND: dict[str, Any] = {
    "sensors": {"h2_ppm": SLOW},
    "dilution": replace(DILUTION, markers=()),
    "method": "bag",
}


def settings_of(**changes: Any) -> ReductionSettings:
    """Return the settings with some of them changed."""
    return replace(SETTINGS, **changes)


def step(since: Float, response: Response) -> Float:
    """Return what one pole, or two different ones, show of a step: 1 - exp(-t/tau), and so on."""
    late = np.maximum(since - response.delay_s, 0.0)
    tau, tau2 = response.tau_s, response.tau2_s
    if tau2 == 0.0:
        return np.asarray(1.0 - np.exp(-late / tau))
    left = (tau * np.exp(-late / tau) - tau2 * np.exp(-late / tau2)) / (tau - tau2)
    return np.asarray(1.0 - left)


def ramp(since: Float, response: Response) -> Float:
    """Return what they show of a ramp of 1 a second: the integral of a step's answer."""
    late = np.maximum(since - response.delay_s, 0.0)
    tau, tau2 = response.tau_s, response.tau2_s
    if tau2 == 0.0:
        return np.asarray(late - tau + tau * np.exp(-late / tau))
    left = (tau * tau * np.exp(-late / tau) - tau2 * tau2 * np.exp(-late / tau2)) / (tau - tau2)
    return np.asarray(late - tau - tau2 + left)


def passing(
    time: Float,
    response: Response,
    *,
    room: float,
    breath: float,
    slope: float = 0.0,
    from_s: float = 0.0,
    to_s: float = END_S,
) -> Float:
    """Return what is shown of a gas that is straight in time during a breath, up to ``breath``."""
    begin = breath - room - slope * (to_s - from_s)
    came = begin * step(time - from_s, response) + slope * ramp(time - from_s, response)
    went = (breath - room) * step(time - to_s, response) + slope * ramp(time - to_s, response)
    return room + came - went


def a_trace(
    *,
    time: Float = TIME,
    sensors: dict[Channel, Sensor] | None = None,
    breath: dict[Channel, float] | None = None,
    slope: dict[Channel, float] | None = None,
    to_s: float = END_S,
    seed: int | None = None,
    held: bool = False,
    replaced: dict[Channel, Float] | None = None,
    flow: Float | None = None,
) -> Trace:
    """Return a blow, or with ``held`` a bag at 0 s; each channel as its sensor shows it.

    A chamber channel of a blow shows the breath from its end on. Without a seed there is no noise.
    """
    rng = None if seed is None else np.random.default_rng(seed)
    shown: dict[Channel, Float] = {}
    for name, sensor in (STREAM if sensors is None else sensors).items():
        room, value = ROOM[name], (BREATH | (breath or {}))[name]
        if held or sensor.regime == "chamber":
            start_s = 0.0 if held else to_s
            gas = room + (value - room) * step(time - start_s, sensor.response)
        else:
            rising = (slope or {}).get(name, 0.0)
            gas = passing(time, sensor.response, room=room, breath=value, slope=rising, to_s=to_s)
        shown[name] = gas if rng is None else gas + sensor.noise * rng.normal(size=time.size)
    shown |= replaced or {}
    return Trace(
        time_s=time,
        h2_ppm=shown.get("h2_ppm"),
        ch4_ppm=shown.get("ch4_ppm"),
        o2_pct=shown.get("o2_pct"),
        co2_pct=shown.get("co2_pct"),
        flow_l_per_s=flow,
    )


def givens(**changes: Any) -> dict[str, Any]:
    """Return what a blow in stream is reduced with."""
    given: dict[str, Any] = {
        "sensors": STREAM,
        "method": "blow",
        "settings": SETTINGS,
        "dilution": DILUTION,
        "begun_s": None,
        "switched_on_s": None,
    }
    return given | changes


def reduced(trace: Trace, **changes: Any) -> Reduction:
    """Reduce a whole trace."""
    return reduce(trace, **givens(**changes))


def a_reducer(**changes: Any) -> Reducer:
    """Return a reducer that has seen nothing."""
    return Reducer(**givens(**changes))


def in_blocks(rows: Float, sizes: Sequence[int], **changes: Any) -> Reduction:
    """Reduce rows that come in blocks of these sizes, over and over."""
    reducer = a_reducer(**changes)
    at = turn = 0
    while at < len(rows):
        size = sizes[turn % len(sizes)]
        reducer.feed(rows[at : at + size])
        at, turn = at + size, turn + 1
    return reducer.finish()


def reasons_of(reduction: Reduction) -> list[tuple[str, str]]:
    """Return codes and texts."""
    return [(reason.code, reason.seen) for reason in reduction.reasons]


def assert_same(one: Reduction, other: Reduction) -> None:
    """Two reductions are the same to the last bit."""
    assert (one.quality, one.reasons, one.method) == (other.quality, other.reasons, other.method)
    assert one.reading == other.reading
    assert dict(one.values) == dict(other.values)
    assert dict(one.zeros) == dict(other.zeros)
    assert (one.times, one.outside) == (other.times, other.outside)
    assert_array_equal(one.covariance, other.covariance)
    assert_array_equal(one.covariance_used, other.covariance_used)


def without(dilution: Dilution, *gases: str) -> Dilution:
    """Return references without some markers."""
    kept = tuple(marker for marker in dilution.markers if marker.gas not in gases)
    return replace(dilution, markers=kept)


def known_times(reduction: Reduction) -> list[float]:
    """Return when breath came, held gas or the end of a blow, and the end; all must be known."""
    times = reduction.times
    middle = times.end_s if times.held_s is None else times.held_s
    return [known(times.onset_s), known(middle), known(times.done_s)]


def to_the_end() -> ReductionSettings:
    """Return settings by which held gas is watched until time is up."""
    return settings_of(u_ppm=1e-6, u_fraction=1e-9)


def by_hand(kind: str, seed: int | None = 3) -> tuple[Float, dict[str, Any]]:
    """Return the rows of a good breath and what it is reduced with."""
    sensors = {"stream": STREAM, "chamber": CHAMBER, "bag": BAG}[kind]
    trace = a_trace(sensors=sensors, held=kind == "bag", seed=seed, time=LONG)
    return rows_of(trace), {"sensors": sensors, "method": "bag" if kind == "bag" else "blow"}
