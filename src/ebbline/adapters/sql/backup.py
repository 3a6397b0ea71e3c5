"""Write a backup: the whole record as one file, from one consistent view, while the clinic works.

The file is a zip. ``manifest.json`` says which record it is, its schema, its head, and for each
other member its rows, its length and its SHA-256. ``tables/NAME.jsonl`` holds a table, one row a
line as a JSON object by column; bytes are written ``{"base64": "..."}`` as they are stored, packed
by zlib. Each table refers only to those that stand before it.

A backup holds what patients are called and the hashes of passwords: keep it where only the service
can read it. Logins that are open, wrong passwords and the clock of the machine are not in it.
"""

import base64
import hashlib
import json
import os
import secrets
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from sqlalchemy import Connection, MetaData, Table, func, select

from ebbline._version import __version__
from ebbline.adapters.sql.engine import spoken
from ebbline.adapters.sql.look import SqlLook
from ebbline.adapters.sql.migrate import revision_of
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.errors import BrokenRecordError, RecordError, UnavailableError

FORMAT = "ebbline record backup"
FORMAT_RELEASE = 1
MANIFEST = "manifest.json"
WARNING = (
    "A backup holds names and the hashes of passwords: keep it where only the service can read it."
)

LEFT_OUT = ("alembic_version", "session", "attempt", "clock_anchor")
"""Tables that are not in a backup; the schema's revision stands in the manifest."""

_ROWS_AT_ONCE = 20
_PIECE = 1 << 20


@dataclass(frozen=True, slots=True)
class BackupMade:
    """A backup as it was written: its file, the file's SHA-256, and the last act in it."""

    path: Path
    sha256: str
    bytes: int
    head: tuple[int, str]
    schema: str


def backup(record: SqlRecord, path: Path) -> BackupMade:
    """Write a backup of a record, of this or an earlier schema, that only its owner can read.

    Parameters
    ----------
    record : SqlRecord
        The record; acts may go on meanwhile.
    path : Path
        The new file. It is there only once it is whole.

    Returns
    -------
    BackupMade

    Raises
    ------
    RecordError
        If there is a file of that name already.
    UnavailableError
        If the file cannot be written.
    BrokenRecordError
        If there is no record.
    """
    with spoken(record.where), record.reading() as connection, whole_file(path) as file:
        schema = revision_of(connection)
        if schema is None:
            raise BrokenRecordError(
                f"record {record.where}: there is no record to back up; allowed: one made by "
                "'ebbline record create'; came: a database without its tables"
            )
        head = SqlLook(connection).head()
        manifest = {
            "format": FORMAT,
            "format_release": FORMAT_RELEASE,
            "release": __version__,
            "schema": schema,
            "head": {"seq": head[0], "hash": head[1]},
        }
        _write_zip(connection, file, manifest)
        size = file.seek(0, os.SEEK_END)
        digest = _digest(file)
    return BackupMade(path=path, sha256=digest, bytes=size, head=head, schema=schema)


def note_backup(record: SqlRecord, made: BackupMade, *, by: str) -> None:
    """Record in the history that a backup was made, with the digest of its file.

    Parameters
    ----------
    record : SqlRecord
        The record that was backed up.
    made : BackupMade
        The backup.
    by : str
        Id of the user; empty for the system.
    """
    with record.act("backup", by=by, why="", token=None) as act:
        act.warn(f"{WARNING} Row {made.head[0]} is its last; SHA-256 {made.sha256}.")


@contextmanager
def whole_file(path: Path) -> Iterator[IO[bytes]]:
    """Open a new file that gets its name only once it is whole and on the disk.

    Parameters
    ----------
    path : Path
        Its name; nothing of that name may be there.

    Yields
    ------
    IO[bytes]
        Readable by its owner only.

    Raises
    ------
    RecordError
        If there is something of that name already.
    UnavailableError
        If it cannot be written; nothing is left of it then.
    """
    if path.exists():
        raise RecordError(
            f"{path}: there is one already, and it is not written over; allowed: a new name; "
            "came: the name of a file"
        )
    partial = path.with_name(f".{path.name}.{secrets.token_hex(4)}.partial")
    try:
        handle = os.open(partial, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        partial.replace(path)
        _keep_name(path.parent)
    except OSError as error:
        raise UnavailableError(
            f"{path}: it cannot be written; allowed: a file in a folder that can be written, on a "
            f"disk with room; came: {error.strerror}"
        ) from error
    finally:
        partial.unlink(missing_ok=True)


def _digest(file: IO[bytes]) -> str:
    digest = hashlib.sha256()
    file.seek(0)
    while piece := file.read(_PIECE):
        digest.update(piece)
    return digest.hexdigest()


def _keep_name(folder: Path) -> None:
    """Bring the new name itself to the disk, where the system can do that for a folder."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _write_zip(connection: Connection, file: IO[bytes], manifest: Mapping[str, Any]) -> None:
    # The tables are asked of the database: an older schema has others than this release.
    found = MetaData()
    found.reflect(connection)
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as archive:
        members = [
            _write_table(connection, archive, table)
            for table in found.sorted_tables
            if table.name not in LEFT_OUT
        ]
        told = _told(connection, found)
        archive.writestr(
            zipfile.ZipInfo(MANIFEST),
            json.dumps({**manifest, **told, "members": members}, indent=1),
        )


def _write_table(connection: Connection, archive: zipfile.ZipFile, table: Table) -> dict[str, Any]:
    """Write one member and return its line of the manifest."""
    name = f"tables/{table.name}.jsonl"
    info = zipfile.ZipInfo(name)
    info.compress_type = zipfile.ZIP_DEFLATED
    digest, rows, length = hashlib.sha256(), 0, 0
    query = select(table).order_by(*table.primary_key.columns)
    options = {"yield_per": _ROWS_AT_ONCE}
    with archive.open(info, "w", force_zip64=True) as member:
        for row in connection.execute(query, execution_options=options).mappings():
            plain = {column: _plain(value) for column, value in row.items()}
            line = json.dumps(plain, ensure_ascii=False).encode() + b"\n"
            member.write(line)
            digest.update(line)
            rows, length = rows + 1, length + len(line)
    return {"name": name, "rows": rows, "bytes": length, "sha256": digest.hexdigest()}


def _plain(value: Any) -> Any:
    if isinstance(value, bytes | memoryview):
        return {"base64": base64.b64encode(value).decode()}
    return value


def _told(connection: Connection, found: MetaData) -> dict[str, Any]:
    """Return what the record says of itself, and when its last act was."""
    meta, history = found.tables["record_meta"], found.tables["history"]
    told = {row.name: row.value for row in connection.execute(select(meta))}
    return {
        "record": told.get("id", ""),
        "service": told.get("service", ""),
        "invented": told.get("invented") == "true",
        "last_act_at": connection.scalar(select(func.max(history.c.at))),
    }
