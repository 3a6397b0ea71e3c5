"""Make the traces that come with ebbline, all invented: two good ones and one to refuse.

Run it as ``python make_traces.py FOLDER``. The seeds are fixed, so that the same files come out
again. Both analysers and the Harbour Clinic are invented; their profiles lie beside the traces, in
src/ebbline/data/profiles.
"""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

from ebbline.adapters.files.trace_file import TraceFile
from ebbline.adapters.files.trace_writer import write_trace
from ebbline.core.breath.trace import Float, Trace
from ebbline.simulate.blow import trace_of, virtual_blow
from ebbline.simulate.exhalation import Event
from ebbline.simulate.ranges import PERCENT_CHANNEL, PPM_CHANNEL, TYPICAL, Kind, Ranges, Span


def just(value: float) -> Span:
    """Return a range that holds one value."""
    return Span(value, value)


def analyser(*, rate_hz: float, delay_s: float, slow_t90_s: float) -> Ranges:
    """Return what blows are drawn from where the analyser is always the same."""
    ppm = replace(
        PPM_CHANNEL, noise=just(0.6), noise_fraction=just(0.01), steps=(0.1,), offset=just(1.2)
    )
    percent = replace(PERCENT_CHANNEL, noise=just(0.03), steps=(0.01,))
    return replace(
        TYPICAL,
        rate_hz=just(rate_hz),
        delay_s=just(delay_s),
        fast_t90_s=just(0.5),
        slow_t90_s=just(slow_t90_s),
        second_pole_share=just(0.0),
        alveolar_h2_ppm=Span(30.0, 60.0),
        alveolar_ch4_ppm=Span(4.0, 12.0),
        alveolar_o2_pct=Span(13.2, 13.9),
        # A patient who blows for long enough, and whose bag is full and fresh.
        expired_l=Span(2.0, 3.0),
        discard_l=just(0.5),
        leak_share=just(0.04),
        age_h=just(0.2),
        channels=(ppm, ppm, percent, percent),
    )


STREAM = analyser(rate_hz=10.0, delay_s=0.4, slow_t90_s=0.5)
CHAMBER = analyser(rate_hz=2.0, delay_s=1.0, slow_t90_s=40.0)
TRACES: tuple[tuple[str, int, Ranges, Kind, tuple[Event, ...], str], ...] = (
    ("harbour-blow", 11, STREAM, "stream", (), "a steady blow"),
    ("harbour-bag", 21, CHAMBER, "bag", (), "a bag filled a few minutes ago"),
    ("harbour-breathed-in", 31, STREAM, "stream", ("breathed_in",), "to be refused"),
)


def as_sent(trace: Trace) -> Trace:
    """Return a trace with the decimals that an analyser sends: milliseconds, hundredths."""

    def sent(values: Float | None) -> Float | None:
        return None if values is None else np.round(values, 2)

    return Trace(
        time_s=np.round(trace.time_s, 3),
        h2_ppm=sent(trace.h2_ppm),
        ch4_ppm=sent(trace.ch4_ppm),
        o2_pct=sent(trace.o2_pct),
        co2_pct=sent(trace.co2_pct),
        flow_l_per_s=sent(trace.flow_l_per_s),
    )


def make(folder: Path) -> None:
    """Write the traces to a folder that is there."""
    for name, seed, ranges, kind, events, note in TRACES:
        rng = np.random.default_rng(seed)
        blow = virtual_blow(rng, ranges=ranges, kind=kind, events=events)
        bag = kind == "bag"
        trace_file = TraceFile(
            file=f"{name}.csv",
            trace=as_sent(trace_of(blow)),
            kind="bag" if bag else "blow",
            begun_s=None,
            on_for_min=45.0,
            facts={
                "invented": "yes",
                "profile": "harbour-chamber" if bag else "harbour-stream",
                "service": "Harbour Clinic (invented)",
                "note": f"{note}, invented",
            },
            unused={},
        )
        path = folder / trace_file.file
        path.write_text(write_trace(trace_file), encoding="utf-8", newline="\n")


if __name__ == "__main__" and len(sys.argv) > 1:
    make(Path(sys.argv[1]))
