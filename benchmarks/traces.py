"""How many traces a second, against the same steps written plainly with scipy; and the live side.

Traces are 60 s at 10 Hz: 40 s of room air and a blow, or 25 s of room air and a bag. The zero's
window is shortened to fit into them, for both sides.
"""

import os
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.coverage import U_DELAY_S, U_TAU_FRACTION, givens
from benchmarks.plain_breath import plain_held, plain_stream
from benchmarks.timing import Figure, interleave, ratio
from ebbline.core.breath.cycle import Method
from ebbline.core.breath.reduce import Reducer, reduce
from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.samples import rows_of
from ebbline.core.breath.sensor import Sensor
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.breath.trace import Channel, Trace
from ebbline.simulate.blow import TYPICAL, Kind, known_sensors, trace_of, virtual_blow
from ebbline.simulate.ranges import Span

N_TRACES = 20
REPEATS = 5
GOAL = 10.0
LIVE_GOAL_MS = 2.0
# Both sides stop held gas at 5 % of uncertainty, and the plain one takes the start for exact.
LARGEST_DIFFERENCE: dict[Kind, float] = {"stream": 0.05, "bag": 0.15}
LIVE_HOURS = 8
SEED = 20261125
_STATM = Path("/proc/self/statm")


def measure() -> list[Figure]:
    """Return the figures of reducing traces."""
    return [_batch("stream", "blow", 40.0), _batch("bag", "bag", 25.0), *_live()]


def _traces(kind: Kind, room_s: float) -> list[tuple[Trace, dict[Channel, Sensor]]]:
    """Return good blows of 60 s at 10 Hz, by one analyser after the other."""
    ranges = replace(
        TYPICAL,
        rate_hz=Span(10.0, 10.0),
        room_before_s=Span(room_s, room_s),
        expired_l=Span(2.0, 2.5),
        flow_l_per_s=Span(0.25, 0.3),
        slow_t90_s=Span(15.0, 15.0),
        second_pole_share=Span(0.2, 0.5),
    )
    rng = np.random.default_rng(SEED)
    found = []
    for _ in range(N_TRACES):
        blow = virtual_blow(rng, ranges=ranges, kind=kind, events=())
        sensors = known_sensors(rng, blow, u_tau_fraction=U_TAU_FRACTION, u_delay_s=U_DELAY_S)
        found.append((trace_of(blow).between(0.0, 60.0), sensors))
    return found


def _settings(room_s: float) -> ReductionSettings:
    settings, _ = givens()
    return replace(settings, zero_window_s=room_s - 8.0, zero_shortest_s=room_s - 12.0)


def _batch(kind: Kind, method: Method, room_s: float) -> Figure:
    """Return traces per second of one regime."""
    traces, settings, dilution = _traces(kind, room_s), _settings(room_s), givens()[1]

    def ours() -> list[Reduction]:
        return [
            reduce(
                trace,
                sensors=sensors,
                method=method,
                settings=settings,
                dilution=dilution,
                begun_s=None,
                switched_on_s=None,
            )
            for trace, sensors in traces
        ]

    def plain() -> list[dict[str, float]]:
        found = []
        for trace, sensors in traces:
            named: dict[str, Sensor] = dict(sensors)
            if kind == "stream":
                found.append(plain_stream(trace, named, room_s))
            else:
                asked = {"u_ppm": settings.u_ppm, "u_fraction": settings.u_fraction}
                found.append(plain_held(trace, named, room_s, **asked))
        return found

    _agree(kind, ours(), plain())
    times = interleave({"ours": ours, "plain": plain}, REPEATS)
    slower, words = ratio(times["plain"], times["ours"])
    return Figure(
        what=f"traces a second, {kind}",
        ours=f"{N_TRACES / times['ours'].median:.0f}",
        peer=f"scipy, plainly: {N_TRACES / times['plain'].median:.0f}",
        figure=words,
        goal=f"{GOAL:g} ×",
        met=slower >= GOAL,
    )


def _agree(kind: Kind, ours: list[Reduction], plain: list[dict[str, float]]) -> None:
    """Stop unless both sides find the same hydrogen, by and large: the plain side is cruder."""
    ppm = np.array([one.values["h2_ppm"].raw for one in ours])
    theirs = np.array([one["h2_ppm"] for one in plain])
    off = float(np.median(np.abs(ppm - theirs) / np.maximum(np.abs(ppm), 20.0)))
    if off > LARGEST_DIFFERENCE[kind]:
        raise SystemExit(f"{kind}: the two sides differ by {100 * off:.1f} % in the middle case")


def _live() -> list[Figure]:
    """Return time per sample and memory while a reducer is fed sample by sample for hours."""
    trace, sensors = _traces("bag", 65.0)[0]
    settings, dilution = givens()

    def fresh() -> Reducer:
        return Reducer(
            sensors=sensors,
            method="bag",
            settings=settings,
            dilution=dilution,
            begun_s=None,
            switched_on_s=None,
        )

    rows = rows_of(trace)
    room = rows[(rows[:, 0] > 5.0) & (rows[:, 0] < 55.0)]
    breath = rows[rows[:, 0] >= 55.0]
    reducer, worst, sizes = fresh(), 0.0, []
    n_samples = LIVE_HOURS * 3600 * 10
    spent = 0.0
    for at in range(n_samples):
        row = room[at % len(room)].copy()
        row[0] = at / 10.0
        start = time.perf_counter()
        reducer.feed(row[None, :])
        taken = time.perf_counter() - start
        spent += taken
        worst = max(worst, taken)
        if at % 36_000 == 0:
            sizes.append(_resident())
    last_s = (n_samples - 1) / 10.0
    for row in breath:
        shifted = row.copy()
        shifted[0] += last_s - 55.0 + 0.1
        start = time.perf_counter()
        reducer.feed(shifted[None, :])
        taken = time.perf_counter() - start
        spent += taken
        worst = max(worst, taken)
    mean_ms = 1e3 * spent / (n_samples + len(breath))
    # The first hour fills what is kept; after that nothing may grow.
    grown = max(sizes[1:]) - sizes[1] if sizes[1] else 0
    return [
        Figure(
            what="one sample, live: mean and slowest",
            ours=f"{mean_ms:.3f} ms, {1e3 * worst:.2f} ms",
            peer="",
            figure="",
            goal=f"{LIVE_GOAL_MS:g} ms",
            met=mean_ms < LIVE_GOAL_MS,
        ),
        Figure(
            what=f"memory over {LIVE_HOURS} h at 10 Hz, after the first hour",
            ours=f"+{grown / 1e6:.2f} MB",
            peer="",
            figure="",
            goal="flat",
            met=grown < 1_000_000,
        ),
    ]


def _resident() -> int:
    """Return the size of this process, bytes; 0 where it cannot be read."""
    if not _STATM.exists():
        return 0
    return int(_STATM.read_text(encoding="ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE")
