"""Write the pages and pictures of docs that follow from the code and the data.

python docs/generate.py            write them
python docs/generate.py --check    change nothing; print what differs, exit code 1 if anything does
python docs/generate.py --outputs  also run every recorded command again and write what it prints
"""

import argparse
import difflib
import sys
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from docs.generator import (
    blocks,
    caveats,
    clinic,
    commands,
    errors,
    hazards,
    interpretation,
    namespace,
    pictures,
    quality,
    record,
    reduction,
    rule_sets,
    settings,
)
from docs.generator.markdown import ROOT

PAGES: dict[str, Callable[[], str]] = {
    "reference/commands.md": commands.page,
    "reference/interpretation.md": interpretation.page,
    "reference/rule-sets.md": rule_sets.page,
    "reference/errors.md": errors.page,
    "reference/settings.md": settings.page,
    "reference/caveats.md": caveats.page,
    "reference/python.md": namespace.page,
    "reference/reduction.md": reduction.page,
    "reference/record.md": record.page,
    "reference/clinic-rules.md": clinic.page,
    "reference/hazards.md": hazards.page,
    "how-to/breath-quality.md": quality.page,
    "explanation/pictures/stream-blow.svg": pictures.stream_blow,
    "explanation/pictures/breathed-in.svg": pictures.breathed_in,
    "explanation/pictures/slow-chamber.svg": pictures.slow_chamber,
    "explanation/pictures/step.svg": pictures.step,
}


def differences(path: Path, wanted: str) -> str:
    """Return what a file would have to change to be what is wanted; empty where it is."""
    found = path.read_text(encoding="utf-8") if path.exists() else ""
    name = path.relative_to(ROOT).as_posix()
    lines = difflib.unified_diff(
        found.splitlines(keepends=True), wanted.splitlines(keepends=True), name, f"{name} (new)"
    )
    return "".join(lines)


def main(words: list[str]) -> int:
    """Write or check the pages and return the exit code."""
    parser = argparse.ArgumentParser(description="Write the generated pages and pictures of docs.")
    parser.add_argument("--check", action="store_true", help="change nothing, print what differs")
    parser.add_argument("--outputs", action="store_true", help="run the recorded commands too")
    chosen = parser.parse_args(words)
    pages = {ROOT / "docs" / name: make() for name, make in PAGES.items()}
    if chosen.outputs:
        pages |= {path: blocks.refresh(path) for path in blocks.recorded_pages()}
    differing = 0
    for path, text in pages.items():
        difference = differences(path, text)
        if not difference:
            continue
        differing += 1
        if chosen.check:
            sys.stdout.write(difference)
        else:
            path.write_text(text, encoding="utf-8", newline="\n")
            print(f"written: {path.relative_to(ROOT).as_posix()}")
    return int(chosen.check and differing > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
