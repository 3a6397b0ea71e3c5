"""What the pages show of files and commands is what these are today."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from docs.generate import differences
from docs.generator.blocks import recorded_pages, refresh

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = sorted((ROOT / "examples").iterdir())
OWN_PAGES = [
    ROOT / "README.md",
    *sorted((ROOT / "docs" / "tutorial").glob("*.md")),
    *sorted((ROOT / "docs" / "how-to").glob("*.md")),
]
BLOCK = re.compile(r"(?:<!-- (.+?) -->\n)?^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def name(path: Path) -> str:
    """Return a path as the project writes it."""
    return path.relative_to(ROOT).as_posix()


@pytest.mark.parametrize("path", recorded_pages(), ids=name)
def test_each_recorded_block_is_what_comes_out_now(path: Path) -> None:
    """After a change of output, run: python docs/generate.py --outputs."""
    difference = differences(path, refresh(path))
    assert not difference, difference


@pytest.mark.parametrize("path", OWN_PAGES, ids=name)
def test_each_block_is_recorded_or_part_of_an_example(path: Path) -> None:
    """No output is typed by hand, and no file is shown that does not exist."""
    examples = [file.read_text(encoding="utf-8") for file in EXAMPLES if file.is_file()]
    for mark, language, body in BLOCK.findall(path.read_text(encoding="utf-8")):
        if language == "console":
            assert mark.startswith("runs"), body
            assert body.startswith("$ "), body
        elif language in ("csv", "toml", "python"):
            assert any(body in text for text in examples), body


@pytest.mark.parametrize("path", [p for p in EXAMPLES if p.suffix == ".py"], ids=name)
def test_each_example_script_runs(path: Path) -> None:
    """It ends with 0 and has nothing to complain of; with no input it has nothing to say."""
    done = subprocess.run(
        [sys.executable, "-W", "error", path.name],
        input="",
        capture_output=True,
        encoding="utf-8",
        cwd=path.parent,
        check=False,
    )
    assert done.stderr == ""
    assert done.returncode == 0


@pytest.mark.parametrize("path", [p for p in EXAMPLES if p.is_file()], ids=name)
def test_each_example_is_used_by_a_page(path: Path) -> None:
    """An example that no page shows is one that nobody finds."""
    pages = [ROOT / "README.md", *(ROOT / "docs").rglob("*.md")]
    assert any(path.name in page.read_text(encoding="utf-8") for page in pages) or any(
        path.name in other.read_text(encoding="utf-8") for other in EXAMPLES if other.is_file()
    )


@pytest.mark.parametrize(
    "path", [p for p in EXAMPLES if p.suffix in (".csv", ".toml", ".py")], ids=name
)
def test_each_example_with_data_says_that_they_are_invented(path: Path) -> None:
    """Curve files say it in their head, the others in words; tables of ids belong to a script."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".csv" and text.startswith("#"):
        assert text.startswith("# invented: yes\n")
    elif path.suffix == ".toml":
        assert "invented" in text.splitlines()[0]
    elif path.suffix == ".csv":
        scripts = [p.read_text(encoding="utf-8") for p in EXAMPLES if p.suffix == ".py"]
        assert all("invented" in script for script in scripts if path.name in script)
