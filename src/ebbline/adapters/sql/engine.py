"""Open the database of a record, and say in words what a database says in codes."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import (
    ArgumentError,
    DBAPIError,
    OperationalError,
    SQLAlchemyError,
)
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from ebbline.core.errors import BrokenRecordError, RecordError, UnavailableError

ALLOWED = "a file, or a postgresql:// address"


def record_url(where: str) -> URL:
    """Return the address of a record.

    Parameters
    ----------
    where : str
        Name of a file, or an address that begins with ``sqlite://`` or ``postgresql://``.

    Returns
    -------
    URL

    Raises
    ------
    RecordError
        If it is neither, or a database that is not kept.
    """
    if where in ("", ":memory:"):
        raise RecordError(
            f"record: it would be lost at the end; allowed: {ALLOWED}; came: {where or 'nothing'}"
        )
    if "://" not in where:
        return URL.create("sqlite", database=where)
    try:
        url = make_url(where)
    except (ArgumentError, ValueError):
        # Without the rest, which may hold a password; nor is the error shown that quotes it.
        came = f"{where.split('://', maxsplit=1)[0]}://…"
        raise RecordError(f"record: no address; allowed: {ALLOWED}; came: {came}") from None
    if url.get_backend_name() == "postgresql":
        return url.set(drivername="postgresql+psycopg")
    if url.get_backend_name() != "sqlite" or url.database in (None, "", ":memory:"):
        raise RecordError(
            f"record: no such kind of database; allowed: {ALLOWED}; came: "
            f"{url.render_as_string(hide_password=True)}"
        )
    return url


def shown(url: URL) -> str:
    """Return an address as it may be shown: a file's name, or the server without its password."""
    if url.get_backend_name() == "sqlite":
        return str(url.database)
    return url.set(drivername="postgresql").render_as_string(hide_password=True)


def open_engine(url: URL, *, wait_s: float) -> Engine:
    """Return the engine of a database; nothing is opened yet.

    Parameters
    ----------
    url : URL
        From `record_url`.
    wait_s : float
        How long to wait for another writer or for the server, s.

    Returns
    -------
    Engine
    """
    if url.get_backend_name() == "sqlite":
        # Connections are kept: closing the last one would move the whole log into the file.
        engine = create_engine(url, pool_timeout=wait_s, connect_args={"timeout": wait_s})
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        event.listen(engine, "checkin", _return_sqlite)
        return engine
    return create_engine(
        url,
        pool_pre_ping=True,
        pool_timeout=wait_s,
        connect_args={
            "connect_timeout": max(1, round(wait_s)),
            "options": f"-c lock_timeout={round(wait_s * 1000)} -c synchronous_commit=on",
        },
    )


def must_exist(url: URL) -> None:
    """Refuse a file that is not there: opening it would make an empty one.

    Parameters
    ----------
    url : URL
        The record.

    Raises
    ------
    UnavailableError
        If there is no such file.
    """
    if url.get_backend_name() == "sqlite" and not Path(str(url.database)).is_file():
        raise UnavailableError(
            f"record: there is no such file; allowed: the file of a record; came: {url.database}"
        )


def _prepare_sqlite(connection: Any, record: Any) -> None:
    # SQLAlchemy begins and ends transactions; the driver must not do so by itself.
    connection.isolation_level = None
    cursor = connection.cursor()
    ((_, _, file),) = cursor.execute("PRAGMA database_list")
    by_effect = os.access in os.supports_effective_ids
    record.info["writes"] = os.access(file, os.W_OK, effective_ids=by_effect)
    cursor.execute("PRAGMA foreign_keys=ON")
    cursor.execute("PRAGMA synchronous=FULL")
    tables = {name for (name,) in cursor.execute("SELECT name FROM sqlite_master")}
    # The file of another program, opened by mistake, stays as it is.
    if not tables or "record_meta" in tables:
        cursor.execute("PRAGMA journal_mode=WAL")
    cursor.close()


def _begin_sqlite(connection: Any) -> None:
    # A transaction that is going to write takes the lock at once: one that reads first and then
    # finds that another has written could not go on.
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _return_sqlite(connection: Any, record: Any) -> None:
    # One that was opened for reading only is not kept: the file may be written by the next time.
    if connection is not None and not record.info["writes"]:
        record.invalidate()


# How the code of an error begins: by name for SQLite (https://sqlite.org/rescode.html), an SQLSTATE
# for PostgreSQL (appendix A of its manual). Only codes count: an error's words may quote a row.
_MEANINGS = (
    (("SQLITE_FULL", "53100"), "the disk is full", "a disk with room"),
    (("SQLITE_READONLY", "25006"),
     "it may only be read", "a file, folder or server that may be written"),
    (("SQLITE_BUSY", "55P03"),
     "somebody else has been writing to it for too long", "one writer at a time"),
    (("SQLITE_CANTOPEN",),
     "the file cannot be opened", "a file in a folder that may be read and written"),
    (("SQLITE_IOERR",), "the disk failed", "a disk that answers, and takes a larger file"),
    (("42501",), "this account may not do that", "an account that may read and write the tables"),
    (("57P", "08"), "the server does not answer", "a server that answers"),
    (("FATAL",), "the server refuses the connection", "a database and an account that it knows"),
    (("pool",), "too many look at it at once", "a look that ends before the next one begins"),
)  # fmt: skip
_BROKEN = ("SQLITE_CORRUPT", "SQLITE_NOTADB", "42P01")
# What has no code of its own is known by how its first line begins.
_WORDS = (("no such table", "42P01"), ("could not extend file", "53100"))


@contextmanager
def spoken(where: str) -> Iterator[None]:
    """Turn what a database raises into the family's errors.

    Parameters
    ----------
    where : str
        The record, as it may be shown.

    Raises
    ------
    UnavailableError
        If the record cannot be read or written now.
    BrokenRecordError
        If it is damaged, or is no record.
    RecordError
        If the database refuses for another reason.
    """
    try:
        yield
    except SQLAlchemyError as error:
        raise _translate(error, where) from error


def _translate(error: SQLAlchemyError, where: str) -> RecordError:
    said = str(error.orig if isinstance(error, DBAPIError) else error).strip()
    line = said.splitlines()[0] if said else type(error).__name__
    code = _code(error, line)
    if code.startswith(_BROKEN):
        return BrokenRecordError(
            f"record {where}: this is no record of ebbline, or it is damaged; allowed: a record "
            f"made by 'ebbline record create'; came: {line}"
        )
    for codes, wrong, allowed in _MEANINGS:
        if code.startswith(codes):
            return UnavailableError(f"record {where}: {wrong}; allowed: {allowed}; came: {line}")
    return RecordError(
        f"record {where}: the database refused; allowed: what its schema allows; came: {line}"
    )


def _code(error: SQLAlchemyError, line: str) -> str:
    """Return the code of an error, empty for none."""
    if isinstance(error, PoolTimeoutError):
        return "pool"
    for begins, code in _WORDS:
        if line.startswith(begins):
            return code
    cause = getattr(error, "orig", None)
    found = getattr(cause, "sqlstate", None) or getattr(cause, "sqlite_errorname", None)
    if found is None and isinstance(error, OperationalError):
        # It came instead of an answer: the server refused, or there is none.
        return "FATAL" if "FATAL:" in line else "08000"
    return found or ""
