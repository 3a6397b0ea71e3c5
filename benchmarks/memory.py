"""How far memory rises while many tests are judged; run in a process of its own.

Linux only: the size of the process is read from /proc.
"""

import json
import os
import subprocess
import sys
import threading
from pathlib import Path

from benchmarks.cohort import Archive, archive
from benchmarks.judging import judge_all

_STATM = Path("/proc/self/statm")
_EVERY_S = 0.002


def peak_extra(n_tests: int) -> dict[str, int]:
    """Return bytes of input arrays, of output arrays, and of the rise at its peak, measured anew.

    Parameters
    ----------
    n_tests : int
        How many tests are judged.
    """
    words = [sys.executable, "-m", "benchmarks.memory", str(n_tests)]
    top = Path(__file__).parents[1]
    done = subprocess.run(words, check=True, capture_output=True, text=True, cwd=top)
    sizes: dict[str, int] = json.loads(done.stdout)
    return sizes


def _resident() -> int:
    return int(_STATM.read_text(encoding="ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE")


def _measure(tests: Archive) -> dict[str, int]:
    """Judge the tests once while a thread watches the size of the process."""
    curves = tests.cohort.curves
    inputs = (curves.minute, curves.planned_minute, curves.h2_ppm, curves.ch4_ppm)
    before = _resident()
    sizes = [before]
    over = threading.Event()

    def watch() -> None:
        while not over.wait(_EVERY_S):
            sizes.append(_resident())

    watcher = threading.Thread(target=watch)
    watcher.start()
    verdicts = judge_all(tests)
    sizes.append(_resident())
    over.set()
    watcher.join()
    outputs = (verdicts.result, verdicts.reason, verdicts.at, verdicts.finding)
    return {
        "inputs": sum(array.nbytes for array in inputs),
        "outputs": sum(array.nbytes for array in outputs),
        "extra": max(sizes) - before,
    }


if __name__ == "__main__":
    judge_all(archive(100))  # compiled code is loaded before the measurement
    print(json.dumps(_measure(archive(int(sys.argv[1])))))
