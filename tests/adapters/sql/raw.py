"""A record's database as any other program would open it: without what ebbline asks of it."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import psycopg

from ebbline.adapters.sql.tables import METADATA

OUTSIDE = ("credential", "session", "attempt", "clock_anchor")
"""Tables that are no part of the chain: what they hold changes."""
GUARDED = [name for name in METADATA.tables if name not in OUTSIDE]

Refused = (sqlite3.Error, psycopg.Error)


@contextmanager
def raw(address: str) -> Iterator[Any]:
    """Open a database by its driver alone; each statement takes effect by itself."""
    connection: Any
    if "://" in address:
        connection = psycopg.connect(address, autocommit=True)
    else:
        connection = sqlite3.connect(address, isolation_level=None)
    yield connection
    connection.close()


def rows_of(connection: Any, tables: list[str]) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of tables, in one order."""
    return {
        table: sorted(connection.execute(f'SELECT * FROM "{table}"').fetchall(), key=repr)
        for table in tables
    }
