"""Credentials, sessions and tries in the record's database, beside its chain."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from functools import cached_property

from sqlalchemy import Connection, RowMapping, Table, delete, event, insert, select, update

from ebbline.adapters.sql.create import told_of
from ebbline.adapters.sql.engine import spoken
from ebbline.adapters.sql.look import SqlLook
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import ATTEMPT, CREDENTIAL, SESSION
from ebbline.core.clinic.access import Tried
from ebbline.core.clinic.record.written import read_moment, write_moment
from ebbline.core.errors import RecordError
from ebbline.services.clinic.access.access_ports import AccessRows, Credential, Session
from ebbline.services.clinic.ports import Act


class SqlAccessRows:
    """Credentials, sessions and tries, through an open transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def credential(self, user_id: str) -> Credential | None:
        """Return a user's credential, None where there is none."""
        row = self._one(CREDENTIAL, user_id)
        if row is None:
            return None
        return Credential(
            user_id=row["user_id"],
            hash=row["hash"],
            one_time=bool(row["one_time"]),
            changed_at=read_moment(row["changed_at"]),
        )

    def set_credential(self, credential: Credential) -> None:
        """Keep a credential in place of the user's earlier one."""
        self._put(
            CREDENTIAL,
            credential.user_id,
            {
                "hash": credential.hash,
                "one_time": credential.one_time,
                "changed_at": write_moment(credential.changed_at),
            },
        )

    def tried(self, key: str) -> Tried | None:
        """Return the wrong passwords under a login's key, None where there are none."""
        row = self._one(ATTEMPT, key)
        return None if row is None else Tried(row["failures"], read_moment(row["last_at"]))

    def set_tried(self, key: str, tried: Tried) -> None:
        """Keep the wrong passwords under a login's key."""
        self._put(
            ATTEMPT, key, {"failures": tried.failures, "last_at": write_moment(tried.last_at)}
        )

    def clear_tried(self, key: str) -> None:
        """Forget the wrong passwords under a login's key."""
        self._connection.execute(delete(ATTEMPT).where(ATTEMPT.c.login == key))

    def forget(self, *, tried_before: datetime, begun_before: datetime) -> None:
        """Forget wrong passwords last given, and sessions begun, before a time."""
        # Moments are written so that their order as text is their order in time.
        self._connection.execute(
            delete(ATTEMPT).where(ATTEMPT.c.last_at < write_moment(tried_before))
        )
        self._connection.execute(
            delete(SESSION).where(SESSION.c.begun_at < write_moment(begun_before))
        )

    def session(self, token_hash: str) -> Session | None:
        """Return a session, None where there is none."""
        row = self._one(SESSION, token_hash)
        return None if row is None else _session(row)

    def sessions(self, user_id: str) -> tuple[Session, ...]:
        """Return the sessions of a user that were not ended, the latest first."""
        query = (
            select(SESSION)
            .where(SESSION.c.user_id == user_id, SESSION.c.ended_at.is_(None))
            .order_by(SESSION.c.begun_at.desc(), SESSION.c.token_hash)
        )
        return tuple(_session(row) for row in self._connection.execute(query).mappings())

    def add_session(self, session: Session) -> None:
        """Keep a new session."""
        ended_at = session.ended_at
        self._connection.execute(
            insert(SESSION).values(
                token_hash=session.token_hash,
                user_id=session.user_id,
                begun_at=write_moment(session.begun_at),
                seen_at=write_moment(session.seen_at),
                ended_at=None if ended_at is None else write_moment(ended_at),
                place=session.place,
            )
        )

    def see_session(self, token_hash: str, at: datetime) -> None:
        """Note that somebody works in a session."""
        self._connection.execute(
            update(SESSION)
            .where(SESSION.c.token_hash == token_hash)
            .values(seen_at=write_moment(at))
        )

    def end_session(self, token_hash: str, at: datetime) -> None:
        """End a session that has not ended."""
        self._connection.execute(
            update(SESSION)
            .where(SESSION.c.token_hash == token_hash, SESSION.c.ended_at.is_(None))
            .values(ended_at=write_moment(at))
        )

    def end_sessions(self, user_id: str, at: datetime) -> None:
        """End every session of a user that has not ended."""
        self._connection.execute(
            update(SESSION)
            .where(SESSION.c.user_id == user_id, SESSION.c.ended_at.is_(None))
            .values(ended_at=write_moment(at))
        )

    def _one(self, table: Table, key: str) -> RowMapping | None:
        (column,) = table.primary_key.columns
        query = select(table).where(column == key)
        return self._connection.execute(query).mappings().one_or_none()

    def _put(self, table: Table, key: str, values: dict[str, object]) -> None:
        (column,) = table.primary_key.columns
        # Only one transaction writes at a time, so nobody adds the row in between.
        done = self._connection.execute(update(table).where(column == key).values(values))
        if done.rowcount == 0:
            self._connection.execute(insert(table).values({column.name: key, **values}))


class SqlAccess:
    """Credentials, sessions and tries of a record.

    Parameters
    ----------
    record : SqlRecord
        The record that they belong to.
    now : callable
        The clinic's clock.
    """

    def __init__(self, record: SqlRecord, *, now: Callable[[], datetime]) -> None:
        self._record = record
        self._now = now

    def now(self) -> datetime:
        """Return the time of the clinic's clock."""
        return self._now()

    def record_id(self) -> str:
        """Return the record's own id, in hexadecimal."""
        return self._told["id"]

    def service(self) -> str:
        """Return the name of the service."""
        return self._told["service"]

    @contextmanager
    def look(self) -> Iterator[AccessRows]:
        """Open one consistent view; nothing is written through it."""
        with spoken(self._record.where), self._record.reading() as connection:
            yield SqlAccessRows(connection)

    @contextmanager
    def write(self) -> Iterator[AccessRows]:
        """Open a transaction that is the only one writing."""
        with spoken(self._record.where), self._record.writing() as connection:
            yield SqlAccessRows(connection)

    def with_act(self, act: Act, write: Callable[[AccessRows], None]) -> None:
        """Write in the transaction of an act, after what the act recorded: both or neither.

        Parameters
        ----------
        act : Act
            An act of this record that has not ended.
        write : callable
            What to write.

        Raises
        ------
        RecordError
            If the act is not one of a database.
        """
        if not isinstance(act, SqlLook):
            raise RecordError(
                "record: no transaction to write in; allowed: an act of a record in a database; "
                f"came: {type(act).__name__}"
            )

        # An act writes at its end, and a credential refers to a user whom the act may be adding: so
        # this has to come after it, as the last thing before the transaction is committed.
        def before_commit(connection: Connection) -> None:
            write(SqlAccessRows(connection))

        event.listen(act.connection, "commit", before_commit, once=True)

    @cached_property
    def _told(self) -> dict[str, str]:
        return told_of(self._record)


def _session(row: RowMapping) -> Session:
    ended_at = row["ended_at"]
    return Session(
        token_hash=row["token_hash"],
        user_id=row["user_id"],
        begun_at=read_moment(row["begun_at"]),
        seen_at=read_moment(row["seen_at"]),
        ended_at=None if ended_at is None else read_moment(ended_at),
        place=row["place"],
    )
