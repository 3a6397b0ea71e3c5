"""How good readings are where the truth is known: ``python -m benchmarks.coverage [N [SEED]]``.

N virtual blows in each of three ways of measuring, drawn over the ranges of
`ebbline.simulate.blow.TYPICAL`, are shown by virtual sensors and reduced with what a profile would
know of them. The tables say how far readings are from the truth, how often the 95 % interval holds
it, and how that compares with two habits: writing down what the display shows last, and the highest
it has shown.
"""

import sys
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ebbline.adapters.files.library import load_library
from ebbline.core.breath.reading import Dilution
from ebbline.core.breath.reduce import reduce
from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.breath.trace import Channel
from ebbline.simulate.blow import TYPICAL, Blow, Kind, known_sensors, trace_of, virtual_blow
from ebbline.simulate.exhalation import Event

Float = NDArray[np.float64]

KINDS: tuple[Kind, ...] = ("stream", "chamber", "bag")
GASES: tuple[Channel, ...] = ("h2_ppm", "ch4_ppm")
# What a profile gets wrong of a sensor: as after one recorded step.
U_TAU_FRACTION = 0.02
U_DELAY_S = 0.05
# Common practice, no source: a held sample is read off the display after 45 s.
READ_AFTER_S = 45.0
# Below about 3 s a blow does not wash the sensor with alveolar air: 0.45 L at 0.35 L/s is 1.3 s of
# it. That is the least that counts as a good blow here.
SHORTEST_GOOD_S = 3.0
_BLOCK = 50


@dataclass(frozen=True, slots=True)
class Outcome:
    """One blow: what was true, what came of it, and what the two habits would have written down.

    Gases are H2 and CH4 in ppm above room air; arrays (2,). ``full`` is undiluted alveolar gas and
    ``counts`` with ``u_counts`` the value that counts, NaN where the reading was refused.
    """

    kind: Kind
    events: tuple[Event, ...]
    good: bool
    too_dilute: bool
    quality: str
    codes: tuple[str, ...]
    true: Float
    raw: Float
    u: Float
    full: Float
    counts: Float
    u_counts: Float
    last: Float
    highest: Float
    cycle_share: float


@lru_cache(maxsize=1)
def givens() -> tuple[ReductionSettings, Dilution]:
    """Return the settings and references of data/, read once in a process."""
    library = load_library()
    return library.reduction, library.dilution


def reduce_blow(rng: np.random.Generator, blow: Blow) -> Reduction:
    """Reduce a virtual blow with what a profile would know of its sensors."""
    settings, dilution = givens()
    return reduce(
        trace_of(blow),
        sensors=known_sensors(rng, blow, u_tau_fraction=U_TAU_FRACTION, u_delay_s=U_DELAY_S),
        method="bag" if blow.kind == "bag" else "blow",
        settings=settings,
        dilution=dilution,
        begun_s=None,
        switched_on_s=None,
    )


def outcome(blow: Blow, reduction: Reduction) -> Outcome:
    """Return what is compared of one blow."""
    _, dilution = givens()
    truth, marks = blow.truth, blow.truth.marks
    room = blow.exhalation.person.room
    reading, times = reduction.reading, reduction.times
    raw, u, counts, u_counts = (np.full(2, np.nan) for _ in range(4))
    for at, name in enumerate(GASES):
        if name in reduction.values:
            raw[at], u[at] = reduction.values[name].raw, reduction.values[name].u
        gas = None if reading is None else (reading.h2, reading.ch4)[at]
        if gas is not None and gas.value_ppm is not None and gas.u_ppm is not None:
            counts[at], u_counts[at] = gas.value_ppm, gas.u_ppm
    read_s = marks.end_s if blow.kind == "stream" else truth.held_from_s + READ_AFTER_S
    shown = np.array([getattr(blow, name)[blow.time_s <= read_s] for name in GASES])
    shown = shown[:, np.isfinite(shown).all(axis=0)]
    waited, saved = times.waited_s, times.saved_s
    o2 = truth.sample.o2_pct
    share = (room.o2_pct - o2) / (
        dilution.markers[0].ambient_pct - dilution.markers[0].alveolar_pct
    )
    return Outcome(
        kind=blow.kind,
        events=truth.events,
        good=_is_good(blow) and share >= dilution.refuse_fraction,
        # So near the limit the marker's own uncertainty decides.
        too_dilute=share < dilution.refuse_fraction - 0.02,
        quality=reduction.quality,
        codes=tuple(sorted({reason.code for reason in reduction.reasons})),
        true=np.array([truth.above_room.h2_ppm, truth.above_room.ch4_ppm]),
        raw=raw,
        u=u,
        full=np.array([truth.alveolar.h2_ppm - room.h2_ppm, truth.alveolar.ch4_ppm - room.ch4_ppm]),
        counts=counts,
        u_counts=u_counts,
        last=shown[:, -1],
        highest=shown.max(axis=1),
        cycle_share=np.nan if waited is None or saved is None else waited / (waited + saved),
    )


def _is_good(blow: Blow) -> bool:
    """Return whether nothing was wrong with a blow: long enough, no early stop, no inhalation."""
    bad = {"breathed_in", "stopped_in_dead_space", "stopped_in_transition"}
    marks = blow.truth.marks
    long_enough = marks.end_s - marks.onset_s >= SHORTEST_GOOD_S
    return bad.isdisjoint(blow.truth.events) and long_enough


def block_of(
    kind: Kind,
    count: int,
    seed: tuple[int, int],
    events: tuple[Event, ...] | None,
    flow: bool,
) -> list[Outcome]:
    """Return one block of blows."""
    rng = np.random.default_rng([*seed, KINDS.index(kind)])
    found = []
    for _ in range(count):
        blow = virtual_blow(rng, ranges=TYPICAL, kind=kind, events=events)
        seen = blow if flow else replace(blow, flow_l_per_s=None)
        found.append(outcome(blow, reduce_blow(rng, seen)))
    return found


def many(
    kind: Kind, count: int, seed: int, events: tuple[Event, ...] | None, *, flow: bool
) -> list[Outcome]:
    """Return so many blows of one kind, with what happens drawn or given; the same for a seed."""
    blocks = range(0, count, _BLOCK)
    with ProcessPoolExecutor() as pool:
        jobs = [
            pool.submit(block_of, kind, min(_BLOCK, count - at), (seed, at), events, flow)
            for at in blocks
        ]
        return [one for job in jobs for one in job.result()]


def root_mean_square(errors: Float) -> float:
    """Return the root of the mean square."""
    return float(np.sqrt(np.mean(errors**2)))


@dataclass(frozen=True, slots=True)
class Score:
    """How good one gas was over many readings that were not refused, ppm and shares."""

    count: int
    mean_true: float
    bias: float
    covered: float
    error: float
    last_error: float
    highest_error: float

    @property
    def largest_bias(self) -> float:
        """What bias is allowed: 1 % of the value or 0.3 ppm, whichever is larger."""
        return max(0.01 * self.mean_true, 0.3)


def score(found: Iterable[Outcome], gas: int) -> Score:
    """Score the raw values of one gas of the readings that were not refused."""
    used = [one for one in found if one.quality != "refused"]
    true, raw, u, last, highest = (
        np.array([getattr(one, name)[gas] for one in used])
        for name in ("true", "raw", "u", "last", "highest")
    )
    return Score(
        count=len(used),
        mean_true=float(np.mean(np.abs(true))),
        bias=float(np.mean(raw - true)),
        covered=float(np.mean(np.abs(raw - true) <= 1.96 * u)),
        error=root_mean_square(raw - true),
        last_error=root_mean_square(last - true),
        highest_error=root_mean_square(highest - true),
    )


def bins(found: list[Outcome], gas: int) -> list[Score]:
    """Score by fifths of the true value, so that no bias hides in another."""
    used = sorted(
        (one for one in found if one.quality != "refused"), key=lambda one: float(one.true[gas])
    )
    fifth = len(used) // 5
    return [score(used[at * fifth : (at + 1) * fifth], gas) for at in range(5)]


def report(count: int, seed: int) -> str:
    """Return the tables as Markdown."""
    all_kinds = {kind: many(kind, count, seed, None, flow=True) for kind in KINDS}
    lines = [
        f"{count} blows in each regime, seed {seed}.",
        "",
        "| regime | gas | readings | bias, ppm | 95 % holds | error | last shown | highest shown |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for kind, found in all_kinds.items():
        for gas, name in enumerate(("H2", "CH4")):
            s = score(found, gas)
            lines.append(
                f"| {kind} | {name} | {s.count} | {s.bias:+.2f} (of {s.mean_true:.0f}) "
                f"| {100 * s.covered:.1f} % | {s.error:.2f} ppm "
                f"| {s.last_error:.2f} ppm, {s.last_error / s.error:.1f} × "
                f"| {s.highest_error:.2f} ppm, {s.highest_error / s.error:.1f} × |"
            )
    lines += [
        "",
        "By fifths of the true value, from low to high:",
        "",
        "| regime | gas | mean true, ppm | bias, ppm | 95 % holds |",
        "|---|---|---|---|---|",
    ]
    for kind, found in all_kinds.items():
        for gas, name in enumerate(("H2", "CH4")):
            fifths = bins(found, gas)
            means = " / ".join(f"{s.mean_true:.0f}" for s in fifths)
            biases = " / ".join(f"{s.bias:+.2f}" for s in fifths)
            covered = " / ".join(f"{100 * s.covered:.1f}" for s in fifths)
            lines.append(f"| {kind} | {name} | {means} | {biases} | {covered} |")
    lines += [
        "",
        (
            "| regime | accepted | normalised | refused | good blows | of them refused "
            "| too dilute | of them accepted |"
        ),
        "|---|---|---|---|---|---|---|---|",
    ]
    for kind, found in all_kinds.items():
        good = [one for one in found if one.good]
        refused = sum(one.quality == "refused" for one in good)
        shares = " | ".join(str(sum(one.quality == q for one in found)) for q in QUALITIES)
        dilute = [one for one in found if one.too_dilute]
        accepted = sum(one.quality == "accepted" for one in dilute)
        lines.append(
            f"| {kind} | {shares} | {len(good)} | {refused} ({100 * refused / len(good):.2f} %) "
            f"| {len(dilute)} | {accepted} |"
        )
    lines += [
        "",
        "| regime | cycle over 99 % of the response, median (5 to 95 %) |",
        "|---|---|",
    ]
    for kind in ("chamber", "bag"):
        shares_of = [one.cycle_share for one in all_kinds[kind] if one.quality != "refused"]
        low, middle, high = np.nanquantile(shares_of, [0.05, 0.5, 0.95])
        lines.append(f"| {kind} | {middle:.2f} ({low:.2f} to {high:.2f}) |")
    lines += [
        "",
        "Blows that must never be accepted:",
        "",
        "| regime | what happened | flow | blows | accepted | normalised |",
        "|---|---|---|---|---|---|",
    ]
    for kind in ("stream", "chamber"):
        for event in BAD:
            for flow in (True, False):
                found = many(kind, count, seed + 1, (event,), flow=flow)
                accepted = sum(one.quality == "accepted" for one in found)
                normalised = sum(one.quality == "normalised" for one in found)
                lines.append(
                    f"| {kind} | {event.replace('_', ' ')} | {'seen' if flow else 'not seen'} "
                    f"| {len(found)} | {accepted} | {normalised} |"
                )
    return "\n".join(lines)


QUALITIES = ("accepted", "normalised", "refused")
BAD: tuple[Event, ...] = ("breathed_in", "stopped_in_transition", "stopped_in_dead_space")

if __name__ == "__main__":
    _count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    _seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    print(report(_count, _seed))
