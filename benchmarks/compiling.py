"""What compiling costs: a process that judges 100 tests, compiled and by plain loops.

Numba compiles a loop when it is first called and keeps the result on disk, so that later processes
only load it. Without Numba the same loops run as they are, which is how one test is judged.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks.timing import Figure, Times, ratio

REPEATS = 5
COMPILED = """\
from benchmarks.cohort import archive
from benchmarks.judging import judge_all
judge_all(archive(100))
"""
PLAIN = """\
from benchmarks.cohort import archive
from benchmarks.plain import judge_plainly
judge_plainly(archive(100))
"""


def measure() -> list[Figure]:
    """Return the figures of a process that judges 100 tests."""
    taken: dict[str, list[float]] = {"anew": [], "loaded": [], "plain": []}
    for _ in range(REPEATS):
        with tempfile.TemporaryDirectory() as folder:
            taken["anew"].append(_process(COMPILED, folder))
            taken["loaded"].append(_process(COMPILED, folder))
            taken["plain"].append(_process(PLAIN, folder))
    times = {name: Times(tuple(seconds)) for name, seconds in taken.items()}
    return [
        Figure(
            what=f"new process, 100 tests judged, {what}",
            ours=str(times[name]),
            peer=f"the same by plain loops: {times['plain']}",
            figure=ratio(times[name], times["plain"])[1],
            goal="none",
            met=None,
        )
        for name, what in (("anew", "compiled anew"), ("loaded", "compiled code from disk"))
    ]


def _process(code: str, cache: str) -> float:
    """Return how long a new process takes, s, with its compiled code kept in a folder."""
    environment = {**os.environ, "NUMBA_CACHE_DIR": cache}
    start = time.perf_counter()
    # From the folder that holds benchmarks/, so that the process finds it.
    subprocess.run(
        [sys.executable, "-c", code], env=environment, check=True, cwd=Path(__file__).parents[1]
    )
    return time.perf_counter() - start
