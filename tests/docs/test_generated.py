"""The generated reference is up to date, and nothing that a user can meet is missing from it."""

import argparse
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

import ebbline
from docs.generator.commands import walk
from docs.generator.errors import family
from docs.generator.messages import messages
from ebbline.cli.main import main, parser

ROOT = Path(__file__).resolve().parents[2]
REFERENCE = ROOT / "docs" / "reference"
DATA = ROOT / "src" / "ebbline" / "data"


def page(name: str) -> str:
    """Return a page of the reference."""
    return (REFERENCE / f"{name}.md").read_text(encoding="utf-8")


def section(text: str, title: str) -> str:
    """Return what stands below a heading, to the next heading of its level or above."""
    level = title.split(maxsplit=1)[0]
    start = text.index(f"\n{title}\n")
    rest = text[start + len(title) + 2 :]
    found = re.search(rf"^#{{1,{len(level)}}} ", rest, re.MULTILINE)
    return rest[: found.start()] if found else rest


def rows(name: str) -> dict[str, Any]:
    """Return a file under data."""
    return tomllib.loads((DATA / name).read_text(encoding="utf-8"))


def keys(schema: object) -> set[str]:
    """Return every key name that a JSON Schema gives to an object, however deep."""
    found: set[str] = set()
    if isinstance(schema, dict):
        found |= set(schema.get("properties", {}))
        for value in schema.values():
            found |= keys(value)
    elif isinstance(schema, list):
        for value in schema:
            found |= keys(value)
    return found


def test_the_generated_pages_are_what_the_generator_would_write() -> None:
    """After a change of code or data, run: python docs/generate.py."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "docs" / "generate.py"), "--check"],
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.stdout + done.stderr == ""
    assert done.returncode == 0


def test_every_command_and_every_option_is_in_its_section() -> None:
    """Each parser's arguments stand below the heading of its command."""
    for words, one in walk("ebbline", parser()):
        text = section(page("commands"), f"## {words}")
        for action in one._actions:
            names = [*action.option_strings] or [str(action.metavar)]
            if isinstance(action, argparse._SubParsersAction):
                names = list(action.choices)
            for name in names:
                assert f"`{name}" in text, (words, name)


def test_every_exit_code_of_the_family_is_in_the_commands() -> None:
    """The codes that errors end with are those that the page lists."""
    text = section(page("commands"), "## Exit codes")
    listed = set(re.findall(r"^\| (\d) \|", text, re.MULTILINE))
    assert listed == {"0", *(str(one.exit_code) for one in family())}


@pytest.mark.parametrize("path", sorted((DATA / "rules").glob("*.toml")), ids=lambda p: p.stem)
def test_every_row_of_a_rule_set_is_in_its_section(path: Path) -> None:
    """Ids, thresholds and sources of all rows stand below the heading of their set."""
    table = rows(f"rules/{path.name}")
    text = section(page("rule-sets"), f"### `{table['id']}`")
    for row in (*table["statement"], *table.get("validity", ())):
        line = next((one for one in text.splitlines() if one.startswith(f"| `{row['id']}` |")), "")
        threshold = row.get("threshold_ppm", row.get("threshold_points"))
        assert f"{row['comparison']} {threshold:g} " in line
        assert row["source"] in line


@pytest.mark.parametrize("name", ["settings", "noise", "dilution", "transit"])
def test_every_setting_is_in_the_settings_with_its_value(name: str) -> None:
    """A key and its value stand in one line."""
    table = rows(f"{name}.toml")
    inner = [value for value in table.values() if isinstance(value, dict)]
    flat = {key: value for key, value in table.items() if not isinstance(value, dict)}
    for group in (flat, *inner):
        for key, value in group.items():
            first = value[0] if isinstance(value, list) else value
            shown = f"{first:g}" if isinstance(first, float) else str(first)
            assert f"| `{key}` | `{shown}`" in page("settings")


def test_every_protocol_is_in_the_settings_with_its_minutes_and_source() -> None:
    """Each stands in one line."""
    text = section(page("settings"), "## Protocols")
    for name, protocol in rows("protocols.toml").items():
        line = next(one for one in text.splitlines() if one.startswith(f"| `{name}` |"))
        assert ", ".join(f"`{minute}`" for minute in protocol["minutes"]) in line
        assert protocol["source"] in line


def test_every_limit_of_a_caveat_is_in_the_settings_with_its_source() -> None:
    """No limit stands there without a word on where it comes from."""
    text = section(page("settings"), "## Limits of caveats")
    for name, value in rows("wording.toml")["limit"].items():
        assert re.search(rf"^\| `{name}` \| `{value:g}` \| \S+", text, re.MULTILINE), name


def test_every_caveat_and_caution_is_there_word_for_word() -> None:
    """What a report may print can be looked up."""
    wording = rows("wording.toml")
    for name, text in wording["caveat"].items():
        line = next(x for x in page("caveats").splitlines() if x.startswith(f"| `{name}` |"))
        assert text in line
    for caution in wording["caution"]:
        assert caution["text"] in page("caveats")


def test_every_limit_is_named_by_the_condition_of_a_caveat() -> None:
    """A limit that no condition uses would be a condition left out of the page."""
    source = (ROOT / "docs" / "generator" / "caveats.py").read_text(encoding="utf-8")
    for name in rows("wording.toml")["limit"]:
        assert f"{{{name}}}" in source, name


def test_every_error_class_is_in_the_errors_with_its_exit_code() -> None:
    """The family is complete."""
    for one in family():
        assert f"| `{one.__name__}` | {one.exit_code} |" in page("errors")


def test_every_module_that_raises_an_error_has_messages_in_the_errors() -> None:
    """The search through the syntax passes over no module."""
    names = "|".join(one.__name__ for one in family())
    told, text = {message.module for message in messages()}, page("errors")
    for path in (ROOT / "src").rglob("*.py"):
        if re.search(rf"raise ({names})\(|\.refuse\(", path.read_text(encoding="utf-8")):
            module = ".".join(path.relative_to(ROOT / "src").with_suffix("").parts)
            assert module in told, module
            assert f"`{module}`" in text


@pytest.mark.parametrize(
    "words",
    [
        ["interpret", "no-such-file.csv"],
        ["interpret", "curve.csv", "--reference", "o2 60"],
        ["interpret", "curve.csv", "--rules", "nobody-2001"],
        ["interpret", "curve.csv", "--criterion", "acg-2020"],
        ["rules", "check", "no-such-file.toml"],
        ["rules", "check", "curve.csv"],
    ],
    ids=" ".join,
)
def test_a_refusal_that_a_user_meets_is_in_the_errors(
    words: list[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """What is printed as wrong fits a text of the page."""
    monkeypatch.chdir(tmp_path)
    Path("curve.csv").write_text("# substrate: glucose\nminute,h2_ppm\n0,5\n90,9\n", "utf-8")
    assert main(words) > 0
    wrong = capsys.readouterr().err.partition("; allowed: ")[0]
    texts = re.findall(r"^\| (.+?) \| .+ \| `ebbline\.", page("errors"), re.MULTILINE)
    patterns = ["[^;]+".join(map(re.escape, text.split("…"))) for text in texts]
    assert any(re.search(rf"{pattern}$", wrong) for pattern in patterns), wrong


def test_every_public_name_is_in_the_python_page() -> None:
    """The public namespace is what the page says."""
    listed = re.findall(r"^\| `(\w+)` \|", page("python"), re.MULTILINE)
    assert sorted(listed) == sorted(ebbline.__all__)


def test_every_key_of_the_document_is_in_the_interpretation() -> None:
    """The schema and the page hold the same keys."""
    schema = json.loads((DATA / "schema" / "interpretation.v1.json").read_text(encoding="utf-8"))
    listed = set(re.findall(r"^\| `(\w+)` \|", page("interpretation"), re.MULTILINE))
    assert listed == keys(schema)


def test_the_words_of_a_report_are_explained_to_its_reader() -> None:
    """Each finding and its words in the report stand in one line."""
    text = (ROOT / "docs" / "explanation" / "reading-a-report.md").read_text(encoding="utf-8")
    for finding, words in rows("report.toml")["finding"].items():
        assert f"| {finding} | {words} |" in text
