"""Run ``python -m benchmarks [NAME...]``; without a name all of them."""

import sys

from benchmarks import batch, chance, compiling, pdf, record, startup, traces
from benchmarks.machine import machine
from benchmarks.timing import table

BENCHMARKS = {
    "startup": startup.measure,
    "batch": batch.measure,
    "chance": chance.measure,
    "compiling": compiling.measure,
    "pdf": pdf.measure,
    "traces": traces.measure,
    "record": record.measure,
}


def main(names: list[str]) -> int:
    """Measure what was asked for and print one table for each; return the exit code."""
    unknown = [name for name in names if name not in BENCHMARKS]
    if unknown:
        print(f"no such benchmark; allowed: {', '.join(BENCHMARKS)}; came: {', '.join(unknown)}")
        return 2
    print(f"machine: {machine()}")
    print("median of interleaved repeats (fastest to slowest)")
    for name in names or list(BENCHMARKS):
        print(f"\npython -m benchmarks {name}\n\n{table(BENCHMARKS[name]())}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
