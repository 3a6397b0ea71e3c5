"""The database itself keeps every row as it was written, whoever asks and by what statement."""

import sqlite3
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest

from ebbline.adapters.sql import guards
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import METADATA, TABLES
from ebbline.core.clinic.record.entry import columns_of
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.clinic.record.people import Patient
from tests.adapters.sql.entries import plain
from tests.adapters.sql.raw import GUARDED, Refused, raw, rows_of
from tests.adapters.sql.whole import acts_of_whole
from tests.server import Server

APART = [name for name, kind in KINDS.items() if any(one.apart for one in columns_of(kind))]


@pytest.fixture
def full(record: SqlRecord, address: str) -> Iterator[str]:
    """The address of a record with two entries of every kind, each act with a reason."""
    with record.act("anchor", by="", why="for the others", token="anchor") as act:
        there = act.add(Patient(act.new_id(), "other", "en", True)).id
    for token in ("first", "second"):
        with record.act("all", by=there, why="to fill it", token=token) as act:
            for kind in KINDS.values():
                act.add(plain(kind, act.new_id(), there=there))
    yield address
    acts_of_whole(record)


def keys_of(table: str) -> list[str]:
    """The columns of a table's key."""
    return [column.name for column in METADATA.tables[table].primary_key]


def apart_of(table: str) -> list[str]:
    """The columns of a table that may be emptied."""
    if table == "history_why":
        return ["words", "salt"]
    return [*(one.name for one in columns_of(KINDS[table]) if one.apart), "salt"]


def emptied(table: str) -> str:
    """What empties all that may be emptied in a table."""
    return ", ".join(f'"{name}" = NULL' for name in apart_of(table))


def kept_of(table: str) -> list[str]:
    """The columns of a table that stay when it is emptied."""
    apart = apart_of(table)
    return [column.name for column in METADATA.tables[table].columns if column.name not in apart]


def refused(connection: Any, statement: str) -> None:
    """Make sure that the guards refuse a statement."""
    with pytest.raises(Refused, match=guards.REFUSAL):
        connection.execute(statement)


def test_no_column_of_any_row_can_be_changed(full: str) -> None:
    """Not even to what it is already: a row that was touched may have been changed."""
    with raw(full) as connection:
        before = rows_of(connection, GUARDED)
        for table in GUARDED:
            assert before[table], table
            for column in METADATA.tables[table].columns:
                with pytest.raises(Refused, match=guards.REFUSAL):
                    connection.execute(f'UPDATE "{table}" SET "{column.name}" = "{column.name}"')
        assert rows_of(connection, GUARDED) == before


def test_no_row_can_be_deleted(full: str) -> None:
    """Neither one nor all."""
    with raw(full) as connection:
        before = rows_of(connection, GUARDED)
        for table in GUARDED:
            with pytest.raises(Refused, match=guards.REFUSAL):
                connection.execute(f'DELETE FROM "{table}"')
        assert rows_of(connection, GUARDED) == before


def test_no_row_takes_the_place_of_another(full: str) -> None:
    """By an insertion that updates where there is a row with that key already."""
    with raw(full) as connection:
        before = rows_of(connection, GUARDED)
        for table in GUARDED:
            key = ", ".join(f'"{name}"' for name in keys_of(table))
            last = next(reversed(METADATA.tables[table].columns)).name
            with pytest.raises(Refused, match=guards.REFUSAL):
                connection.execute(
                    f'INSERT INTO "{table}" SELECT * FROM "{table}" WHERE true '
                    f'ON CONFLICT ({key}) DO UPDATE SET "{last}" = excluded."{last}"'
                )
        assert rows_of(connection, GUARDED) == before


@pytest.mark.parametrize("address", ["sqlite"], indirect=True)
@pytest.mark.parametrize("verb", ["INSERT OR REPLACE", "REPLACE"])
def test_replacing_is_refused_though_it_fires_no_trigger_for_a_deletion(
    full: str, verb: str
) -> None:
    """SQLite deletes the row in the way silently (https://sqlite.org/lang_conflict.html)."""
    with raw(full) as connection:
        before = rows_of(connection, GUARDED)
        for table in GUARDED:
            with pytest.raises(Refused, match=guards.REFUSAL):
                connection.execute(f'{verb} INTO "{table}" SELECT * FROM "{table}"')
        assert rows_of(connection, GUARDED) == before


@pytest.mark.parametrize("address", ["sqlite"], indirect=True)
def test_a_row_is_not_replaced_by_another_key_of_it(full: str) -> None:
    """By the token of an act, which is unique too, or by the hidden number of a row."""
    with raw(full) as connection:
        before = rows_of(connection, GUARDED)
        with pytest.raises(Refused, match=guards.REFUSAL):
            connection.execute(
                "INSERT OR REPLACE INTO history "
                "SELECT 99, at, by, act, token, body, hash FROM history WHERE seq = 1"
            )
        with pytest.raises(Refused, match=guards.REFUSAL):
            connection.execute(
                "INSERT OR REPLACE INTO entry (rowid, id, kind, seq) VALUES (1, 'new', 'dose', 1)"
            )
        for name in TABLES:
            columns = ", ".join(f'"{column.name}"' for column in TABLES[name].columns)
            values = columns.replace('"version"', '"version" + 7')
            with pytest.raises(Refused, match=guards.REFUSAL):
                connection.execute(
                    f'INSERT OR REPLACE INTO "{name}" (rowid, {columns}) '
                    f'SELECT rowid, {values} FROM "{name}"'
                )
        for name in APART:
            with pytest.raises(Refused, match=guards.REFUSAL):
                connection.execute(
                    f'UPDATE OR REPLACE "{name}" SET rowid = 2, {emptied(name)} WHERE rowid = 1'
                )
        assert rows_of(connection, GUARDED) == before


@pytest.mark.parametrize("address", ["postgresql"], indirect=True)
@pytest.mark.parametrize("more", ["", " CASCADE"])
def test_no_table_can_be_truncated(full: str, more: str) -> None:
    """A statement of its own in PostgreSQL, which fires no trigger of single rows."""
    with raw(full) as connection:
        before = rows_of(connection, GUARDED)
        for table in GUARDED:
            with pytest.raises(psycopg.Error) as caught:
                connection.execute(f'TRUNCATE "{table}"{more}'.encode())
            # Where others refer to a table, that alone forbids it.
            if more or table not in ("history", "entry"):
                assert guards.REFUSAL in str(caught.value)
        assert rows_of(connection, GUARDED) == before


def test_what_is_held_apart_is_emptied_whole_or_not_at_all(full: str) -> None:
    """A column alone, all with a change of another beside, and filling them again are refused."""
    keys = {"id": "'x'", "version": '"version" + 1', "seq": '"seq" + 1'}
    with raw(full) as connection:
        for table in ("history_why", *APART):
            before = rows_of(connection, [table])
            for name in apart_of(table):
                refused(connection, f'UPDATE "{table}" SET "{name}" = NULL')
            for name in kept_of(table):
                to = keys.get(name, "NULL")
                refused(connection, f'UPDATE "{table}" SET {emptied(table)}, "{name}" = {to}')
            assert rows_of(connection, [table]) == before
            kept = ", ".join(f'"{name}"' for name in kept_of(table))
            was = connection.execute(f'SELECT {kept} FROM "{table}" ORDER BY 1').fetchall()
            rest = rows_of(connection, [one for one in GUARDED if one != table])
            # What is empty may be emptied again: an erasure can be repeated.
            for _ in range(2):
                connection.execute(f'UPDATE "{table}" SET {emptied(table)}')
            apart = ", ".join(f'"{name}"' for name in apart_of(table))
            gone = connection.execute(f'SELECT {apart} FROM "{table}"').fetchall()
            assert {value for row in gone for value in row} == {None}
            for name in apart_of(table):
                refused(connection, f'UPDATE "{table}" SET "{name}" = \'x\'')
            assert connection.execute(f'SELECT {kept} FROM "{table}" ORDER BY 1').fetchall() == was
            assert rows_of(connection, [one for one in GUARDED if one != table]) == rest


def test_a_migration_can_take_the_guards_away(full: str) -> None:
    """All of them, by the statements that are made for it."""
    dialect = "postgresql" if "://" in full else "sqlite"
    with raw(full) as connection:
        for statement in guards.remove(GUARDED, dialect):
            connection.execute(statement)
        assert names_of_guards(connection, dialect) == []


def test_every_table_of_the_record_has_its_guards(full: str) -> None:
    """Against changes and deletions, and what else the database has that does the same."""
    dialect = "postgresql" if "://" in full else "sqlite"
    events = ("update", "delete", "insert" if dialect == "sqlite" else "truncate")
    due = sorted(f"guard_{table}_{event}" for table in GUARDED for event in events)
    with raw(full) as connection:
        assert names_of_guards(connection, dialect) == due


def names_of_guards(connection: sqlite3.Connection, dialect: str) -> list[str]:
    """The names of the triggers in a database."""
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if dialect == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
    )
    return sorted(name for (name,) in connection.execute(query))


def test_a_server_refuses_a_merge_too(server: Server) -> None:
    """One more statement of PostgreSQL that updates and deletes."""
    with raw(server.new_database(template="template_record")) as connection:
        for what in ("UPDATE SET value = 'x'", "DELETE"):
            with pytest.raises(psycopg.Error, match=guards.REFUSAL):
                connection.execute(
                    "MERGE INTO record_meta AS old USING record_meta AS new "
                    f"ON old.name = new.name WHEN MATCHED THEN {what}"
                )
