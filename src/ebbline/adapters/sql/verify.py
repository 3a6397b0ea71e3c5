"""Verify a whole record: the chain over all acts, and every stored row against its act.

Rows are read in the order of the acts, a few at a time, so a record may be larger than the memory.
What the chain does not cover: what a record says of itself (``record_meta``), passwords, sessions.
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from heapq import merge
from typing import Any

from sqlalchemy import Connection, Table, func, select

from ebbline.adapters.sql.engine import spoken
from ebbline.adapters.sql.owned import read_erasures
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import ENTRY, HISTORY, HISTORY_WHY, TABLES
from ebbline.adapters.sql.verify_act import Stored, check_act
from ebbline.core.clinic.record.chain import START, Fault, Link, check_links
from ebbline.core.clinic.record.entry import columns_of
from ebbline.core.clinic.record.kinds import KINDS

Head = tuple[int, str]
"""Number and hash of an act, as a day sheet shows them."""

Progress = Callable[[int, int], None]
"""Is told how many acts were looked at, and how many there are."""

_TOLD_EVERY = 1000
_ROWS_AT_ONCE = 500
_LARGE_ROWS_AT_ONCE = 10


@dataclass(frozen=True, slots=True)
class Verdict:
    """What came of verifying a record.

    ``acts`` and ``rows`` count what was found good, ``erased`` the rows and reasons that were
    emptied on a legal request; ``head`` is the last good act; ``fault`` is the first place that
    does not verify, None for a record that is whole.
    """

    acts: int
    rows: int
    erased: int
    head: Head
    fault: Fault | None


def verify(record: SqlRecord, *, head: Head | None, progress: Progress) -> Verdict:
    """Look at every act and every row, and name the first that is not as it was recorded.

    Parameters
    ----------
    record : SqlRecord
        The record; acts may go on meanwhile.
    head : tuple of (int, str) or None
        A head that was kept outside the record: shows whether acts up to it were cut off or
        written anew, which the record by itself cannot show.
    progress : callable
        Is told about every thousandth act.

    Returns
    -------
    Verdict
    """
    with spoken(record.where), record.reading() as connection:
        return verify_view(connection, head=head, progress=progress)


def verify_view(connection: Connection, *, head: Head | None, progress: Progress) -> Verdict:
    """Verify what an open transaction sees; see `verify`.

    Parameters
    ----------
    connection : Connection
        In a transaction that sees one state.
    head : tuple of (int, str) or None
        A head from outside.
    progress : callable
        Is told about every thousandth act.

    Returns
    -------
    Verdict
    """
    total = connection.scalar(select(func.max(HISTORY.c.seq))) or 0
    erasures = read_erasures(connection)
    acts = found = erased = 0
    last: Head = (0, START)
    fault: Fault | None = None
    with ExitStack() as opened:
        history = _History(connection, opened)
        rows = _Rows(connection, opened)
        for step in check_links(history):
            fault = step if isinstance(step, Fault) else None
            if fault is None:
                fault = rows.stray(before=history.row["seq"])
            if fault is None and head is not None:
                fault = _against_head(history.row, head)
            if fault is not None:
                break
            stored = rows.of(history.row["seq"])
            checked = check_act(history.row, stored, erasures=erasures, before=_before(connection))
            if isinstance(checked, Fault):
                fault = checked
                break
            acts, found, erased = acts + 1, found + len(stored), erased + checked
            last = (history.row["seq"], history.row["hash"])
            if acts % _TOLD_EVERY == 0:
                progress(acts, total)
        if fault is None:
            fault = rows.stray(before=None) or _cut_off(last, head)
    return Verdict(acts=acts, rows=found, erased=erased, head=last, fault=fault)


class _History:
    """The rows of the history in order; ``row`` is the one that was given out last."""

    def __init__(self, connection: Connection, opened: ExitStack) -> None:
        self._rows = _read(connection, HISTORY, _ROWS_AT_ONCE, opened)
        self.row: dict[str, Any]

    def __iter__(self) -> Iterator[Link]:
        for row in self._rows:
            self.row = row
            yield Link(row["seq"], str(row["body"]), str(row["hash"]))


class _Rows:
    """Every other row that belongs to an act, from all tables, in the order of the acts."""

    def __init__(self, connection: Connection, opened: ExitStack) -> None:
        tables = {"entry": ENTRY, "history_why": HISTORY_WHY, **TABLES}
        self._rest = merge(
            *(
                _numbered(name, _read(connection, table, _at_once(name), opened))
                for name, table in tables.items()
            ),
            key=lambda one: one[0],
        )
        self._next = next(self._rest, None)

    def of(self, seq: int) -> list[Stored]:
        """Take the rows of an act."""
        found = []
        while self._next is not None and self._next[0] == seq:
            found.append(self._next[1])
            self._next = next(self._rest, None)
        return found

    def stray(self, *, before: int | None) -> Fault | None:
        """Return the fault where the next row belongs to an act before this one, or to none."""
        if self._next is None or (before is not None and self._next[0] >= before):
            return None
        seq, one = self._next
        return Fault(seq, one.name, f"{one.name} says that row {seq} recorded it; there is none")


def _read(
    connection: Connection, table: Table, at_once: int, opened: ExitStack
) -> Iterator[dict[str, Any]]:
    """Return the rows of a table in the order of the acts, read a few at a time."""
    query = select(table).order_by(table.c.seq)
    rows = connection.execute(query, execution_options={"yield_per": at_once})
    opened.callback(rows.close)
    names = table.columns.keys()
    return (dict(zip(names, row, strict=True)) for row in rows)


def _numbered(name: str, rows: Iterator[dict[str, Any]]) -> Iterator[tuple[int, Stored]]:
    for row in rows:
        # SQLite would keep a text where a number belongs; such a row belongs to no act.
        seq = row["seq"] if isinstance(row["seq"], int) else -1
        yield seq, Stored(name, row)


def _at_once(name: str) -> int:
    large = name in KINDS and any(one.form == "bytes" for one in columns_of(KINDS[name]))
    return _LARGE_ROWS_AT_ONCE if large else _ROWS_AT_ONCE


def _before(connection: Connection) -> Callable[[str, str, int], int | None]:
    def find(kind: str, entry_id: str, version: int) -> int | None:
        table = TABLES[kind]
        found: Any = connection.scalar(
            select(table.c.seq).where(table.c.id == entry_id, table.c.version == version)
        )
        return found if isinstance(found, int) else None

    return find


def _against_head(row: Mapping[str, Any], head: Head) -> Fault | None:
    if row["seq"] != head[0] or row["hash"] == head[1]:
        return None
    words = f"row {head[0]} has another hash than the one that was kept: the record was rewritten"
    return Fault(head[0], "", words)


def _cut_off(last: Head, head: Head | None) -> Fault | None:
    if head is None or last[0] >= head[0]:
        return None
    words = f"row {last[0] + 1} is missing: the record ends before row {head[0]}, which was kept"
    return Fault(last[0] + 1, "", words)
