"""A million tests by all bundled rule sets, against the same rules in pandas.

The peer is written twice, over a long and over a wide table, and both must give the same result
for every statement and the same finding for every question of every test. Building the tables is
not counted. ebbline also gives the reason and the sample of each result, which the
peers do not.
"""

import numpy as np
import pandas as pd

from benchmarks.cohort import SUBSTRATES, archive
from benchmarks.judging import judge_all
from benchmarks.memory import peak_extra
from benchmarks.pandas_long import judge_long, long_frame
from benchmarks.pandas_rules import Answers
from benchmarks.pandas_wide import judge_wide, wide_frames
from benchmarks.timing import Figure, interleave, ratio
from ebbline.core.rules.codes import KEY_MISSED, PLAIN, STOPPED_EARLY, UNDECIDED
from ebbline.core.rules.rows import Verdicts

N_TESTS = 1_000_000
REPEATS = 5
GOAL = 20.0
MEMORY_GOAL = 3.0


def measure() -> list[Figure]:
    """Return the figures of judging many tests."""
    tests = archive(N_TESTS)
    curves = tests.cohort.curves
    tolerance = tests.library.minute_tolerance
    numbers = pd.RangeIndex(N_TESTS)
    substrate = pd.Series(
        pd.Categorical.from_codes(tests.cohort.substrate, categories=pd.Index(SUBSTRATES))
    )
    wide = wide_frames(curves)
    long = long_frame(curves, substrate)

    def in_wide() -> Answers:
        return judge_wide(wide, substrate, tests.table, tolerance)

    def in_long() -> Answers:
        return judge_long(long, numbers, tests.table, tolerance)

    verdicts = judge_all(tests)
    check(verdicts, in_wide())
    check(verdicts, in_long())
    del verdicts
    times = interleave(
        {"ebbline": lambda: judge_all(tests), "wide": in_wide, "long": in_long}, REPEATS
    )
    figures = []
    # The goal is set against group-by; a wide table has none, and is there to be open about it.
    for peer in ("long", "wide"):
        figure, words = ratio(times[peer], times["ebbline"])
        against_goal = peer == "long"
        figures.append(
            Figure(
                what=f"{N_TESTS} tests of 12 samples, every bundled rule set",
                ours=str(times["ebbline"]),
                peer=f"pandas, {peer} table: {times[peer]}",
                figure=words,
                goal=f"at least {GOAL:g} ×" if against_goal else "none",
                met=figure >= GOAL if against_goal else None,
            )
        )
    return [*figures, _memory()]


def check(verdicts: Verdicts, answers: Answers) -> None:
    """Refuse to time two sides that differ, or tests that leave a rule unused."""
    for name, ours, peers in (
        ("results", verdicts.result, answers.results),
        ("findings", verdicts.finding, answers.findings),
    ):
        differ = np.flatnonzero((ours != peers.to_numpy()).any(axis=1))
        if differ.size:
            raise SystemExit(f"{name} of {differ.size} tests differ, first of test {differ[0]}")
    unused = {PLAIN, STOPPED_EARLY, KEY_MISSED, UNDECIDED} - set(np.unique(verdicts.reason))
    if unused:
        raise SystemExit(f"no test uses the rules with reason codes {sorted(unused)}")


def _memory() -> Figure:
    """Return the figure of memory."""
    sizes = peak_extra(N_TESTS)
    share = (sizes["inputs"] + sizes["extra"]) / sizes["inputs"]
    mb = {name: f"{size / 1e6:.0f} MB" for name, size in sizes.items()}
    return Figure(
        what="memory at its peak, input arrays included",
        ours=f"{mb['inputs']} + {mb['extra']}, of which output arrays {mb['outputs']}",
        peer=f"input arrays: {mb['inputs']}",
        figure=f"{share:.2f} ×",
        goal=f"at most {MEMORY_GOAL:g} ×",
        met=share <= MEMORY_GOAL,
    )
