"""Virtual blows and bags of Harbour Clinic, reduced, for tests of their pictures; all invented."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from ebbline.adapters.chart.theme import PRINT
from ebbline.adapters.chart.trace_chart import trace_chart
from ebbline.adapters.files.library import load_library
from ebbline.core.breath.reading import Dilution
from ebbline.core.breath.reduce import reduce
from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.sensor import Sensors
from ebbline.core.breath.trace import Trace
from ebbline.simulate.blow import known_sensors, trace_of, virtual_blow
from ebbline.simulate.exhalation import Event
from ebbline.simulate.ranges import PERCENT_CHANNEL, PPM_CHANNEL, TYPICAL, Kind, Ranges, Span


def just(value: float) -> Span:
    """Return a range of one value."""
    return Span(value, value)


def analyser(rate_hz: float) -> Ranges:
    """Return what blows into an analyser of a fixed kind are drawn from."""
    ppm = replace(PPM_CHANNEL, noise=just(0.5), noise_fraction=just(0.0), steps=(0.1,))
    percent = replace(PERCENT_CHANNEL, noise=just(0.02), steps=(0.01,))
    return replace(
        TYPICAL,
        rate_hz=just(rate_hz),
        delay_s=just(0.5),
        fast_t90_s=just(0.4),
        slow_t90_s=just(30.0),
        second_pole_share=just(0.0),
        dropped_share=just(0.0),
        alveolar_h2_ppm=Span(40.0, 50.0),
        alveolar_ch4_ppm=Span(15.0, 20.0),
        alveolar_o2_pct=Span(13.6, 13.9),
        flow_l_per_s=Span(0.25, 0.3),
        expired_l=Span(1.6, 1.8),
        inhalation_s=just(1.0),
        channels=(ppm, ppm, percent, percent),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Traced:
    """A trace with all that it was reduced by, and what came of it."""

    trace: Trace
    reduction: Reduction
    sensors: Sensors
    dilution: Dilution

    def chart(self, *, width: float = 640.0) -> dict[str, object]:
        """Return its chart in print."""
        return trace_chart(
            self.trace,
            self.reduction,
            sensors=self.sensors,
            dilution=self.dilution,
            title="A breath",
            invented=True,
            parts_named=(),
            width=width,
            theme=PRINT,
        )


@cache
def traced(
    kind: Kind, seed: int, events: tuple[Event, ...] = (), *, rate_hz: float = 10.0
) -> Traced:
    """Return one virtual blow or bag, reduced; the same seed gives the same."""
    rng = np.random.default_rng(seed)
    blow = virtual_blow(rng, ranges=analyser(rate_hz), kind=kind, events=events)
    sensors = known_sensors(rng, blow, u_tau_fraction=0.02, u_delay_s=0.05)
    return reduced(trace_of(blow), sensors, bag=kind == "bag")


def reduced(trace: Trace, sensors: Sensors, *, bag: bool) -> Traced:
    """Return a trace with what it is reduced to."""
    library = load_library()
    reduction = reduce(
        trace,
        sensors=sensors,
        method="bag" if bag else "blow",
        settings=library.reduction,
        dilution=library.dilution,
        begun_s=61.0 if "o2_pct" not in sensors and "co2_pct" not in sensors else None,
        switched_on_s=None,
    )
    return Traced(trace, reduction, sensors, library.dilution)
