"""docs/explanation/pictures: invented blows, held gas and steps, drawn as charts are."""

from dataclasses import replace
from functools import cache

import numpy as np

from ebbline.adapters.chart.render import to_svg
from ebbline.adapters.chart.theme import PRINT
from ebbline.adapters.chart.trace_chart import trace_chart
from ebbline.adapters.chart.trace_marks import Stretch
from ebbline.adapters.chart.trace_running import RunningEstimate, running_svg
from ebbline.adapters.chart.trace_step import NamedResponse, step_svg
from ebbline.adapters.files.library import load_library
from ebbline.core.breath.held import HeldGas
from ebbline.core.breath.reduce import reduce
from ebbline.core.breath.response import Response, step_response, time_to_share_s
from ebbline.core.breath.sensor import Sensor
from ebbline.services.library import Library
from ebbline.simulate.blow import TYPICAL, Blow, known_sensors, trace_of, virtual_blow
from ebbline.simulate.exhalation import Event
from ebbline.simulate.ranges import PERCENT_CHANNEL, PPM_CHANNEL, Ranges, Span

_WIDTH = 720


@cache
def _library() -> Library:
    return load_library()


def _just(value: float) -> Span:
    return Span(value, value)


def _stream_analyser() -> Ranges:
    """Return what blows into one fast analyser of the invented Harbour Clinic are drawn from."""
    ppm = replace(PPM_CHANNEL, noise=_just(0.8), noise_fraction=_just(0.01), steps=(0.1,))
    percent = replace(PERCENT_CHANNEL, noise=_just(0.03), steps=(0.01,))
    return replace(
        TYPICAL,
        rate_hz=_just(10.0),
        delay_s=_just(0.4),
        fast_t90_s=_just(0.4),
        second_pole_share=_just(0.0),
        alveolar_h2_ppm=Span(40.0, 50.0),
        alveolar_ch4_ppm=Span(12.0, 16.0),
        alveolar_o2_pct=Span(13.6, 13.9),
        flow_l_per_s=Span(0.19, 0.2),
        flow_end_share=Span(0.85, 0.9),
        expired_l=Span(1.3, 1.4),
        transition_l=_just(0.1),
        dead_space_l=_just(0.2),
        inhalation_s=_just(1.0),
        channels=(ppm, ppm, percent, percent),
    )


def _blow_svg(blow: Blow, rng: np.random.Generator, title: str, parts: tuple[Stretch, ...]) -> str:
    """Return one blow with what it is reduced to."""
    trace = trace_of(blow)
    sensors = known_sensors(rng, blow, u_tau_fraction=0.02, u_delay_s=0.05)
    reduction = reduce(
        trace,
        sensors=sensors,
        method="blow",
        settings=_library().reduction,
        dilution=_library().dilution,
        begun_s=None,
        switched_on_s=None,
    )
    spec = trace_chart(
        trace,
        reduction,
        sensors=sensors,
        dilution=_library().dilution,
        title=title,
        invented=True,
        parts_named=parts,
        width=_WIDTH,
        theme=PRINT,
    )
    return to_svg(spec) + "\n"


def _blown(seed: int, events: tuple[Event, ...]) -> tuple[Blow, np.random.Generator]:
    rng = np.random.default_rng(seed)
    blow = virtual_blow(rng, ranges=_stream_analyser(), kind="stream", events=events)
    return blow, rng


def stream_blow() -> str:
    """Return a good blow with its true parts named."""
    blow, rng = _blown(11, ())
    marks = blow.truth.marks
    parts = (
        Stretch(marks.onset_s, marks.transition_s, "I", "dead space"),
        Stretch(marks.transition_s, marks.plateau_s, "II", "transition"),
        Stretch(
            marks.plateau_s,
            marks.end_s,
            "III",
            "alveolar plateau, as simulated",
        ),
    )
    return _blow_svg(blow, rng, "A steady blow into a fast analyser", parts)


def breathed_in() -> str:
    """Return a blow with an inhalation in it."""
    blow, rng = _blown(12, ("breathed_in",))
    return _blow_svg(blow, rng, "A blow with a second inhalation", ())


def slow_chamber() -> str:
    """Return hydrogen that is held for a slow sensor, and what is known of it at each moment."""
    rng = np.random.default_rng(17)
    true_ppm = 42.0
    response = Response(delay_s=1.0, tau_s=17.4, tau2_s=3.0)
    sensor = Sensor(
        regime="chamber",
        response=response,
        u_tau_fraction=0.03,
        u_delay_s=0.1,
        noise=0.8,
        noise_fraction=0.01,
        resolution=0.1,
        u_drift_per_h=1.0,
        u_gain_fraction=None,
        lowest=-20.0,
        highest=500.0,
    )
    time_s = np.arange(0.0, 90.0, 0.5)
    exact = true_ppm * step_response(response, time_s)
    sd = np.hypot(sensor.noise, sensor.noise_fraction * exact)
    shown = np.round(exact + sd * rng.standard_normal(time_s.size), 1)
    settings = _library().reduction
    held = HeldGas(sensor, start_s=0.0, u_start_s=0.3, u_zero=0.2, fewest=settings.fewest)
    running = held.feed(time_s, shown)
    asked = np.maximum(settings.u_ppm, settings.u_fraction * np.abs(running.value))
    enough = (running.u <= asked) & (running.share >= settings.least_share)
    picture = RunningEstimate(
        gas="h2",
        time_s=time_s,
        shown_ppm=shown,
        estimate_ppm=running.value,
        u_ppm=running.u,
        stop_s=float(time_s[np.argmax(enough)]),
        settled_s=response.delay_s + time_to_share_s(0.99, response),
        read_at_s=45.0,
        true_ppm=true_ppm,
    )
    title = "Hydrogen held for a slow sensor"
    return running_svg(picture, title=title, invented=True, width=_WIDTH, theme=PRINT) + "\n"


def step() -> str:
    """Return what two sensors show of one step."""
    sensors = (
        NamedResponse("one pole", Response(delay_s=0.0, tau_s=4.343, tau2_s=0.0)),
        NamedResponse("delay 2 s, two poles", Response(delay_s=2.0, tau_s=3.5, tau2_s=2.0)),
    )
    title = "Invented sensors: what they show of a step of gas"
    return step_svg(sensors, title=title, end_s=24.0, width=_WIDTH, theme=PRINT) + "\n"
