"""Links lead somewhere, and rows that a page names are the rows in data."""

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", ROOT / "CHANGELOG.md", *sorted((ROOT / "docs").rglob("*.md"))]
FENCED = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\[[^\]]+\]\(([^)\s]+)\)")
ROW = re.compile(r"`([a-z0-9-]+)/([a-z0-9-]+)` \((at least|more than) (\d+) (ppm|points)\)")


def name(path: Path) -> str:
    """Return a path as the project writes it."""
    return path.relative_to(ROOT).as_posix()


def anchors(path: Path) -> set[str]:
    """Return the anchors of a page's headings, as they are made of their words."""
    text = FENCED.sub("", path.read_text(encoding="utf-8"))
    heads = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


@pytest.mark.parametrize("path", PAGES, ids=name)
def test_every_relative_link_leads_to_a_file_and_its_heading(path: Path) -> None:
    """Links to other hosts are not followed."""
    for target in LINK.findall(FENCED.sub("", path.read_text(encoding="utf-8"))):
        if "://" in target:
            continue
        file, _, anchor = target.partition("#")
        there = (path.parent / file).resolve() if file else path
        assert there.is_file(), target
        assert not anchor or anchor in anchors(there), target


def test_every_page_is_reached_from_the_front_page() -> None:
    """A page that no page links to is not read."""
    seen: set[Path] = set()
    waiting = [ROOT / "README.md"]
    while waiting:
        here = waiting.pop()
        seen.add(here)
        for target in LINK.findall(FENCED.sub("", here.read_text(encoding="utf-8"))):
            there = (here.parent / target.partition("#")[0]).resolve()
            if there.suffix == ".md" and there.is_file() and there not in seen:
                waiting.append(there)
    assert seen == set(PAGES)


def test_a_row_named_with_its_threshold_is_the_row_in_data() -> None:
    """The pages that explain the guidelines cannot drift from the rows."""
    named = 0
    for page in PAGES:
        for set_id, row_id, comparison, threshold, unit in ROW.findall(page.read_text("utf-8")):
            path = ROOT / "src" / "ebbline" / "data" / "rules" / f"{set_id}.toml"
            table = tomllib.loads(path.read_text(encoding="utf-8"))
            rows = [*table["statement"], *table.get("validity", ())]
            row = next(one for one in rows if one["id"] == row_id)
            assert (row["comparison"], row[f"threshold_{unit}"]) == (comparison, int(threshold))
            named += 1
    assert named >= 12
