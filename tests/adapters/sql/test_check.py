"""Health is one page, and each thing that is not as it should be is said."""

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import NullPool, StaticPool, create_engine, insert, text

from ebbline.adapters.sql.backup import backup, note_backup
from ebbline.adapters.sql.check import Item, check
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.migrate import bring_up
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import META
from tests.adapters.sql.harbour import fill, tamper
from tests.conftest import copy_of, server_with_template
from tests.records import Clock
from tests.server import Server

NOW = datetime(2026, 11, 28, 20, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """A server that waits for the disk, as that of a clinic does, in place of the quick one."""
    with server_with_template(safe=True) as running:
        yield running


def items_of(
    record: SqlRecord, *, chain: bool = True, now: datetime = NOW, backup_days: float = 2.0
) -> dict[str, Item]:
    """Return what is found by name."""
    found = check(
        record,
        now=now,
        backup_days=backup_days,
        chain=chain,
        progress=lambda done, total: None,
    )
    return {item.name: item for item in found}


def bad(record: SqlRecord) -> dict[str, str]:
    """Return what is not as it should be, but for the backup, which these records never had."""
    return {
        name: item.found
        for name, item in items_of(record).items()
        if not item.good and name != "last backup"
    }


def change(record: SqlRecord, *statements: str) -> None:
    """Change the schema behind the record's back."""
    engine = create_engine(record.url, poolclass=NullPool)
    with engine.begin() as connection:
        for statement in statements:
            connection.execute(text(statement))


def test_a_healthy_record_is_well(record: SqlRecord, tmp_path: Path) -> None:
    """And the page says where it is, how large, and what is in it."""
    fill(record, "Shore")
    note_backup(record, backup(record, tmp_path / "one.backup"), by="")
    items = items_of(record)
    assert all(item.good for item in items.values())
    with record.look() as look:
        seq, hashed = look.head()
    assert items["record"].found.endswith("Harbour Clinic (invented)")
    assert items["where"].found == record.where
    assert items["schema"].found == "0002, that of this release"
    assert items["chain"].found == f"verified, {seq} acts; head {seq}:{hashed}"
    assert "patient 1" in items["entries"].found
    assert items["guards against change"].found.startswith("all ")
    assert items["size"].found.endswith(" MB")
    quick = items_of(record, chain=False)["chain"]
    assert quick == Item("chain", f"not verified now; head {seq}:{hashed}", True)


def test_looking_changes_nothing(record: SqlRecord) -> None:
    """The guards are made again in a place that is gone afterwards."""
    with record.engine.connect() as connection:
        query = "SELECT count(*) FROM sqlite_master"
        if record.engine.dialect.name == "postgresql":
            query = "SELECT count(*) FROM pg_class"
        before = connection.scalar(text(query))
    items_of(record)
    with record.engine.connect() as connection:
        assert connection.scalar(text(query)) == before


def test_a_record_without_a_backup_is_bad(record: SqlRecord) -> None:
    """It would be lost with its disk."""
    assert items_of(record)["last backup"] == Item(
        "last backup", "none yet; make one with 'ebbline record backup'", False
    )


def test_the_last_backup_is_told_with_its_age(record: SqlRecord, tmp_path: Path) -> None:
    """By the history: one and a half days after 8 o'clock; older than allowed is bad."""
    made = backup(record, tmp_path / "one.backup")
    note_backup(record, made, by="")
    which = f"2026-11-27T08:00:00.000000Z, SHA-256 {made.sha256}"
    assert items_of(record)["last backup"] == Item("last backup", f"1.5 days ago; {which}", True)
    assert items_of(record, backup_days=1.5)["last backup"].good
    assert items_of(record, backup_days=1.4)["last backup"] == Item(
        "last backup", f"1.5 days ago; at most 1.4 days are allowed; {which}", False
    )


def test_a_clock_that_went_back_hides_no_old_backup(record: SqlRecord, tmp_path: Path) -> None:
    """A little ahead is another computer's clock; days ahead is bad."""
    note_backup(record, backup(record, tmp_path / "one.backup"), by="")
    near = items_of(record, now=NOW - timedelta(days=2))["last backup"]
    assert (near.found.partition(";")[0], near.good) == ("0.5 days ahead of the clock", True)
    far = items_of(record, now=NOW - timedelta(days=4))["last backup"]
    assert far.found.startswith("2.5 days ahead of the clock; at most 2 days are allowed; ")
    assert not far.good


def test_the_newest_backup_counts(record: SqlRecord, clock: Clock, tmp_path: Path) -> None:
    """The one before it may be as old as it is."""
    note_backup(record, backup(record, tmp_path / "one.backup"), by="")
    clock.pass_minutes(9 * 24 * 60)
    newer = backup(record, tmp_path / "two.backup")
    note_backup(record, newer, by="")
    found = items_of(record, now=NOW + timedelta(days=9))["last backup"]
    assert found.good
    assert found.found.endswith(newer.sha256)


def test_a_chain_that_does_not_verify_is_bad(record: SqlRecord) -> None:
    """In the words of the fault."""
    fill(record, "Shore")
    trigger = guard(record, "dose", "update")
    change(record, drop(record, "dose", "update"), "UPDATE dose SET dose_g = 99", trigger)
    found = bad(record)
    assert list(found) == ["chain"]
    assert found["chain"].startswith("does not verify: dose ")


def drop(record: SqlRecord, table: str, event: str) -> str:
    """Return the statement that drops a guard."""
    on = f' ON "{table}"' if record.engine.dialect.name == "postgresql" else ""
    return f'DROP TRIGGER "guard_{table}_{event}"{on}'


def guard(record: SqlRecord, table: str, event: str) -> str:
    """Return the statement that makes a guard as it is."""
    with record.engine.connect() as connection:
        if record.engine.dialect.name == "sqlite":
            query = "SELECT sql FROM sqlite_master WHERE name = :name"
        else:
            query = "SELECT pg_get_triggerdef(oid) FROM pg_trigger WHERE tgname = :name"
        return str(connection.scalar(text(query), {"name": f"guard_{table}_{event}"}))


def test_a_guard_that_is_missing_is_named(record: SqlRecord) -> None:
    """Table and trigger."""
    change(record, drop(record, "dose", "delete"), drop(record, "history", "update"))
    assert bad(record) == {
        "guards against change": "missing or changed: dose.guard_dose_delete, "
        "history.guard_history_update"
    }


def test_a_guard_that_lets_something_through_is_named(record: SqlRecord) -> None:
    """It has the name of a guard and another text."""
    made = guard(record, "dose", "update")
    weaker = made.replace("BEFORE UPDATE ON", "BEFORE UPDATE OF lot ON")
    assert weaker != made
    change(record, drop(record, "dose", "update"), weaker)
    assert bad(record) == {"guards against change": "missing or changed: dose.guard_dose_update"}


def test_a_trigger_of_somebody_else_is_named(record: SqlRecord) -> None:
    """It could change what is written."""
    if record.engine.dialect.name == "sqlite":
        strange = "CREATE TRIGGER strange AFTER INSERT ON dose BEGIN SELECT 1; END"
    else:
        strange = (
            "CREATE TRIGGER strange AFTER INSERT ON dose FOR EACH ROW "
            "EXECUTE FUNCTION ebbline_guard()"
        )
    change(record, strange)
    assert bad(record) == {"guards against change": "not known: dose.strange"}


def test_guards_that_are_switched_off_are_named(record: SqlRecord) -> None:
    """On a server they can be, and the function behind them can be emptied; a file has neither."""
    if record.engine.dialect.name == "postgresql":
        change(record, "ALTER TABLE dose DISABLE TRIGGER guard_dose_update")
        assert bad(record) == {
            "guards against change": "missing or changed: dose.guard_dose_update"
        }
        change(
            record,
            "CREATE OR REPLACE FUNCTION ebbline_guard() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RETURN NEW; END $$",
        )
        assert "history.guard_history_update" in bad(record)["guards against change"]
    else:
        tamper(record)
        assert "history.guard_history_update" in bad(record)["guards against change"]


def test_references_that_lead_nowhere_are_counted(record: SqlRecord) -> None:
    """A file says how many; on a server a constraint that was never looked at is named."""
    fill(record, "Shore")
    if record.engine.dialect.name == "sqlite":
        tamper(record, "DELETE FROM entry WHERE kind = 'dose'")
        assert bad(record)["references"] == "1 lead nowhere"
    else:
        change(
            record,
            "ALTER TABLE dose DROP CONSTRAINT fk_dose_test_id",
            "ALTER TABLE dose ADD CONSTRAINT fk_dose_test_id FOREIGN KEY (test_id) "
            "REFERENCES entry (id) NOT VALID",
        )
        assert bad(record) == {"constraints and indexes": "not valid: fk_dose_test_id"}


def test_a_damaged_file_is_bad(blank_file: Path, tmp_path: Path) -> None:
    """Here an index that does not agree with its table."""
    address = copy_of(blank_file, tmp_path / "clinic.ebbline")
    record = SqlRecord(record_url(address), now=Clock(), zone="UTC", wait_s=5.0)
    fill(record, "Shore")
    change(
        record,
        "PRAGMA writable_schema = ON",
        "UPDATE sqlite_master SET sql = replace(sql, '(seq)', '(lot)') WHERE name = 'ix_dose_seq'",
    )
    record.close()
    assert "missing from index ix_dose_seq" in bad(record)["integrity of the file"]
    record.close()


def test_a_database_that_does_not_wait_for_the_disk_is_bad(record: SqlRecord) -> None:
    """An act that was confirmed could be gone after a power cut."""
    kept = record.engine
    if kept.dialect.name == "sqlite":
        kept.dispose()
        record.engine = create_engine(record.url, poolclass=StaticPool)
        with record.engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA journal_mode = MEMORY")
            connection.exec_driver_sql("PRAGMA synchronous = OFF")
        due = {"journal mode": "memory", "waits for the disk": "0"}
    else:
        options = {"options": "-c synchronous_commit=off"}
        record.engine = create_engine(record.url, connect_args=options)
        due = {"synchronous_commit": "off"}
    assert bad(record) == due
    record.engine.dispose()
    kept.dispose()


def test_an_older_schema_is_bad_and_nothing_more_is_looked_at(empty_address: str) -> None:
    """What else it holds is for the release that made it."""
    old = SqlRecord(record_url(empty_address), now=Clock(), zone="UTC", wait_s=5.0)
    with old.writing() as connection:
        bring_up(connection, to="0001")
        told = {"id": "0ld", "service": "Harbour Clinic", "invented": "true"}
        connection.execute(insert(META), [{"name": n, "value": v} for n, v in told.items()])
    items = items_of(old)
    old.close()
    assert items["schema"] == Item("schema", "0001; this release has 0002", False)
    assert "chain" not in items


def test_a_disk_that_is_nearly_full_is_bad(
    record: SqlRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    """For a file; how full a server's disk is has to be looked at there."""
    usage = shutil.disk_usage(Path.cwd())
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage._replace(free=1000))
    if record.engine.dialect.name == "sqlite":
        assert bad(record)["room on the disk"].startswith("0 MB free; at least ")
    else:
        assert items_of(record)["room on the disk"].found == "has to be looked at on the server"
