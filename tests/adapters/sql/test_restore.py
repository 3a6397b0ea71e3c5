"""A backup is restored whole into something empty of either kind, or nothing of it is."""

import json
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import MetaData, insert, select, text

from ebbline.adapters.sql.backup import LEFT_OUT, backup
from ebbline.adapters.sql.create import check_revision, told_of
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.expected import expected_guards, guards_of
from ebbline.adapters.sql.migrate import bring_up, revision_of
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.restore import restore
from ebbline.adapters.sql.tables import CREDENTIAL, META
from ebbline.core.clinic.record.people import Patient
from ebbline.core.errors import BrokenRecordError, RecordError, UnavailableError
from tests.adapters.sql.harbour import fill, rename, tamper
from tests.adapters.sql.test_backup_file import rewritten, with_manifest
from tests.records import Clock


def opened(address: str) -> SqlRecord:
    """Open a record that is to be."""
    return SqlRecord(record_url(address), now=Clock(), zone="Europe/London", wait_s=5.0)


@pytest.fixture
def target(empty_address: str) -> Iterator[SqlRecord]:
    """A place in which there is nothing yet, in each kind of database."""
    record = opened(empty_address)
    yield record
    record.close()


def rows_of(record: SqlRecord) -> dict[str, list[tuple[Any, ...]]]:
    """Return every row that a backup holds."""
    found = MetaData()
    with record.reading() as connection:
        found.reflect(connection)
        return {
            table.name: [
                tuple(row)
                for row in connection.execute(select(table).order_by(*table.primary_key.columns))
            ]
            for table in found.sorted_tables
            if table.name not in LEFT_OUT
        }


def unsaid(words: str) -> None:
    """Say nothing."""


def test_a_record_moves_from_any_database_to_any_other(
    record: SqlRecord, target: SqlRecord, tmp_path: Path
) -> None:
    """Row by row the same, with the same head, guarded, and good for new acts."""
    ids = fill(record, "Shore")
    rename(record, ids, name="Strand")
    with record.writing() as connection:
        connection.execute(
            insert(CREDENTIAL).values(
                user_id=ids["user"], hash="$argon2id$", one_time=True, changed_at="2026"
            )
        )
    made = backup(record, tmp_path / "one.backup")
    said: list[str] = []
    verdict = restore(made.path, target, say=said.append)
    assert verdict.fault is None
    assert verdict.head == made.head
    assert rows_of(target) == rows_of(record)
    assert told_of(target) == told_of(record)
    check_revision(target)
    assert said[0] == f"{made.path}: whole; row {made.head[0]} is its last, schema 0002."
    assert "identity: 2 rows" in said
    assert said[-1] == f"Verified: {verdict.acts} acts, {verdict.rows} rows, up to row 26."
    with target.engine.connect() as view:
        assert guards_of(view) == expected_guards(view)
    with target.act("register patient", by="", why="", token=None) as act:
        act.add(Patient(act.new_id(), "male", "en", True))


def test_a_restored_file_is_read_by_its_owner_only(record: SqlRecord, tmp_path: Path) -> None:
    """The file, and its log beside it."""
    made = backup(record, tmp_path / "one.backup")
    target = opened(str(tmp_path / "new.ebbline"))
    restore(made.path, target, say=unsaid)
    modes = {one.stat().st_mode & 0o777 for one in tmp_path.glob("new.ebbline*")}
    assert modes == {0o600}
    target.close()


def test_nothing_is_restored_over_a_record(record: SqlRecord, tmp_path: Path) -> None:
    """It stays as it was."""
    fill(record, "Shore")
    made = backup(record, tmp_path / "one.backup")
    before = rows_of(record)
    with pytest.raises(RecordError) as caught:
        restore(made.path, record, say=unsaid)
    assert str(caught.value).startswith(
        f"record {record.where}: a record is never put over something; allowed: a new file or a "
        "database without tables; came: a "
    )
    assert rows_of(record) == before


def test_nothing_is_restored_over_tables_of_another_program(
    record: SqlRecord, target: SqlRecord, tmp_path: Path
) -> None:
    """An empty file is a file too; on a server the tables count."""
    made = backup(record, tmp_path / "one.backup")
    with target.writing() as connection:
        connection.execute(text("CREATE TABLE other (x INTEGER)"))
    with pytest.raises(RecordError) as caught:
        restore(made.path, target, say=unsaid)
    assert str(caught.value).endswith(
        ("came: a file that is there already", "came: a database with 1 tables")
    )


def test_a_file_that_cannot_be_made_is_said(record: SqlRecord, tmp_path: Path) -> None:
    """Its folder is not there."""
    made = backup(record, tmp_path / "one.backup")
    target = opened(str(tmp_path / "none" / "new.ebbline"))
    with pytest.raises(UnavailableError) as caught:
        restore(made.path, target, say=unsaid)
    assert str(caught.value) == (
        f"record {target.where}: the file cannot be made; allowed: a new file in a folder that can "
        "be written; came: No such file or directory"
    )


def test_a_backup_of_a_later_release_is_refused(
    record: SqlRecord, target: SqlRecord, tmp_path: Path
) -> None:
    """And nothing is made."""
    later = with_manifest(lambda told: told.update(schema="9999"))
    made = backup(record, tmp_path / "one.backup")
    path = rewritten(made.path, tmp_path / "later.backup", later)
    with pytest.raises(RecordError) as caught:
        restore(path, target, say=unsaid)
    assert str(caught.value) == (
        f"{path}: a later release of ebbline made it; allowed: schema 0001, 0002; came: 9999"
    )
    assert is_empty(target)


def test_a_backup_of_an_older_release_is_brought_up(target: SqlRecord, tmp_path: Path) -> None:
    """It is restored at its own revision, then the later steps are done."""
    old = opened(str(tmp_path / "old.ebbline"))
    with old.writing() as connection:
        bring_up(connection, to="0001")
        told = {"id": "0ld", "service": "Harbour Clinic", "invented": "true"}
        connection.execute(insert(META), [{"name": n, "value": v} for n, v in told.items()])
    fill(old, "Shore")
    made = backup(old, tmp_path / "old.backup")
    assert made.schema == "0001"
    said: list[str] = []
    verdict = restore(made.path, target, say=said.append)
    assert verdict.fault is None
    assert "brought up to schema 0002" in said
    check_revision(target)
    new = rows_of(target)
    assert {name: new[name] for name in rows_of(old)} == rows_of(old)
    old.close()


def test_a_backup_that_does_not_fit_its_schema_leaves_nothing(
    record: SqlRecord, target: SqlRecord, tmp_path: Path
) -> None:
    """A table or a column that the schema does not have, or rows that are not there."""
    import hashlib

    fill(record, "Shore")
    made = backup(record, tmp_path / "one.backup")

    def with_column(members: dict[str, bytes]) -> None:
        row = json.loads(members["tables/user.jsonl"])
        content = json.dumps({**row, "shoe_size": 43}).encode() + b"\n"
        members["tables/user.jsonl"] = content
        digest = hashlib.sha256(content).hexdigest()

        def change(told: dict[str, Any]) -> None:
            for member in told["members"]:
                if member["name"] == "tables/user.jsonl":
                    member["sha256"] = digest

        with_manifest(change)(members)

    def with_table(members: dict[str, bytes]) -> None:
        members["tables/boats.jsonl"] = b""
        empty = {"name": "tables/boats.jsonl", "rows": 0, "sha256": hashlib.sha256().hexdigest()}
        with_manifest(lambda told: told["members"].append(empty))(members)

    def with_rows(members: dict[str, bytes]) -> None:
        with_manifest(lambda told: told["members"][0].update(rows=99))(members)

    for change, words in (
        (with_column, "allowed: what schema 0002 has; came: user.shoe_size"),
        (with_table, "allowed: what schema 0002 has; came: table boats"),
        (with_rows, "does not hold the rows that are listed; allowed: 99 rows; came: 25"),
    ):
        path = rewritten(made.path, tmp_path / f"{change.__name__}.backup", change)
        with pytest.raises(BrokenRecordError) as caught:
            restore(path, target, say=unsaid)
        assert words in str(caught.value)
        assert is_empty(target)
    assert restore(made.path, target, say=unsaid).fault is None


def test_a_record_that_did_not_verify_is_restored_and_says_so(
    record: SqlRecord, target: SqlRecord, tmp_path: Path
) -> None:
    """Better a record with a fault that is named than none."""
    fill(record, "Shore")
    tamper(record, "UPDATE dose SET dose_g = 99")
    made = backup(record, tmp_path / "one.backup")
    said: list[str] = []
    verdict = restore(made.path, target, say=said.append)
    assert verdict.fault is not None
    assert verdict.fault.entry.startswith("dose ")
    assert said[-1].startswith("It is restored as it was, and does not verify: dose ")


def test_a_damaged_backup_leaves_nothing(
    record: SqlRecord, target: SqlRecord, tmp_path: Path
) -> None:
    """It is looked at before anything is made."""
    made = backup(record, tmp_path / "one.backup")
    made.path.write_bytes(made.path.read_bytes()[:-30])
    with pytest.raises(BrokenRecordError):
        restore(made.path, target, say=unsaid)
    assert is_empty(target)


def is_empty(target: SqlRecord) -> bool:
    """Whether a target is as it was before: no file, or no tables."""
    if target.engine.dialect.name == "sqlite":
        path = Path(str(target.url.database))
        return list(path.parent.glob(f"{path.name}*")) == []
    with target.reading() as connection:
        return revision_of(connection) is None


def test_the_members_stand_in_an_order_in_which_they_can_be_restored(
    record: SqlRecord, tmp_path: Path
) -> None:
    """The history first, then the ids, then the entries."""
    made = backup(record, tmp_path / "one.backup")
    with zipfile.ZipFile(made.path) as archive:
        names = archive.namelist()
    assert names.index("tables/history.jsonl") < names.index("tables/entry.jsonl")
    assert names.index("tables/entry.jsonl") < names.index("tables/patient.jsonl")
