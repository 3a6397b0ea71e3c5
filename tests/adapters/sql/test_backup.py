"""A backup is one whole file from one consistent view, on both databases."""

import errno
import hashlib
import json
import os
import threading
import zipfile
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import insert

from ebbline.adapters.sql.backup import LEFT_OUT, backup, note_backup
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.restore import restore
from ebbline.adapters.sql.tables import CREDENTIAL, METADATA, SESSION
from ebbline.core.clinic.record.people import Patient
from ebbline.core.errors import BrokenRecordError, RecordError, UnavailableError
from tests.adapters.sql.harbour import fill
from tests.records import Clock


def manifest_of(path: Path) -> dict[str, Any]:
    """Return the manifest of a backup."""
    with zipfile.ZipFile(path) as archive:
        told = json.loads(archive.read("manifest.json"))
        assert isinstance(told, dict)
        return told


def test_the_manifest_says_what_is_in_it(record: SqlRecord, tmp_path: Path) -> None:
    """Record, schema, head, and for each member its rows and the SHA-256 that hashlib finds."""
    fill(record, "Shore")
    made = backup(record, tmp_path / "one.backup")
    told = manifest_of(made.path)
    with record.look() as look:
        assert (told["head"]["seq"], told["head"]["hash"]) == look.head() == made.head
    assert told["format"] == "ebbline record backup"
    assert told["schema"] == made.schema == "0002"
    assert told["service"] == "Harbour Clinic (invented)"
    assert told["invented"] is True
    assert told["last_act_at"] == "2026-11-27T08:00:00.000000Z"
    with zipfile.ZipFile(made.path) as archive:
        assert archive.testzip() is None
        for member in told["members"]:
            content = archive.read(member["name"])
            assert member["sha256"] == hashlib.sha256(content).hexdigest()
            assert member["bytes"] == len(content)
            assert member["rows"] == content.count(b"\n")
    assert made.sha256 == hashlib.sha256(made.path.read_bytes()).hexdigest()
    assert made.bytes == made.path.stat().st_size


def test_every_table_is_in_it_but_for_those_of_the_running_machine(
    record: SqlRecord, tmp_path: Path
) -> None:
    """Logins that are open are never in a backup; the hashes of passwords are."""
    ids = fill(record, "Shore")
    with record.writing() as connection:
        at = "2026-11-27T08:00:00.000000Z"
        connection.execute(
            insert(CREDENTIAL).values(
                user_id=ids["user"], hash="$argon2id$invented", one_time=False, changed_at=at
            )
        )
        connection.execute(
            insert(SESSION).values(
                token_hash="f00d" * 16, user_id=ids["user"], begun_at=at, seen_at=at, place="bench"
            )
        )
    path = backup(record, tmp_path / "one.backup").path
    names = {one["name"] for one in manifest_of(path)["members"]}
    tables = set(METADATA.tables) - set(LEFT_OUT)
    assert names == {f"tables/{name}.jsonl" for name in tables}
    with zipfile.ZipFile(path) as archive:
        content = b"".join(archive.read(name) for name in archive.namelist())
    assert b"$argon2id$invented" in content
    assert b"f00d" not in content


def test_only_its_owner_can_read_it(record: SqlRecord, tmp_path: Path) -> None:
    """Whatever the umask of the process is."""
    before = os.umask(0)
    try:
        made = backup(record, tmp_path / "one.backup")
    finally:
        os.umask(before)
    assert made.path.stat().st_mode & 0o777 == 0o600


def test_nothing_is_written_over(record: SqlRecord, tmp_path: Path) -> None:
    """A file of that name stays as it is."""
    path = tmp_path / "one.backup"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(RecordError) as caught:
        backup(record, path)
    assert str(caught.value) == (
        f"{path}: there is one already, and it is not written over; allowed: a new name; "
        "came: the name of a file"
    )
    assert path.read_text(encoding="utf-8") == "mine"


def test_a_disk_that_takes_no_more_leaves_nothing(
    record: SqlRecord, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither a file of the name nor a part of one."""

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    path = tmp_path / "one.backup"
    with pytest.raises(UnavailableError) as caught:
        backup(record, path)
    assert str(caught.value) == (
        f"{path}: it cannot be written; allowed: a file in a folder that can be written, on a disk "
        "with room; came: No space left on device"
    )
    assert list(tmp_path.glob("*.backup*")) == list(tmp_path.glob(".*partial")) == []


def test_a_folder_that_is_not_there_is_said(record: SqlRecord, tmp_path: Path) -> None:
    """Nothing is made."""
    path = tmp_path / "none" / "one.backup"
    with pytest.raises(UnavailableError) as caught:
        backup(record, path)
    assert str(caught.value).endswith("came: No such file or directory")


def test_a_database_without_a_record_cannot_be_backed_up(
    empty_address: str, tmp_path: Path
) -> None:
    """And no file is left."""
    empty = SqlRecord(record_url(empty_address), now=Clock(), zone="UTC", wait_s=5.0)
    with pytest.raises(BrokenRecordError) as caught:
        backup(empty, tmp_path / "one.backup")
    empty.close()
    assert "there is no record to back up; allowed: one made by" in str(caught.value)
    assert not (tmp_path / "one.backup").exists()


def test_the_history_says_that_a_backup_was_made(record: SqlRecord, tmp_path: Path) -> None:
    """With the digest of the file and the last act in it; the file is as it was before."""
    fill(record, "Shore")
    made = backup(record, tmp_path / "one.backup")
    note_backup(record, made, by="")
    with record.look() as look:
        (act,) = look.acts([made.head[0] + 1])
    assert act.act == "backup"
    assert f"Row {made.head[0]} is its last; SHA-256 {made.sha256}." in act.body


def test_backups_are_whole_while_others_work(
    record: SqlRecord, tmp_path: Path, clock: Clock
) -> None:
    """Each is one state: it restores, verifies, and ends at the head that it names."""
    stop = threading.Event()
    acts: list[int] = []

    def work() -> None:
        while not stop.is_set():
            with record.act("register patient", by="", why="Shore asked", token=None) as act:
                act.add(Patient(act.new_id(), "female", "en", True))
                act.add(Patient(act.new_id(), "male", "en", True))
            acts.append(1)

    worker = threading.Thread(target=work)
    worker.start()
    try:
        made = []
        for number in range(4):
            done = len(acts)
            while len(acts) < done + 5:
                assert worker.is_alive()
            made.append(backup(record, tmp_path / f"{number}.backup"))
    finally:
        stop.set()
        worker.join()
    heads = [one.head[0] for one in made]
    assert heads == sorted(set(heads))
    assert heads[-1] < len(acts) + 1
    for number, one in enumerate(made):
        target = SqlRecord(
            record_url(str(tmp_path / f"{number}.ebbline")), now=clock, zone="UTC", wait_s=5.0
        )
        verdict = restore(one.path, target, say=lambda words: None)
        assert verdict.fault is None
        assert verdict.head == one.head
        assert verdict.rows == 4 * one.head[0] + one.head[0]
        target.close()
