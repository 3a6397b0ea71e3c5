"""A record of any earlier release is brought up to this one, whole or not at all."""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import MetaData, create_engine, select

from ebbline.adapters.sql import migrate
from ebbline.adapters.sql.create import check_revision, create_tables, told_of, upgrade_tables
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.migrate import bring_up, revision_of, revisions
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import METADATA
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.clinic.record.people import Patient
from ebbline.core.errors import BrokenRecordError, RecordError
from tests.adapters.sql.raw import GUARDED, Refused, raw
from tests.adapters.sql.whole import acts_of_whole
from tests.records import Clock

RELEASED = Path(__file__).with_name("released")
NEWEST = revisions()[-1]

_FAILS = '''"""A revision that fails half way."""

import sqlalchemy as sa
from alembic import op

revision = "9000"
down_revision = "{before}"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make a table, then fail."""
    op.create_table("half", sa.Column("id", sa.Integer))
    op.execute("INSERT INTO record_meta VALUES ('service', 'another')")
'''


@pytest.fixture
def blank(empty_address: str) -> Iterator[SqlRecord]:
    """An empty database, of each kind."""
    opened = SqlRecord(record_url(empty_address), now=Clock(), zone="Europe/London", wait_s=5.0)
    yield opened
    opened.close()


def load(record: SqlRecord, revision: str) -> dict[str, list[dict[str, Any]]]:
    """Put a released record into an empty database, and return all its rows."""
    engine = create_engine("sqlite://")
    with engine.connect() as source:
        driver = source.connection.driver_connection
        assert isinstance(driver, sqlite3.Connection)
        driver.executescript((RELEASED / f"{revision}.sql").read_text(encoding="utf-8"))
        tables = MetaData()
        tables.reflect(source)
        rows = {
            table.name: [dict(row) for row in source.execute(select(table)).mappings()]
            for table in tables.sorted_tables
        }
    engine.dispose()
    if record.engine.dialect.name == "sqlite":
        with closing(sqlite3.connect(str(record.url.database))) as target:
            target.executescript((RELEASED / f"{revision}.sql").read_text(encoding="utf-8"))
        return rows
    with record.writing() as connection:
        bring_up(connection, to=revision)
        for table in tables.sorted_tables:
            if table.name != "alembic_version" and rows[table.name]:
                connection.execute(table.insert(), rows[table.name])
    return rows


def all_rows(record: SqlRecord) -> dict[str, list[dict[str, Any]]]:
    """Every row of a record."""
    with record.reading() as connection:
        tables = MetaData()
        tables.reflect(connection)
        return {
            table.name: [dict(row) for row in connection.execute(select(table)).mappings()]
            for table in tables.sorted_tables
        }


def in_order(rows: list[dict[str, Any]], names: list[str]) -> list[list[Any]]:
    """The columns that both have, in one order."""
    return sorted(([row[name] for name in names] for row in rows), key=repr)


def schema_of(path: str) -> list[tuple[str, ...]]:
    """Everything in an SQLite file but its rows."""
    with closing(sqlite3.connect(path)) as connection:
        return sorted(
            connection.execute(
                "SELECT type, name, tbl_name, coalesce(sql, '') FROM sqlite_master"
            ).fetchall()
        )


@pytest.fixture
def failing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A later release whose one new revision fails."""
    scripts = tmp_path / "migrations"
    shutil.copytree(migrate._SCRIPTS, scripts, ignore=shutil.ignore_patterns("__pycache__"))
    (scripts / "versions" / "9000_fails.py").write_text(_FAILS.format(before=NEWEST))
    monkeypatch.setattr(migrate, "_SCRIPTS", scripts)


def test_every_released_revision_has_its_file() -> None:
    """An invented record as that release wrote it."""
    assert sorted(one.stem for one in RELEASED.glob("*.sql")) == revisions()


@pytest.mark.parametrize("revision", revisions())
def test_a_released_revision_is_never_changed(tmp_path: Path, revision: str) -> None:
    """Its migrations make today what they made then, to the letter."""
    then, now = tmp_path / "then.ebbline", tmp_path / "now.ebbline"
    with closing(sqlite3.connect(then)) as connection:
        connection.executescript((RELEASED / f"{revision}.sql").read_text(encoding="utf-8"))
    record = SqlRecord(record_url(str(now)), now=Clock(), zone="Europe/London", wait_s=5.0)
    with record.writing() as made:
        bring_up(made, to=revision)
    record.close()
    assert schema_of(str(now)) == schema_of(str(then))


@pytest.mark.parametrize("revision", revisions())
def test_a_released_record_is_brought_up_with_all_that_it_holds(
    blank: SqlRecord, empty_address: str, revision: str
) -> None:
    """Its rows as they were, its chain whole, its guards in place; and it can be written to."""
    before = load(blank, revision)
    todo = revisions()[revisions().index(revision) + 1 :]
    assert upgrade_tables(blank) == todo
    check_revision(blank)
    after = all_rows(blank)
    assert sorted(after) == sorted([*METADATA.tables, "alembic_version"])
    for table, rows in before.items():
        if table != "alembic_version":
            names = list(rows[0]) if rows else []
            assert in_order(after[table], names) == in_order(rows, names), table
    bodies = acts_of_whole(blank)
    assert [body["token"] for body in bodies] == ["first", "second", "third"]
    with blank.look() as look:
        for name, kind in KINDS.items():
            for row in before.get(name, []):
                assert look.versions(kind, row["id"])[row["version"] - 1].version == row["version"]
        assert look.get(Patient, before["patient"][0]["id"]).entry.language == "cy"
        assert look.acts([3])[0].why == "invented reason 3"
    with raw(empty_address) as connection:
        for table in GUARDED:
            with pytest.raises(Refused, match="the record keeps every row as it was written"):
                connection.execute(f'DELETE FROM "{table}"')
    with blank.act("register patient", by="", why="", token=None) as act:
        act.add(Patient(act.new_id(), "female", "en", True))
    assert len(acts_of_whole(blank)) == 4


@pytest.mark.parametrize("revision", revisions())
def test_what_the_migrations_make_is_what_the_program_uses(blank: SqlRecord, revision: str) -> None:
    """Every table, column, key and index; from each release on."""
    load(blank, revision)
    upgrade_tables(blank)
    with blank.reading() as connection:
        context = MigrationContext.configure(
            connection, opts={"compare_type": True, "compare_server_default": True}
        )
        assert compare_metadata(context, METADATA) == []


def test_a_record_of_this_release_needs_nothing(record: SqlRecord) -> None:
    """And says so."""
    assert upgrade_tables(record) == []
    check_revision(record)


def test_an_older_record_is_not_used_before_it_is_brought_up(blank: SqlRecord) -> None:
    """The command that does so is named."""
    load(blank, revisions()[0])
    with pytest.raises(BrokenRecordError) as caught:
        check_revision(blank)
    assert str(caught.value) == (
        f"record {blank.where}: its schema is not that of this release; allowed: schema {NEWEST}, "
        f"to which 'ebbline record upgrade' brings it; came: {revisions()[0]}"
    )


def test_a_record_of_a_later_release_is_refused(record: SqlRecord, address: str) -> None:
    """It is neither used nor touched."""
    with raw(address) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    before = all_rows(record)
    with pytest.raises(BrokenRecordError) as caught:
        upgrade_tables(record)
    assert str(caught.value) == (
        "record: it was made or brought up by a later release of ebbline; allowed: schema "
        f"{', '.join(revisions())}; came: 9999"
    )
    with pytest.raises(BrokenRecordError) as caught:
        check_revision(record)
    assert str(caught.value).endswith("came: 9999")
    assert all_rows(record) == before


@pytest.mark.parametrize("revision", revisions())
def test_an_upgrade_that_fails_half_way_leaves_the_record_as_it_was(
    blank: SqlRecord, failing: None, revision: str
) -> None:
    """Not one of its steps is done, not even those that did not fail."""
    load(blank, revision)
    before = all_rows(blank)
    assert revisions()[-1] == "9000"
    with pytest.raises(RecordError) as caught:
        upgrade_tables(blank)
    assert str(caught.value).startswith(f"record {blank.where}: the database refused; allowed: ")
    assert all_rows(blank) == before
    with blank.reading() as connection:
        assert revision_of(connection) == revision
    acts_of_whole(blank)


def test_a_record_that_cannot_be_made_whole_is_not_made(blank: SqlRecord, failing: None) -> None:
    """Nothing is left of it, and it can be made later."""
    with pytest.raises(RecordError):
        create_tables(blank, service="another", invented=True)
    assert all_rows(blank) == {}


def test_an_invented_record_says_so_after_every_upgrade(blank: SqlRecord) -> None:
    """As it did before."""
    load(blank, revisions()[0])
    upgrade_tables(blank)
    assert told_of(blank) == {"id": "invented", "service": "Harbour Clinic", "invented": "true"}
