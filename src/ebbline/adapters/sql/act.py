"""Write the record: one act, whole or not at all, with its row of the history."""

import secrets
from datetime import datetime
from typing import TypeVar

from sqlalchemy import Connection, insert

from ebbline.adapters.sql.look import SqlLook
from ebbline.adapters.sql.tables import ENTRY, HISTORY, HISTORY_WHY, TABLES
from ebbline.core.clinic.record.chain import ActDone, Change, body_of, link
from ebbline.core.clinic.record.entry import Entry, Kept, columns_of, kind_name
from ebbline.core.clinic.record.held import check_text
from ebbline.core.clinic.record.written import (
    canonical,
    digest_apart,
    digest_row,
    sha256,
    write_entry,
    write_moment,
)
from ebbline.core.errors import ConflictError, RecordError

E = TypeVar("E", bound=Entry)

_ID_BYTES = 10
# Most characters of a name or id, and of a token, as the tables have them.
_NAME = 40
_TOKEN = 80


class SqlAct(SqlLook):
    """What a use case does to the record in one act. Nothing is written before its end."""

    def __init__(
        self,
        connection: Connection,
        *,
        act: str,
        by: str,
        why: str,
        token: str | None,
        at: datetime,
        zone: str,
    ) -> None:
        super().__init__(connection)
        self.at = at
        self._act = check_text(act, field="act", at_most=_NAME)
        self._by = check_text(by, field="by", at_most=_NAME)
        self._why = check_text(why, field="why")
        self._token = None if token is None else check_text(token, field="token", at_most=_TOKEN)
        self._zone = zone
        self._warned: list[str] = []
        self._entries: list[tuple[Entry, int]] = []

    def new_id(self) -> str:
        """Return an id that nothing in the record has."""
        return secrets.token_hex(_ID_BYTES)

    def warn(self, words: str) -> None:
        """Keep in the history that the person was warned."""
        self._warned.append(check_text(words, field="warned"))

    def add(self, entry: E) -> E:
        """Record a new entry when the act ends."""
        self._entries.append((entry, 1))
        return entry

    def revise(self, entry: E, *, version: int) -> E:
        """Record a new version of an entry when the act ends.

        ``version`` is the one that the person saw. Where another has been recorded since, the act
        is refused with both values.
        """
        stands = self.get(type(entry), entry.id)
        if stands.version != version:
            raise self._conflict(stands, entry, version)
        # As written: the same moment in two zones, or 5 and 5.0, are no change.
        if write_entry(stands.entry) != write_entry(entry):
            self._entries.append((entry, version + 1))
        return entry

    def finish(self) -> int | None:
        """Write everything and return the number of the act; None where nothing was done.

        A token under which an act was done already is refused.
        """
        if not self._entries and not self._warned:
            return None
        before = None if self._token is None else self.done(self._token)
        if before is not None:
            raise RecordError(
                f"token: act {before} was done under it already; allowed: a new one for each act; "
                f"came: {self._token}"
            )
        seq, previous = self.head()
        seq += 1
        rows = [self._row(entry, version, seq) for entry, version in self._entries]
        salt = secrets.token_hex(16) if self._why else ""
        done = ActDone(
            seq=seq,
            at=write_moment(self.at),
            zone=self._zone,
            by=self._by,
            act=self._act,
            why_digest=sha256(canonical([salt, self._why])) if self._why else None,
            token=self._token,
            warned=tuple(self._warned),
            changes=tuple(change for _, _, change in rows),
        )
        body = body_of(done)
        self.connection.execute(
            insert(HISTORY).values(
                seq=seq,
                at=done.at,
                by=done.by,
                act=done.act,
                token=done.token,
                body=body,
                hash=link(previous, body),
            )
        )
        if self._why:
            self.connection.execute(insert(HISTORY_WHY).values(seq=seq, words=self._why, salt=salt))
        for name, row, change in rows:
            if change.version == 1:
                self.connection.execute(insert(ENTRY).values(id=change.id, kind=name, seq=seq))
            self.connection.execute(insert(TABLES[name]).values(row))
        return seq

    def _row(self, entry: Entry, version: int, seq: int) -> tuple[str, dict[str, object], Change]:
        kind = type(entry)
        check_text(entry.id, field="id", at_most=_NAME)
        row = write_entry(entry)
        salt = secrets.token_hex(16)
        apart = digest_apart(kind, row, salt)
        change = Change(kind_name(kind), entry.id, version, digest_row(kind, row, apart))
        full: dict[str, object] = {**row, "version": version, "seq": seq}
        if apart is not None:
            full |= {"salt": salt, "apart_digest": apart}
        return change.kind, full, change

    def _conflict(self, stands: Kept[E], entry: E, version: int) -> ConflictError:
        kind = type(entry)
        seen = {one.version: one.entry for one in self.versions(kind, entry.id)}.get(version)
        differences = tuple(
            (column.name, str(old), str(new))
            for column in columns_of(kind)
            if column.form != "bytes"
            and (old := getattr(stands.entry, column.name)) != (new := getattr(entry, column.name))
            and (
                seen is None
                or new != getattr(seen, column.name)
                or old != getattr(seen, column.name)
            )
        )
        last = self.acts([stands.seq])[0]
        return ConflictError(
            what=f"{kind_name(kind).replace('_', ' ')} {entry.id}",
            differences=differences,
            who=last.by or "the system",
            at=last.at,
        )
