"""Read the record: entries as they stand now, their versions, and the history."""

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any, TypeVar

from sqlalchemy import Connection, RowMapping, Select, and_, exists, func, select

from ebbline.adapters.sql.tables import ENTRY, HISTORY, HISTORY_WHY, TABLES
from ebbline.core.clinic.record.chain import START
from ebbline.core.clinic.record.entry import Entry, Kept, columns_of, kind_name
from ebbline.core.clinic.record.held import check_text
from ebbline.core.clinic.record.written import read_entry, write_value
from ebbline.core.errors import FieldError
from ebbline.services.clinic.ports import ActSeen, Containing

E = TypeVar("E", bound=Entry)


class SqlLook:
    """One consistent view of a record, through an open transaction."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection

    def get(self, kind: type[E], entry_id: str) -> Kept[E]:
        """Return an entry as it stands; refuse an id that the record does not hold."""
        found = self.find(kind, {"id": entry_id})
        if not found:
            name = kind_name(kind)
            raise FieldError(
                field=f"{name}_id",
                wrong=f"there is no such {name.replace('_', ' ')}",
                allowed="one that is in the record",
                came=entry_id or "nothing",
            )
        return found[0]

    def find(self, kind: type[E], where: Mapping[str, Any]) -> tuple[Kept[E], ...]:
        """Return the entries that stand now and have these values, in the order of recording."""
        table = TABLES[kind_name(kind)]
        query = standing(kind_name(kind)).order_by(table.c.seq, table.c.id)
        columns = {one.name: one for one in columns_of(kind)}
        for name, value in where.items():
            if isinstance(value, Containing):
                query = query.where(table.c[name].contains(value.text, autoescape=True))
                continue
            values = value if isinstance(value, tuple | list) else [value]
            written = [None if one is None else write_value(one, columns[name]) for one in values]
            query = query.where(
                table.c[name].in_(written)
                if isinstance(value, tuple | list)
                else table.c[name] == written[0]
            )
        return tuple(_kept(kind, row) for row in self.connection.execute(query).mappings())

    def versions(self, kind: type[E], entry_id: str) -> tuple[Kept[E], ...]:
        """Return every version of an entry, the first one first."""
        table = TABLES[kind_name(kind)]
        query = select(table).where(table.c.id == entry_id).order_by(table.c.version)
        return tuple(_kept(kind, row) for row in self.connection.execute(query).mappings())

    def written_by(self, kind: type[E], seq: int) -> tuple[Kept[E], ...]:
        """Return what an act wrote of one kind."""
        table = TABLES[kind_name(kind)]
        query = select(table).where(table.c.seq == seq).order_by(table.c.id)
        return tuple(_kept(kind, row) for row in self.connection.execute(query).mappings())

    def done(self, token: str) -> int | None:
        """Return the act that was sent under a token, None where there is none."""
        check_text(token, field="token")
        return self.connection.scalar(select(HISTORY.c.seq).where(HISTORY.c.token == token))

    def acts(self, seqs: Sequence[int]) -> tuple[ActSeen, ...]:
        """Return acts by their numbers, in order."""
        found: list[ActSeen] = []
        for start in range(0, len(seqs), 500):
            part = seqs[start : start + 500]
            query = (
                select(HISTORY, HISTORY_WHY.c.words)
                .join_from(HISTORY, HISTORY_WHY, isouter=True)
                .where(HISTORY.c.seq.in_(part))
            )
            found += [_act_seen(row) for row in self.connection.execute(query).mappings()]
        return tuple(sorted(found, key=lambda one: one.seq))

    def acts_after(self, seq: int) -> Iterator[ActSeen]:
        """Yield every act after one, in order."""
        query = (
            select(HISTORY, HISTORY_WHY.c.words)
            .join_from(HISTORY, HISTORY_WHY, isouter=True)
            .where(HISTORY.c.seq > seq)
            .order_by(HISTORY.c.seq)
        )
        for row in self.connection.execute(query).mappings():
            yield _act_seen(row)

    def head(self) -> tuple[int, str]:
        """Return the number and hash of the last act; 0 and the start of the chain for none."""
        row = self.connection.execute(
            select(HISTORY.c.seq, HISTORY.c.hash).order_by(HISTORY.c.seq.desc()).limit(1)
        ).one_or_none()
        return (0, START) if row is None else (row.seq, row.hash)

    def count(self, kind: type[E]) -> int:
        """Return how many entries of a kind there are."""
        query = select(func.count()).select_from(ENTRY).where(ENTRY.c.kind == kind_name(kind))
        return self.connection.scalar(query) or 0


@cache
def standing(name: str) -> Select[Any]:
    """Return the query for the rows of a kind that no later version replaces.

    Parameters
    ----------
    name : str
        The kind.

    Returns
    -------
    Select
    """
    table = TABLES[name]
    later = table.alias("later")
    return select(table).where(
        ~exists(
            select(later.c.id).where(
                and_(later.c.id == table.c.id, later.c.version == table.c.version + 1)
            )
        )
    )


def _kept(kind: type[E], row: Any) -> Kept[E]:
    return Kept(read_entry(kind, row), row["version"], row["seq"])


def _act_seen(row: RowMapping) -> ActSeen:
    return ActSeen(
        seq=row["seq"],
        at=row["at"],
        by=row["by"],
        act=row["act"],
        why=row["words"] or "",
        body=row["body"],
        hash=row["hash"],
    )
