"""Open the database of a record, and say in words what a database says in codes."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, SQLAlchemyError

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
        If it is neither.
    """
    if "://" not in where:
        return URL.create("sqlite", database=where)
    try:
        url = make_url(where)
    except ArgumentError as error:
        raise RecordError(f"record: no address; allowed: {ALLOWED}; came: {where}") from error
    if url.get_backend_name() == "postgresql":
        return url.set(drivername="postgresql+psycopg")
    if url.get_backend_name() != "sqlite" or not url.database:
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
        engine = create_engine(url, connect_args={"timeout": wait_s})
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
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


def _prepare_sqlite(connection: Any, _record: object) -> None:
    # SQLAlchemy begins and ends transactions; the driver must not do so by itself.
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in ("foreign_keys=ON", "journal_mode=WAL", "synchronous=FULL"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_sqlite(connection: Any) -> None:
    # A transaction that is going to write takes the lock at once: one that reads first and then
    # finds that another has written could not go on.
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


_MEANINGS = (
    (("disk is full", "no space left", "could not extend file", "file too large"),
     "the disk is full", "a disk with room"),
    (("readonly database", "read-only", "readonly"),
     "it may only be read", "a file and folder that may be written"),
    (("database is locked", "lock timeout", "locknotavailable"),
     "somebody else has been writing to it for too long", "one writer at a time"),
    (("unable to open", "permission denied"),
     "the file cannot be opened", "a file in a folder that may be read and written"),
    (("disk i/o error",), "the disk failed", "a disk that answers"),
    (("connection", "server closed", "shutting down", "terminating", "starting up", "recovery"),
     "the server does not answer", "a server that answers"),
)  # fmt: skip
_BROKEN = ("malformed", "not a database", "no such table", "undefinedtable", "does not exist")


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
    hay = f"{said} {type(getattr(error, 'orig', error)).__name__}".lower()
    if any(sign in hay for sign in _BROKEN):
        return BrokenRecordError(
            f"record {where}: this is no record of ebbline, or it is damaged; allowed: a record "
            f"made by 'ebbline record create'; came: {line}"
        )
    for signs, wrong, allowed in _MEANINGS:
        if any(sign in hay for sign in signs):
            return UnavailableError(f"record {where}: {wrong}; allowed: {allowed}; came: {line}")
    return RecordError(
        f"record {where}: the database refused; allowed: what its schema allows; came: {line}"
    )
