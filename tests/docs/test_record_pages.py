"""The pages on the record: what they tell a reader to type works, and no error is left out."""

import re
import shlex
from pathlib import Path

import pypdf
import pytest

from docs.generator.blocks import run
from ebbline.adapters.sql.engine import _MEANINGS
from ebbline.cli.main import main, parser
from ebbline.cli.record_named import VARIABLE

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples"
TUTORIAL = (ROOT / "docs" / "tutorial" / "first-visit.md").read_text(encoding="utf-8")
HOW_TO = (ROOT / "docs" / "how-to" / "keep-the-record.md").read_text(encoding="utf-8")
MORNING = f"python {shlex.quote(str(EXAMPLES / 'invented_morning.py'))}"


def commands(page: str) -> list[list[str]]:
    """Return the words of each command that a page tells to type without showing what it prints."""
    return [shlex.split(line) for line in re.findall(r"^    ebbline (.+)$", page, re.MULTILINE)]


def create(name: str, *options: str) -> str:
    """Return the command that makes a record."""
    words = ("--service", "Harbour Clinic", "--login", "quay", "--name", "R. Quay", *options)
    return f"ebbline record create --record {name} {shlex.join(words)}"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the record of the tutorial after its morning."""
    made = tmp_path_factory.mktemp("tutorial")
    run(create("harbour.ebbline", "--invented"), made)
    assert "exit code" not in run(f"{MORNING} harbour.ebbline", made)
    return made


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is typed at the prompts, in order."""
    answers: list[str] = []
    for name in ("getpass.getpass", "ebbline.cli.record_named.getpass", "builtins.input"):
        monkeypatch.setattr(name, lambda _: answers.pop(0))
    monkeypatch.delenv(VARIABLE, raising=False)
    return answers


def test_the_morning_leaves_what_the_tutorial_names(folder: Path) -> None:
    """Reports and sheets, all marked as invented."""
    for name in ("report-1-1.pdf", "report-2-1.pdf", "sheet-1.pdf", "sheet-2.pdf"):
        assert f"`{name}`" in TUTORIAL
        pages = pypdf.PdfReader(folder / name).pages
        assert all("Invented data" in page.extract_text() for page in pages)


def test_the_morning_is_played_once_and_on_invented_records_only(folder: Path) -> None:
    """Nothing is written otherwise."""
    before = run("ebbline record head --record harbour.ebbline", folder)
    again = run(f"{MORNING} harbour.ebbline", folder)
    assert again.startswith("Somebody works with this record already; nothing was written.")
    assert run("ebbline record head --record harbour.ebbline", folder) == before
    run(create("real.ebbline"), folder)
    refused = run(f"{MORNING} real.ebbline", folder)
    assert refused == (
        "This record is not marked as invented; nothing was written.\n[exit code 1]\n"
    )
    missing = run(f"{MORNING} none.ebbline", folder)
    assert missing.startswith("record: there is no such file; ")


def test_the_export_of_the_tutorial_is_done_by_the_reviewer(
    folder: Path, typed: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the password that the page names; it holds what the page says."""
    monkeypatch.chdir(folder)
    (words,) = commands(TUTORIAL)
    typed += re.findall(r"`(kelp [a-z ]+)`", TUTORIAL)
    assert main(words) == 0
    assert typed == []
    export = folder / "nell-haven"
    assert (export / "dictionary.csv").is_file()
    assert "Haven" in (export / "identity.csv").read_text(encoding="utf-8")
    assert "asked for by her father" in (export / "history.csv").read_text(encoding="utf-8")
    assert any(one.read_bytes().startswith(b"%PDF-") for one in export.rglob("*.pdf"))


def test_every_command_of_the_how_to_is_one() -> None:
    """With options that there are."""
    typed = commands(HOW_TO)
    for words in typed:
        parser().parse_args(words)
    assert {words[1] for words in typed} == {
        "create", "password", "add-person", "people", "rescue", "head", "check", "backup",
        "restore", "upgrade", "export", "erase",
    }  # fmt: skip


def test_every_trouble_with_a_database_is_in_the_how_to() -> None:
    """In the words of the error."""
    for _, wrong, _ in _MEANINGS:
        assert re.search(rf"^\| {re.escape(wrong)} \|", HOW_TO, re.MULTILINE), wrong


def test_people_begin_as_the_how_to_says(
    folder: Path, typed: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The manager chooses a password, adds somebody, lists everybody and is rescued."""
    monkeypatch.chdir(folder)
    once = run(create("people.ebbline"), folder).split()[-1]
    monkeypatch.setenv(VARIABLE, "people.ebbline")
    typed += [once, "tide pool seven", "tide pool seven", "tide pool seven"]
    for action in ("password", "add-person", "people", "rescue"):
        (words,) = (one for one in commands(HOW_TO) if one[1] == action)
        assert main(words) == 0
    assert typed == []
