"""Pieces of Markdown that the generated pages share."""

from collections.abc import Iterable, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "ebbline"
DATA = SOURCE / "data"

NOTICE = "<!-- Written by docs/generate.py. Change the source it names, not this page. -->"


def page(title: str, *parts: str) -> str:
    """Return a page: notice, title, parts, with one blank line between."""
    return "\n\n".join([NOTICE, f"# {title}", *(part.strip("\n") for part in parts)]) + "\n"


def code(text: str) -> str:
    """Return text as code."""
    return f"`{text}`"


def codes(texts: Iterable[str]) -> str:
    """Return texts as code, with commas between."""
    return ", ".join(code(text) for text in texts)


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table; a bar inside a cell is escaped."""
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join(
        f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in r)} |" for r in lines
    )
