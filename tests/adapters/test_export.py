"""An export holds every row in files that other programs read, and nothing that it should not."""

import csv
import json
import zipfile
from pathlib import Path

import pandas as pd
import pytest
from sqlalchemy import insert, select

from ebbline.adapters.export import export_to
from ebbline.adapters.sql.erase import SqlEraser
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import CREDENTIAL, TABLES
from ebbline.core.clinic.record.entry import columns_of
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.clinic.record.staff import Erasure
from tests.adapters.sql.harbour import fill, rename


@pytest.fixture
def ids(record: SqlRecord) -> dict[str, str]:
    """Shore, who is now Strand, beside Haven."""
    shore = fill(record, "Shore")
    fill(record, "Haven")
    rename(record, shore, name="Strand")
    return shore


def read(path: Path) -> list[dict[str, str]]:
    """Return the rows of a CSV file."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def every_byte(folder: Path) -> bytes:
    """Return all that was written."""
    return b"".join(one.read_bytes() for one in sorted(folder.rglob("*")) if one.is_file())


def test_everything_is_in_it(record: SqlRecord, ids: dict[str, str], tmp_path: Path) -> None:
    """One file a kind with every version, and the columns of the declaration."""
    folder = tmp_path / "all"
    rows = export_to(record, folder)(None, True)
    counted = 0
    for name, kind in KINDS.items():
        found = read(folder / f"{name}.csv")
        with record.reading() as connection:
            stored = connection.execute(select(TABLES[name])).mappings().all()
        keys = {(row["id"], int(row["version"]), int(row["seq"])) for row in found}
        assert keys == {(row["id"], row["version"], row["seq"]) for row in stored}
        if found:
            assert {one.name for one in columns_of(kind)} <= set(found[0])
        counted += len(found)
    assert rows == counted == 2 * 25 + 2
    names = read(folder / "identity.csv")
    assert [
        (row["family_name"], row["stands"]) for row in names if row["id"] == ids["identity"]
    ] == [
        ("Shore", "no"),
        ("Strand", "yes"),
    ]


def test_values_are_read_by_another_library(
    record: SqlRecord, ids: dict[str, str], tmp_path: Path
) -> None:
    """pandas finds numbers, moments with their zone, and JSON."""
    export_to(record, tmp_path / "all")(None, True)
    tries = pd.read_csv(tmp_path / "all" / "sample_try.csv", parse_dates=["at"])
    assert list(tries["h2_ppm"]) == [1.5, 1.5]
    assert str(tries["at"].iloc[0]) == "2026-11-27 08:00:00+00:00"
    assert json.loads(tries["reasons"].iloc[0]) == ["reasons"]


def test_documents_are_files(record: SqlRecord, ids: dict[str, str], tmp_path: Path) -> None:
    """A report is its PDF byte by byte, an interpretation and a trace's summary are JSON."""
    folder = tmp_path / "all"
    export_to(record, folder)(ids["patient"], True)
    (report,) = read(folder / "report.csv")
    assert report["pages"] == f"documents/report-{ids['report']}-1.pdf"
    assert (folder / report["pages"]).read_bytes() == b"%PDF-1.7 invented pages of Shore"
    (snapshot,) = read(folder / "snapshot.csv")
    assert json.loads((folder / snapshot["document"]).read_bytes()) == {"of": "Shore"}
    (sample,) = read(folder / "sample_try.csv")
    assert json.loads((folder / sample["trace_summary"]).read_bytes()) == {"said": "trace_summary"}


def test_one_patient_is_alone_in_it(record: SqlRecord, ids: dict[str, str], tmp_path: Path) -> None:
    """Nobody else, no user's login, and only the acts about them."""
    folder = tmp_path / "one"
    export_to(record, folder)(ids["patient"], True)
    content = every_byte(folder)
    assert b"Shore" in content
    assert b"Haven" not in content
    assert not (folder / "user.csv").exists()
    acts = [int(row["seq"]) for row in read(folder / "history.csv")]
    assert acts == [*range(7, 25), 51]


def test_the_history_is_readable(record: SqlRecord, ids: dict[str, str], tmp_path: Path) -> None:
    """Who by name, why in words, and what was written."""
    with record.act("export", by=ids["user"], why="=asked", token=None) as act:
        act.warn("it leaves the record")
    folder = tmp_path / "all"
    export_to(record, folder)(None, True)
    last = read(folder / "history.csv")[-1]
    assert last["by_name"] == "name"
    assert (last["act"], last["why"], last["zone"]) == ("export", "'=asked", "Europe/London")
    assert json.loads(last["warned"]) == ["it leaves the record"]
    first = read(folder / "history.csv")[0]
    assert json.loads(first["wrote"]) == [["user", ids["user"], 1]]


def test_without_identity_nothing_held_apart_is_in_it(
    record: SqlRecord, ids: dict[str, str], tmp_path: Path
) -> None:
    """No name, no reason, no report, no interpretation; the readings are all there."""
    folder = tmp_path / "bare"
    rows = export_to(record, folder)(None, False)
    content = every_byte(folder)
    for word in (b"Shore", b"Strand", b"Haven", b"%PDF", b"asked by"):
        assert word not in content
    assert rows == 52
    assert len(read(folder / "sample_try.csv")) == 2
    assert {one.suffix for one in (folder / "documents").iterdir()} == {".json"}


def test_passwords_and_logins_are_in_no_export(
    record: SqlRecord, ids: dict[str, str], tmp_path: Path
) -> None:
    """Not even as a hash, and no salt."""
    with record.writing() as connection:
        connection.execute(
            insert(CREDENTIAL).values(
                user_id=ids["user"], hash="$argon2id$invented", one_time=False, changed_at="2026"
            )
        )
        salt = connection.scalars(select(TABLES["identity"].c.salt)).first()
    folder = tmp_path / "all"
    export_to(record, folder)(None, True)
    content = every_byte(folder)
    assert b"argon2id" not in content
    assert str(salt).encode() not in content


def test_an_erased_row_says_so(record: SqlRecord, ids: dict[str, str], tmp_path: Path) -> None:
    """Its cells are empty, and its documents are not there."""
    with record.act("erase identity", by="", why="", token=None) as act:
        rows = SqlEraser(record).empty(act, ids["patient"])
        act.add(Erasure(act.new_id(), ids["patient"], "ground", "the service", rows))
    folder = tmp_path / "one"
    export_to(record, folder)(ids["patient"], True)
    assert {row["erased"] for row in read(folder / "identity.csv")} == {"yes"}
    (report,) = read(folder / "report.csv")
    assert (report["pages"], report["erased"]) == ("", "yes")
    assert b"Shore" not in every_byte(folder)


def test_the_dictionary_knows_every_column(
    record: SqlRecord, ids: dict[str, str], tmp_path: Path
) -> None:
    """Of every file, in order, with words; the page to read says the same."""
    folder = tmp_path / "all"
    export_to(record, folder)(None, True)
    dictionary = read(folder / "dictionary.csv")
    page = (folder / "README.md").read_text(encoding="utf-8")
    for file in sorted(folder.glob("*.csv")):
        if file.name != "dictionary.csv":
            with file.open(encoding="utf-8", newline="") as lines:
                head = next(csv.reader(lines))
            told = [row for row in dictionary if row["file"] == file.name]
            assert [row["column"] for row in told] == head
            assert all(row["says"] for row in told)
            assert f"## {file.name}" in page
    tells = {(row["file"], row["column"]) for row in dictionary if row["tells_who"] == "yes"}
    assert ("identity.csv", "family_name") in tells
    assert ("history.csv", "why") in tells
    assert ("patient.csv", "sex") not in tells


def test_a_zip_holds_the_same_files(record: SqlRecord, ids: dict[str, str], tmp_path: Path) -> None:
    """Name by name and byte by byte."""
    export_to(record, tmp_path / "out")(None, True)
    export_to(record, tmp_path / "out.zip")(None, True)
    with zipfile.ZipFile(tmp_path / "out.zip") as archive:
        packed = {name: archive.read(name) for name in archive.namelist()}
    files = {
        str(one.relative_to(tmp_path / "out")): one.read_bytes()
        for one in (tmp_path / "out").rglob("*")
        if one.is_file()
    }
    assert packed == files
    assert [one.name for one in tmp_path.glob("*out*")].count("out") == 1
    assert list(tmp_path.glob("*partial*")) == []
