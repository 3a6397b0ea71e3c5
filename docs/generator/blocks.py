"""Recorded blocks: what a page shows of a file or of a command is what it is.

    <!-- file: examples/NAME -->         the block that follows is that file
    <!-- runs -->                        its commands print exactly what stands below them
    <!-- runs: until TEXT -->            the same, cut before the first line that begins with TEXT
    <!-- runs: from TEXT -->             the same, cut up to that line; cuts are shown as …

The commands of one page run one after the other in one temporary folder that holds the examples.
Only `ebbline` and `python` are known, joined by | where one reads the other.
"""

import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from docs.generator.markdown import ROOT

EXAMPLES = ROOT / "examples"
WIDTH = 100

_BLOCK = re.compile(
    r"(?P<mark><!-- (?P<what>file|runs)(?:: (?P<how>[^>]*?))? -->\n)"
    r"(?P<open>```[a-z]*\n)(?P<body>.*?)(?P<close>^```$)",
    re.MULTILINE | re.DOTALL,
)


def recorded_pages() -> list[Path]:
    """Return every page that records something."""
    pages = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
    return [page for page in pages if _BLOCK.search(page.read_text(encoding="utf-8"))]


def refresh(page: Path) -> str:
    """Return the text of a page with each recorded block as it comes out now."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for file in EXAMPLES.iterdir():
            if file.is_file():
                shutil.copy(file, folder)

        def replace(found: re.Match[str]) -> str:
            how = found["how"] or ""
            body = found["body"]
            if found["what"] == "file":
                new = (ROOT / how).read_text(encoding="utf-8")
            else:
                new = run_block(body, folder, how)
            return f"{found['mark']}{found['open']}{new}{found['close']}"

        return _BLOCK.sub(replace, page.read_text(encoding="utf-8"))


def run_block(body: str, folder: Path, how: str) -> str:
    """Return a console block with its commands run again and their outputs cut as asked."""
    out = ""
    for line in body.splitlines():
        if line.startswith("$ "):
            said = _cut(run(line[2:], folder).splitlines(), how)
            out += "\n".join([line, *said]) + "\n"
    return out


def _cut(lines: list[str], how: str) -> list[str]:
    """Return the lines until, or from, the first one that begins with a text."""
    word, _, text = how.partition(" ")
    place = next((i for i, line in enumerate(lines) if line.strip().startswith(text)), None)
    if not text or place is None:
        return lines
    return [*lines[:place], "…"] if word == "until" else ["…", *lines[place:]]


def run(command: str, folder: Path) -> str:
    """Return what a command prints, with its exit code where that is not 0."""
    environment = os.environ | {
        "COLUMNS": str(WIDTH),
        "NO_COLOR": "1",
        "TERM": "dumb",
        "PYTHONUTF8": "1",
    }
    said = ""
    code = 0
    for part in command.split(" | "):
        words = shlex.split(part)
        program = {"ebbline": [sys.executable, "-m", "ebbline"], "python": [sys.executable]}[
            words[0]
        ]
        done = subprocess.run(
            [*program, *words[1:]],
            input=said,
            capture_output=True,
            encoding="utf-8",
            cwd=folder,
            env=environment,
            check=False,
        )
        said = done.stdout + done.stderr
        code = done.returncode
    text = "\n".join(line.rstrip() for line in said.splitlines()).strip("\n") + "\n"
    # Windows writes its own separator in front of a file's name.
    text = text.replace("reports\\", "reports/")
    return text if code == 0 else f"{text}[exit code {code}]\n"
