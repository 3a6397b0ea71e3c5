"""Read a backup file: check every part of it before anything is done with it."""

import base64
import hashlib
import json
import lzma
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ebbline.adapters.sql.backup import FORMAT, FORMAT_RELEASE, MANIFEST
from ebbline.core.errors import BrokenRecordError, RecordError, UnavailableError

_PIECE = 1 << 20
_ALLOWED = "a whole file from 'ebbline record backup'"
# What Python's zip reader raises on bytes that are no zip, or not any more.
_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    ValueError,
)


@dataclass(frozen=True, slots=True)
class Member:
    """One table in a backup: its rows, and the SHA-256 of its lines."""

    name: str
    rows: int
    sha256: str

    @property
    def table(self) -> str:
        """Name of the table."""
        return self.name.removeprefix("tables/").removesuffix(".jsonl")


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup says of itself."""

    release: str
    schema: str
    record: str
    service: str
    head: tuple[int, str]
    members: tuple[Member, ...]


class BackupFile:
    """An open backup whose every member was checked against its digest."""

    def __init__(self, archive: zipfile.ZipFile, manifest: Manifest) -> None:
        self._archive = archive
        self.manifest = manifest

    def rows(self, member: Member) -> Iterator[dict[str, Any]]:
        """Yield the rows of a table in the order in which they were written."""
        with self._archive.open(member.name) as lines:
            for line in lines:
                yield {name: _value(value) for name, value in json.loads(line).items()}


@contextmanager
def open_backup(path: Path) -> Iterator[BackupFile]:
    """Open a backup and check all of it.

    Parameters
    ----------
    path : Path
        The file.

    Yields
    ------
    BackupFile

    Raises
    ------
    UnavailableError
        If the file cannot be read.
    BrokenRecordError
        If it is no backup, or a part of it is not as it was written.
    RecordError
        If it is a backup in a form that a later release writes.
    """
    try:
        archive = zipfile.ZipFile(path)
    except OSError as error:
        raise UnavailableError(
            f"{path}: the backup cannot be read; allowed: {_ALLOWED}; came: {error.strerror}"
        ) from error
    except _DAMAGE as error:
        raise _damaged(path, "it is no backup, or was cut off", str(error)) from error
    with archive:
        manifest = _read_manifest(path, archive)
        for member in manifest.members:
            _check_member(path, archive, member)
        yield BackupFile(archive, manifest)


def _read_manifest(path: Path, archive: zipfile.ZipFile) -> Manifest:
    try:
        told = json.loads(archive.read(MANIFEST))
        if told["format"] != FORMAT:
            raise _damaged(path, "it is no backup of a record", f"format {told['format']}")
        if told["format_release"] > FORMAT_RELEASE:
            raise RecordError(
                f"{path}: a later release of ebbline wrote it; allowed: form {FORMAT_RELEASE} of "
                f"a backup; came: form {told['format_release']}"
            )
        manifest = Manifest(
            release=str(told["release"]),
            schema=str(told["schema"]),
            record=str(told["record"]),
            service=str(told["service"]),
            head=(int(told["head"]["seq"]), str(told["head"]["hash"])),
            members=tuple(
                Member(str(one["name"]), int(one["rows"]), str(one["sha256"]))
                for one in told["members"]
            ),
        )
    except (*_DAMAGE, OSError, KeyError, TypeError, AttributeError) as error:
        raise _damaged(path, f"{MANIFEST} cannot be read", str(error)) from error
    names = sorted(one.name for one in manifest.members)
    there = sorted(name for name in archive.namelist() if name != MANIFEST)
    if names != there:
        raise _damaged(
            path,
            "it does not hold the members that its manifest lists",
            ", ".join(sorted(set(names) ^ set(there))) or "one of them twice",
        )
    return manifest


def _check_member(path: Path, archive: zipfile.ZipFile, member: Member) -> None:
    digest = hashlib.sha256()
    try:
        with archive.open(member.name) as content:
            while piece := content.read(_PIECE):
                digest.update(piece)
    except (*_DAMAGE, OSError, KeyError) as error:
        raise _damaged(path, f"{member.name} cannot be read", str(error)) from error
    if digest.hexdigest() != member.sha256:
        raise _damaged(
            path,
            f"{member.name} is not as it was written",
            f"SHA-256 {digest.hexdigest()} where {member.sha256} is listed",
        )


def _damaged(path: Path, wrong: str, came: str) -> BrokenRecordError:
    return BrokenRecordError(f"{path}: {wrong}; allowed: {_ALLOWED}; came: {came or 'nothing'}")


def _value(value: Any) -> Any:
    return base64.b64decode(value["base64"]) if isinstance(value, dict) else value
