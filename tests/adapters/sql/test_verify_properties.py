"""Whatever is tampered with, verifying names the first act that is not as it was recorded."""

import tempfile
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import Column, Connection, Table, insert, make_url, select, update

from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.erase import SqlEraser
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import ENTRY, HISTORY, HISTORY_WHY, TABLES
from ebbline.adapters.sql.verify import verify
from ebbline.core.clinic.record.staff import Erasure
from tests.adapters.sql.harbour import fill, rename, unguarded
from tests.conftest import copy_of
from tests.records import Clock
from tests.server import Server

Copies = Callable[[], AbstractContextManager[SqlRecord]]

ALL = [HISTORY, HISTORY_WHY, ENTRY, *TABLES.values()]
# What places a row; each has a way of its own to be tampered with.
PLACES = {"seq", "version"}


def opened(address: str) -> SqlRecord:
    """Open a record."""
    return SqlRecord(record_url(address), now=Clock(), zone="Europe/London", wait_s=5.0)


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def copies(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Copies:
    """Copies of a record of four invented patients, one of them erased, in each database."""
    if request.param == "sqlite":
        blank: Path = request.getfixturevalue("blank_file")
        original = copy_of(blank, tmp_path_factory.mktemp("filled") / "filled.ebbline")
    else:
        server: Server = request.getfixturevalue("server")
        original = server.new_database(template="template_record")
    record = opened(original)
    for name in ("Shore", "Strand", "Haven"):
        ids = fill(record, name)
        rename(record, ids, name=f"{name} the younger")
    with record.act("erase identity", by="", why="", token=None) as act:
        rows = SqlEraser(record).empty(act, ids["patient"])
        act.add(Erasure(act.new_id(), ids["patient"], "invented ground", "the service", rows))
    fill(record, "Wharf")
    record.close()

    @contextmanager
    def copy() -> Iterator[SqlRecord]:
        with tempfile.TemporaryDirectory() as folder:
            if request.param == "sqlite":
                address = copy_of(Path(original), Path(folder) / "copy.ebbline")
            else:
                template = str(make_url(original).database)
                address = server.new_database(template=template)
            record = opened(address)
            yield record
            record.close()
            if request.param == "postgresql":
                with psycopg.connect(server.url("postgres"), autocommit=True) as connection:
                    connection.execute(f"DROP DATABASE {make_url(address).database}".encode())

    return copy


def other(column: Column[Any], value: Any) -> Any:
    """Return another value that the column takes."""
    python = column.type.python_type
    if python is str:
        text = str(value or "")
        return ("y" if text.startswith("x") else "x") + text[1:]
    if python is bool:
        return not value
    if python is bytes:
        return bytes(value or b"") + b"x"
    return (value or 0) + 1


def edit(connection: Connection, data: st.DataObject) -> int:
    """Change one cell of one row and return the act that is at fault."""
    table, row = some_row(connection, data)
    column = data.draw(st.sampled_from([one for one in table.columns if one.name not in PLACES]))
    change = update(table).where(is_row(table, row))
    connection.execute(change.values({column.name: other(column, row[column.name])}))
    return int(row["seq"])


def take_out(connection: Connection, data: st.DataObject) -> int:
    """Delete one row and return the act that is at fault."""
    table, row = some_row(connection, data)
    connection.execute(table.delete().where(is_row(table, row)))
    return int(row["seq"])


def put_in(connection: Connection, data: st.DataObject) -> int:
    """Add a row like another one and return the act that is at fault."""
    table, row = some_row(connection, data)
    new = dict(row)
    if "id" in new:
        new["id"] = "put in"
    else:
        new["seq"] = 10_000
        new |= {"token": "put in"} if "token" in new else {}
    connection.execute(insert(table).values(new))
    if table is HISTORY:
        return last_of(connection, below=10_000) + 1
    return int(new["seq"])


def move(connection: Connection, data: st.DataObject) -> int:
    """Give an entry to another act and return the earlier of the two."""
    table, row = some_row(connection, data, tables=[ENTRY, *TABLES.values()])
    last = last_of(connection, below=10_000)
    seq = data.draw(st.integers(1, last).filter(lambda one: one != row["seq"]))
    connection.execute(update(table).where(is_row(table, row)).values(seq=seq))
    return min(seq, int(row["seq"]))


def exchange(connection: Connection, data: st.DataObject) -> int:
    """Let two acts change places and return the earlier one."""
    last = last_of(connection, below=10_000)
    first, second = sorted(
        data.draw(st.lists(st.integers(1, last), min_size=2, max_size=2, unique=True))
    )
    query = select(HISTORY).where(HISTORY.c.seq.in_((first, second))).order_by(HISTORY.c.seq)
    rows = [dict(row) for row in connection.execute(query).mappings()]
    for seq in (first, second):
        connection.execute(update(HISTORY).where(HISTORY.c.seq == seq).values(token=f"held {seq}"))
    for seq, row in zip((second, first), rows, strict=True):
        connection.execute(update(HISTORY).where(HISTORY.c.seq == seq).values({**row, "seq": seq}))
    return int(first)


def some_row(
    connection: Connection, data: st.DataObject, *, tables: list[Table] = ALL
) -> tuple[Table, dict[str, Any]]:
    """Return any row of the record but an erasure: without one, others are at fault."""
    there = [one for one in tables if one.name != "erasure"]
    table = data.draw(st.sampled_from(there))
    query = select(table).order_by(*table.primary_key.columns)
    rows = [dict(row) for row in connection.execute(query).mappings()]
    return table, data.draw(st.sampled_from(rows))


def is_row(table: Table, row: dict[str, Any]) -> Any:
    """Return the condition for a row by its key."""
    return table.primary_key.columns[0].in_([row[table.primary_key.columns[0].name]]) & (
        table.c.version == row["version"] if "version" in row else table.c.seq == row["seq"]
    )


def last_of(connection: Connection, *, below: int) -> int:
    """Return the last act."""
    query = select(HISTORY.c.seq).where(HISTORY.c.seq < below).order_by(HISTORY.c.seq.desc())
    return int(connection.scalars(query.limit(1)).one())


WAYS = (edit, take_out, put_in, move, exchange)


@given(data=st.data())
@settings(max_examples=40)
def test_the_first_act_that_was_tampered_with_is_named(copies: Copies, data: st.DataObject) -> None:
    """One change of any kind to any row."""
    with copies() as record:
        with unguarded(record) as connection:
            due = data.draw(st.sampled_from(WAYS))(connection, data)
        fault = verify(record, head=None, progress=lambda done, total: None).fault
    assert fault is not None
    assert fault.seq == due


@given(data=st.data())
@settings(max_examples=20)
def test_of_several_changes_the_first_is_named(copies: Copies, data: st.DataObject) -> None:
    """Edits of two or three rows."""
    with copies() as record:
        with unguarded(record) as connection:
            due = min(edit(connection, data) for _ in range(data.draw(st.integers(2, 3))))
        fault = verify(record, head=None, progress=lambda done, total: None).fault
    assert fault is not None
    assert fault.seq == due


def test_a_copy_that_nobody_touched_verifies(copies: Copies) -> None:
    """So the faults above are those that were put in."""
    with copies() as record:
        verdict = verify(record, head=None, progress=lambda done, total: None)
    assert verdict.fault is None
    assert verdict.erased > 20
