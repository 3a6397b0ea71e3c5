"""A backup that is not as it was written is refused, naming what is damaged."""

import base64
import hashlib
import json
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ebbline.adapters.sql.backup import backup
from ebbline.adapters.sql.backup_file import open_backup
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.errors import BrokenRecordError, RecordError, UnavailableError
from tests.adapters.sql.harbour import fill
from tests.conftest import copy_of
from tests.records import Clock

Members = dict[str, bytes]


@pytest.fixture(scope="module")
def whole(blank_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The backup of a record of one invented patient."""
    folder = tmp_path_factory.mktemp("whole")
    address = copy_of(blank_file, folder / "clinic.ebbline")
    record = SqlRecord(record_url(address), now=Clock(), zone="UTC", wait_s=5.0)
    fill(record, "Shore")
    made = backup(record, folder / "whole.backup")
    record.close()
    return made.path


def rows_of(path: Path) -> dict[str, list[dict[str, Any]]]:
    """Return every row of a backup by table."""
    with open_backup(path) as opened:
        return {one.table: list(opened.rows(one)) for one in opened.manifest.members}


def rewritten(whole: Path, path: Path, change: Callable[[Members], None]) -> Path:
    """Return a backup like another one, with its members changed and its checksums in order."""
    with zipfile.ZipFile(whole) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    change(members)
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


def with_manifest(change: Callable[[dict[str, Any]], None]) -> Callable[[Members], None]:
    """Return a change of the manifest alone."""

    def changed(members: Members) -> None:
        told = json.loads(members["manifest.json"])
        change(told)
        members["manifest.json"] = json.dumps(told).encode()

    return changed


def test_a_whole_backup_gives_its_rows(whole: Path) -> None:
    """Bytes as bytes, nothing as nothing."""
    rows = rows_of(whole)
    assert rows["identity"][0]["family_name"] == "Shore"
    pages = zlib.decompress(rows["report"][0]["pages"])
    assert pages == b"%PDF-1.7 invented pages of Shore"
    assert rows["history"][0]["token"] is None


def test_the_form_of_a_member_is_as_documented(whole: Path) -> None:
    """JSON lines by column, bytes packed in base64: read here by the standard library alone."""
    with zipfile.ZipFile(whole) as archive:
        lines = archive.read("tables/report.jsonl").splitlines()
    (report,) = [json.loads(line) for line in lines]
    pages = zlib.decompress(base64.b64decode(report["pages"]["base64"]))
    assert pages == b"%PDF-1.7 invented pages of Shore"
    assert report["version"] == 1


def test_a_changed_member_is_named_with_its_checksum(whole: Path, tmp_path: Path) -> None:
    """Though the zip itself is in order."""

    def change(members: Members) -> None:
        name = "tables/identity.jsonl"
        members[name] = members[name].replace(b"Shore", b"Share")

    path = rewritten(whole, tmp_path / "changed.backup", change)
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        found = hashlib.sha256(archive.read("tables/identity.jsonl")).hexdigest()
    with pytest.raises(BrokenRecordError) as caught, open_backup(path):
        pass
    assert str(caught.value).startswith(
        f"{path}: tables/identity.jsonl is not as it was written; allowed: a whole file from "
        f"'ebbline record backup'; came: SHA-256 {found} where "
    )


def test_a_member_that_cannot_be_unpacked_is_named(whole: Path, tmp_path: Path) -> None:
    """A byte of its content was changed on the disk, so the zip's own sum does not agree."""
    path = rewritten(whole, tmp_path / "flipped.backup", lambda members: None)
    content = path.read_bytes()
    assert content.count(b'"family_name": "Shore"') == 1
    path.write_bytes(content.replace(b'"family_name": "Shore"', b'"family_name": "Share"'))
    with pytest.raises(BrokenRecordError) as caught, open_backup(path):
        pass
    assert str(caught.value).startswith(
        f"{path}: tables/identity.jsonl cannot be read; allowed: a whole file from "
    )


def drop(members: Members) -> None:
    """Take a member away."""
    del members["tables/dose.jsonl"]


def bring(members: Members) -> None:
    """Add a member."""
    members["tables/other.jsonl"] = b""


def no_manifest(members: Members) -> None:
    """Take the manifest away."""
    del members["manifest.json"]


def no_json(members: Members) -> None:
    """Make the manifest something else."""
    members["manifest.json"] = b"[1"


def a_list(members: Members) -> None:
    """Make the manifest a list."""
    members["manifest.json"] = b"[1]"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (drop, "it does not hold the members that its manifest lists"),
        (bring, "it does not hold the members that its manifest lists"),
        (no_manifest, "manifest.json cannot be read"),
        (no_json, "manifest.json cannot be read"),
        (a_list, "manifest.json cannot be read"),
        (with_manifest(lambda told: told.pop("head")), "manifest.json cannot be read"),
        (with_manifest(lambda told: told.update(members=[1])), "manifest.json cannot be read"),
        (with_manifest(lambda told: told.update(format="x")), "it is no backup of a record"),
    ],
)
def test_a_backup_with_other_parts_is_refused(
    whole: Path, tmp_path: Path, change: Callable[[Members], None], words: str
) -> None:
    """Each in its own words."""
    path = rewritten(whole, tmp_path / "changed.backup", change)
    with pytest.raises(BrokenRecordError) as caught, open_backup(path):
        pass
    assert str(caught.value).startswith(f"{path}: {words}; allowed: a whole file from ")


def test_a_form_of_a_later_release_is_refused(whole: Path, tmp_path: Path) -> None:
    """It says which form can be read."""
    later = with_manifest(lambda told: told.update(format_release=2))
    path = rewritten(whole, tmp_path / "later.backup", later)
    with pytest.raises(RecordError) as caught, open_backup(path):
        pass
    assert str(caught.value) == (
        f"{path}: a later release of ebbline wrote it; allowed: form 1 of a backup; came: form 2"
    )


def test_what_is_no_file_is_said(tmp_path: Path) -> None:
    """A name of nothing, and a folder."""
    for path, came in ((tmp_path / "none", "No such file or directory"), (tmp_path, "Is a dir")):
        with pytest.raises(UnavailableError) as caught, open_backup(path):
            pass
        assert str(caught.value).startswith(f"{path}: the backup cannot be read; allowed: a whole")
        assert f"came: {came}" in str(caught.value)


@given(data=st.data())
@settings(max_examples=60)
def test_a_backup_that_was_cut_off_is_refused(whole: Path, data: st.DataObject) -> None:
    """At whatever byte."""
    content = whole.read_bytes()
    length = data.draw(st.integers(0, len(content) - 1))
    cut = whole.with_name("cut.backup")
    cut.write_bytes(content[:length])
    with pytest.raises(BrokenRecordError), open_backup(cut):
        pass


@given(data=st.data())
@settings(max_examples=400)
def test_a_changed_byte_is_refused_or_changes_nothing(whole: Path, data: st.DataObject) -> None:
    """Some bytes of a zip mean nothing, such as the time of a member."""
    content = bytearray(whole.read_bytes())
    place = data.draw(st.integers(0, len(content) - 1))
    content[place] ^= data.draw(st.integers(1, 255))
    changed = whole.with_name("changed.backup")
    changed.write_bytes(content)
    try:
        found = rows_of(changed)
    except RecordError:
        return
    assert found == rows_of(whole)
