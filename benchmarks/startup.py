"""Start-up: one file from the command line to JSON, against a Python that only imports numpy.

Both are new processes with a warm disk cache and compiled bytecode on disk, as on a clinic's
computer from the second call on.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from benchmarks.invented import write_curve
from benchmarks.timing import Figure, interleave, ratio

REPEATS = 15
GOAL = 3.0


def measure() -> list[Figure]:
    """Return the figure of start-up."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}

    def run(*words: str) -> None:
        subprocess.run(
            [sys.executable, *words], env=environment, check=True, stdout=subprocess.DEVNULL
        )

    with tempfile.TemporaryDirectory() as folder:
        name = str(write_curve(Path(folder)))
        times = interleave(
            {
                "ebbline": lambda: run("-m", "ebbline", "interpret", name, "--json"),
                "numpy": lambda: run("-c", "import numpy"),
                "python": lambda: run("-c", "pass"),
            },
            REPEATS,
        )
    figure, words = ratio(times["ebbline"], times["numpy"])
    return [
        Figure(
            what="`ebbline interpret one.csv --json`, new process",
            ours=str(times["ebbline"]),
            peer=f"`import numpy`: {times['numpy']}; bare Python: {times['python']}",
            figure=words,
            goal=f"at most {GOAL:g} ×",
            met=figure <= GOAL,
        )
    ]
