"""The record in a database: looks and acts, each in a transaction of its own."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime

from sqlalchemy import Connection, Engine, text
from sqlalchemy.engine import URL

from ebbline.adapters.sql.act import SqlAct
from ebbline.adapters.sql.engine import must_exist, open_engine, record_url, shown, spoken
from ebbline.adapters.sql.look import SqlLook

# Any number of one's own: it names the one lock under which acts are written on a server.
_WRITERS = 7_114_202_611


class SqlRecord:
    """A record in SQLite or PostgreSQL.

    Parameters
    ----------
    url : URL
        Its database.
    now : callable
        The clinic's clock.
    zone : str
        Its time zone, by IANA name.
    wait_s : float
        How long to wait for another writer or for the server, s.
    """

    def __init__(self, url: URL, *, now: Callable[[], datetime], zone: str, wait_s: float) -> None:
        self.url = url
        self.where = shown(url)
        self.engine: Engine = open_engine(url, wait_s=wait_s)
        self._now = now
        self._zone = zone

    @contextmanager
    def look(self) -> Iterator[SqlLook]:
        """Open one consistent view; nothing can be written through it."""
        with spoken(self.where), self.reading() as connection:
            view = SqlLook(connection)
            # Databases fix what a transaction sees when it first reads.
            view.head()
            yield view

    @contextmanager
    def act(self, act: str, *, by: str, why: str, token: str | None) -> Iterator[SqlAct]:
        """Do one act: all of it is written when the block ends, nothing where it raises."""
        with spoken(self.where), self.writing() as connection:
            doing = SqlAct(
                connection,
                act=act,
                by=by,
                why=why,
                token=token,
                at=self._now(),
                zone=self._zone,
            )
            yield doing
            doing.finish()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Open a transaction that sees one state of the record."""
        server = self.engine.dialect.name == "postgresql"
        options = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
        with (
            self.engine.execution_options(**options if server else {}).connect() as connection,
            connection.begin(),
        ):
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Open a transaction that is the only one writing acts."""
        server = self.engine.dialect.name == "postgresql"
        # Whatever the server's default is: what is read must be as of the lock, not before it.
        options = {"isolation_level": "READ COMMITTED"} if server else {}
        with (
            self.engine.execution_options(writes=True, **options).connect() as connection,
            connection.begin(),
        ):
            if server:
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _WRITERS})
            yield connection

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()


def open_record(where: str, *, now: Callable[[], datetime], zone: str, wait_s: float) -> SqlRecord:
    """Return the record at an address that is there already.

    Parameters
    ----------
    where : str
        A file or an address.
    now : callable
        The clinic's clock.
    zone : str
        Its time zone, by IANA name.
    wait_s : float
        How long to wait for another writer or for the server, s.

    Returns
    -------
    SqlRecord

    Raises
    ------
    RecordError
        If it is no address, or there is no such file.
    """
    url = record_url(where)
    must_exist(url)
    return SqlRecord(url, now=now, zone=zone, wait_s=wait_s)
