"""An export is whole or not there, and no cell of it is a formula."""

import csv
import io
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from ebbline.adapters.files.record_dictionary import Contents, readme
from ebbline.adapters.files.record_export import guarded, write_export
from ebbline.core.clinic.record.entry import columns_of
from ebbline.core.clinic.record.people import Identity
from ebbline.core.errors import RecordError, UnavailableError


def contents(*, identity: bool) -> Contents:
    """Return an export of one invented identity that was never erased."""
    row = {
        **dict.fromkeys(one.name for one in columns_of(Identity)),
        "id": "i1",
        "version": 1,
        "seq": 2,
        "patient_id": "p1",
        "family_name": "=Shore",
        "given_name": "'Ada",
        "born": None,
        "record_no": "-1",
        "national_no": "",
        "contact": 'two\nlines, and a "quote"',
        "salt": "s",
    }
    return Contents(
        about="patient p1",
        told={"id": "r1", "service": "Harbour Clinic", "invented": "true"},
        kinds=("identity",),
        rows=lambda name: [(row, True)],
        history=[{"seq": 2, "act": "@register", "why": "asked"}],
        history_columns={"seq": "number", "act": "what", "why": "why"},
        identity=identity,
    )


def read(path: Path) -> list[dict[str, str]]:
    """Return the rows of a CSV file."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_cells_that_a_spreadsheet_would_run_are_guarded(tmp_path: Path) -> None:
    """Taking one quote away gives the text back; line ends, commas and quotes are kept."""
    assert write_export(contents(identity=True), tmp_path / "out") == 1
    (row,) = read(tmp_path / "out" / "identity.csv")
    assert (row["family_name"], row["given_name"], row["record_no"]) == ("'=Shore", "''Ada", "'-1")
    assert row["contact"] == 'two\nlines, and a "quote"'
    assert (row["born"], row["stands"], row["erased"]) == ("", "yes", "no")
    assert read(tmp_path / "out" / "history.csv") == [
        {"seq": "2", "act": "'@register", "why": "asked"}
    ]


def test_without_identity_the_columns_are_not_there(tmp_path: Path) -> None:
    """Neither the fields, nor whether they were erased, nor reasons."""
    write_export(contents(identity=False), tmp_path / "out")
    (row,) = read(tmp_path / "out" / "identity.csv")
    assert list(row) == ["id", "version", "seq", "stands", "patient_id"]
    assert list(read(tmp_path / "out" / "history.csv")[0]) == ["seq", "act"]
    text = "".join(
        one.read_text(encoding="utf-8") for one in (tmp_path / "out").iterdir() if one.is_file()
    )
    assert "Shore" not in text
    assert "so it is not\nanonymous." in text


@given(st.text())
@example("=1+1")
@example("'=1+1")
@example("\ttab")
@example("\r\n")
def test_no_text_is_a_formula_and_every_text_comes_back(text: str) -> None:
    """Through Python's own CSV reader."""
    cell = guarded(text)
    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert cell.removeprefix("'") == text
    file = io.StringIO(newline="")
    csv.writer(file).writerow([cell, "x"])
    file.seek(0)
    assert next(csv.reader(file)) == [cell, "x"]


def test_nothing_is_written_over(tmp_path: Path) -> None:
    """A folder that is there stays as it is."""
    with pytest.raises(RecordError) as caught:
        write_export(contents(identity=True), tmp_path)
    assert str(caught.value) == (
        f"{tmp_path}: there is something already, and it is not written over; allowed: a new name; "
        "came: a name that is taken"
    )
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """Nothing is left behind."""
    path = tmp_path / "none" / "out"
    with pytest.raises(UnavailableError) as caught:
        write_export(contents(identity=True), path)
    assert str(caught.value) == (
        f"{path}: the export cannot be written; allowed: a new name in a folder that can be "
        "written, on a disk with room; came: No such file or directory"
    )
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["out", "out.zip"])
def test_an_export_that_fails_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """Not even a part."""

    def fail(contents: Contents) -> str:
        raise MemoryError

    monkeypatch.setattr("ebbline.adapters.files.record_export.readme", fail)
    with pytest.raises(MemoryError):
        write_export(contents(identity=True), tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_only_its_owner_can_read_it(tmp_path: Path) -> None:
    """A folder, and a zip."""
    write_export(contents(identity=True), tmp_path / "out")
    write_export(contents(identity=True), tmp_path / "out.zip")
    assert (tmp_path / "out").stat().st_mode & 0o777 == 0o700
    assert (tmp_path / "out.zip").stat().st_mode & 0o777 == 0o600


def test_the_page_says_whose_it_is_and_what_is_invented() -> None:
    """And that local codes apply."""
    page = readme(contents(identity=True))
    assert page.startswith("# Export of patient p1\n\n**Everything in it is invented.** From the ")
    assert "local codes on patient data apply" in page
    assert "| family_name | text | family name |" in page
    assert "| patient_id | text | the patient (id in patient.csv) |" in page
