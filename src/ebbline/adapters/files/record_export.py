"""Write an export: a folder, or a zip, of CSV files with their data dictionary and documents."""

import csv
import secrets
import shutil
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from ebbline.adapters.files.record_dictionary import (
    Contents,
    columns_shown,
    dictionary,
    heads,
    history_columns,
    is_document,
    readme,
)
from ebbline.core.clinic.record.entry import Column
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.errors import RecordError, UnavailableError

# What a spreadsheet may take for a formula (OWASP, CSV Injection; the list is from memory), and the
# quote that marks such a cell here.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "'")


def write_export(contents: Contents, path: Path) -> int:
    """Write an export under a name that is not taken yet.

    Parameters
    ----------
    contents : Contents
        What to write.
    path : Path
        A folder; with the ending ``.zip`` one file.

    Returns
    -------
    int
        How many rows of entries were written.

    Raises
    ------
    RecordError
        If there is something of that name already.
    UnavailableError
        If it cannot be written; nothing is left of it then.
    """
    with _whole_folder(path) as folder:
        written = sum(_write_kind(contents, name, folder) for name in contents.kinds)
        _write_history(contents, folder)
        with (folder / "dictionary.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(dictionary(contents))
        (folder / "README.md").write_text(readme(contents), encoding="utf-8")
    return written


@contextmanager
def _whole_folder(path: Path) -> Iterator[Path]:
    """Give a folder to write into, which gets its name only once it is whole."""
    if path.exists():
        raise RecordError(
            f"{path}: there is something already, and it is not written over; allowed: a new name; "
            "came: a name that is taken"
        )
    folder = path.with_name(f".{path.name}.{secrets.token_hex(4)}.partial")
    packed = folder.with_suffix(".zip")
    try:
        folder.mkdir(mode=0o700)
        yield folder
        if path.suffix == ".zip":
            packed.touch(mode=0o600)
            with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
                for file in sorted(one for one in folder.rglob("*") if one.is_file()):
                    archive.write(file, file.relative_to(folder))
            packed.replace(path)
        else:
            folder.replace(path)
    except OSError as error:
        raise UnavailableError(
            f"{path}: the export cannot be written; allowed: a new name in a folder that can be "
            f"written, on a disk with room; came: {error.strerror}"
        ) from error
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        packed.unlink(missing_ok=True)


def _write_kind(contents: Contents, name: str, folder: Path) -> int:
    """Write the file of a kind, and the documents that its rows hold."""
    kind = KINDS[name]
    columns_of_file = heads(kind, identity=contents.identity)
    columns = columns_shown(kind, identity=contents.identity)
    written = 0
    with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(columns_of_file))
        writer.writeheader()
        for row, stands in contents.rows(name):
            cells = {
                "version": row["version"],
                "seq": row["seq"],
                "stands": "yes" if stands else "no",
            }
            for column in columns:
                cells[column.name] = _cell(column, row, folder=folder, name=name)
            if "erased" in columns_of_file:
                cells["erased"] = "yes" if row["salt"] is None else "no"
            writer.writerow(cells)
            written += 1
    return written


def _cell(column: Column, row: Mapping[str, Any], *, folder: Path, name: str) -> Any:
    """Return what stands in a cell; what is a document of its own becomes a file."""
    value = row[column.name]
    if value is None:
        return ""
    if is_document(column):
        stem = f"{name}-{row['id']}-{row['version']}"
        return _write_document(value, stem, folder=folder)
    if column.form == "yes-no":
        return "yes" if value else "no"
    return guarded(value) if column.form == "text" else value


def _write_document(value: bytes | str, stem: str, *, folder: Path) -> str:
    """Write a document beside the CSV files and return its name; nothing for an empty one."""
    if value in (b"", "{}"):
        return ""
    content = value.encode() if isinstance(value, str) else bytes(value)
    ending = "pdf" if content.startswith(b"%PDF") else "json"
    (folder / "documents").mkdir(exist_ok=True)
    (folder / "documents" / f"{stem}.{ending}").write_bytes(content)
    return f"documents/{stem}.{ending}"


def guarded(text: str) -> str:
    """Return a text as it stands in a CSV cell: never one that a spreadsheet takes for a formula.

    Such a text gets a single quote in front, and so does one that begins with a quote: taking one
    leading quote away gives the text back.

    Parameters
    ----------
    text : str
        As it was recorded.

    Returns
    -------
    str
    """
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def _write_history(contents: Contents, folder: Path) -> None:
    columns = history_columns(contents)
    with (folder / "history.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, extrasaction="ignore")
        writer.writeheader()
        for act in contents.history:
            writer.writerow(
                {
                    name: guarded(value) if isinstance(value, str) else value
                    for name, value in act.items()
                }
            )
