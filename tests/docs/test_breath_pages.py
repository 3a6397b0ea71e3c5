"""The pages on breaths name every reason, setting and key, and their pictures say what they are."""

import re
import tomllib
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
DATA = ROOT / "src" / "ebbline" / "data"
PICTURES = sorted((DOCS / "explanation" / "pictures").glob("*.svg"))
PROFILES = sorted((DATA / "profiles").glob("*.toml"))
EXPLANATIONS = ("catching-the-breath", "stream", "chamber")


def rows(path: Path) -> dict[str, Any]:
    """Return a TOML file."""
    return tomllib.loads(path.read_text(encoding="utf-8"))


def page(name: str) -> str:
    """Return a page."""
    return (DOCS / f"{name}.md").read_text(encoding="utf-8")


def keys(table: dict[str, Any]) -> set[str]:
    """Return every key of a profile, however deep, without the names of its tables."""
    found: set[str] = set()
    for name, value in table.items():
        found |= keys(value) if isinstance(value, dict) else {name}
    return found


def test_every_reason_has_its_section_with_what_it_means_and_what_to_do() -> None:
    """Word for word as a terminal prints it."""
    text = page("how-to/breath-quality")
    words = rows(DATA / "quality.toml")
    assert words["caution"] in text
    for name, row in words["reason"].items():
        start = text.index(f"\n## {name.replace('_', ' ').capitalize()}\n")
        section = text[start:].split("\n## ", 2)[1]
        assert f"`{name}`. {row['means']}" in section
        assert row["do"] in section


def test_every_setting_of_the_reduction_stands_with_its_value_and_source() -> None:
    """In one line each."""
    for name, row in rows(DATA / "reduction.toml").items():
        line = next(
            x for x in page("reference/reduction").splitlines() if x.startswith(f"| `{name}` |")
        )
        assert f"| `{row['value']}` |" in line
        assert line.endswith(f"| {row['source']} |")


def test_a_setting_that_an_explanation_names_is_a_row() -> None:
    """A row that is renamed is renamed in the pages."""
    known = set(rows(DATA / "reduction.toml"))
    named = {
        word
        for name in EXPLANATIONS
        for word in re.findall(r"`([a-z]+(?:_[a-z0-9]+)+)`", page(f"explanation/{name}"))
    }
    assert {"onset_share", "wash_s", "trim_s", "least_share"} <= named
    assert named - known == {"u_tau_fraction"}


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_every_key_of_a_profile_is_explained(path: Path) -> None:
    """The comment at the top of each profile sends its reader to the page."""
    text = page("how-to/connect-your-analyser")
    for key in keys(rows(path)):
        assert f"`{key}`" in text, key


@pytest.mark.parametrize("path", PICTURES, ids=lambda path: path.stem)
def test_a_picture_is_small_says_that_it_is_invented_and_is_described(path: Path) -> None:
    """Title and description are there for readers who do not see it."""
    assert path.stat().st_size < 60_000
    root = ET.fromstring(path.read_text(encoding="utf-8"))
    assert str(root[0].text).startswith(("Invented data. ", "Invented sensors: "))
    assert len(str(root[1].text)) > 100


@pytest.mark.parametrize("path", PICTURES, ids=lambda path: path.stem)
def test_each_picture_is_shown_by_a_page_with_words_in_its_place(path: Path) -> None:
    """The words say that it is invented, too."""
    pages = " ".join(" ".join(page(f"explanation/{name}").split()) for name in EXPLANATIONS)
    assert re.search(rf"!\[Invented [^\]]{{60,}}\]\(pictures/{path.name}\)", pages)
