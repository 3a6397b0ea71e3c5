"""One report as PDF, against a page with one line of text from the same typesetter.

Each repeat draws another test, so that nothing is answered from what the typesetter remembers of
an equal page.
"""

import subprocess
import sys
import tempfile
import time
from itertools import count
from pathlib import Path

import typst

from benchmarks.invented import write_curve
from benchmarks.timing import Figure, Times, interleave, ratio
from ebbline.adapters.pdf.report import write_report
from ebbline.bootstrap import build
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.overrides import Overrides

REPEATS = 15
COLD_REPEATS = 5
GOAL_S = 0.150


def measure() -> list[Figure]:
    """Return the figures of one report."""
    tests = iter(_different_tests(REPEATS + 1))
    lines = count(1)
    compiler = typst.Compiler()

    def report() -> bytes:
        return write_report(next(tests), paper="a4")

    def one_line() -> object:
        return compiler.compile(f"Invented line {next(lines)}".encode(), format="pdf")

    times = interleave({"report": report, "one line": one_line}, REPEATS)
    _, words = ratio(times["report"], times["one line"])
    cold = Times(tuple(_cold() for _ in range(COLD_REPEATS)))
    return [
        Figure(
            what="report as PDF, warm",
            ours=str(times["report"]),
            peer=f"one line of text: {times['one line']}",
            figure=f"{words}; {times['report'].median * 1e3:.0f} ms",
            goal=f"under {GOAL_S * 1e3:.0f} ms",
            met=times["report"].median < GOAL_S,
        ),
        Figure(
            what="first report of a process, imports included",
            ours=str(cold),
            peer="the same warm",
            figure=f"{cold.median / times['report'].median:.1f} ×",
            goal="none",
            met=None,
        ),
    ]


def _different_tests(number: int) -> list[Interpretation]:
    """Return interpretations of one invented curve with a different dose in each."""
    application = build()
    with tempfile.TemporaryDirectory() as folder:
        name = str(write_curve(Path(folder)))
        return [
            application.interpret_tests(
                [name], overrides=Overrides(dose_g=20.0 + i, weight_kg=50.0 + i), rules=()
            )[0]
            for i in range(number)
        ]


def _cold() -> float:
    """Return how long the first report takes in a new process, s."""
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks.pdf"],
        check=True,
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[1],
    )
    return float(done.stdout)


def _first_report() -> float:
    [test] = _different_tests(1)
    start = time.perf_counter()
    write_report(test, paper="a4")
    return time.perf_counter() - start


if __name__ == "__main__":
    print(_first_report())
