"""Look at the health of a record: schema, integrity, chain, guards, room, and the last backup."""

import json
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, func, select, text

from ebbline.adapters.sql.create import told_of
from ebbline.adapters.sql.engine import spoken
from ebbline.adapters.sql.expected import expected_guards, guards_of
from ebbline.adapters.sql.look import SqlLook
from ebbline.adapters.sql.migrate import revision_of, revisions
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import ENTRY, HISTORY
from ebbline.adapters.sql.verify import Progress, verify_view
from ebbline.core.clinic.record.written import read_moment

_MB = 1_000_000


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that was looked at: what was found, and whether that is as it should be."""

    name: str
    found: str
    good: bool


def check(
    record: SqlRecord, *, now: datetime, backup_days: float, chain: bool, progress: Progress
) -> tuple[Item, ...]:
    """Look at the health of a record.

    Parameters
    ----------
    record : SqlRecord
        The record; acts may go on meanwhile.
    now : datetime
        For the age of the last backup.
    backup_days : float
        How old that may be, days.
    chain : bool
        Whether to verify the whole record as well, which takes longer the larger it is.
    progress : callable
        Is told how far verifying is.

    Returns
    -------
    tuple of Item
    """
    told = told_of(record)
    items = [
        Item("record", f"{told['id']}, {told['service']}", True),
        Item("where", record.where, True),
    ]
    with spoken(record.where), record.reading() as connection:
        schema = _schema(connection)
        items += [schema, *_integrity(connection)]
        if not schema.good:
            # What an older or a newer schema holds cannot be told by this release.
            return tuple(items)
        items += [_chain(connection, chain=chain, progress=progress)]
        items += _size(connection, record)
        items += [_last_backup(connection, now, backup_days)]
        items += [_counts(connection)]
        items += _settings(connection)
    items.append(_guards(record))
    return tuple(items)


def _schema(connection: Connection) -> Item:
    found, newest = str(revision_of(connection)), revisions()[-1]
    if found == newest:
        return Item("schema", f"{found}, that of this release", True)
    return Item("schema", f"{found}; this release has {newest}", False)


def _integrity(connection: Connection) -> Iterator[Item]:
    if connection.dialect.name == "sqlite":
        said = list(connection.scalars(text("PRAGMA integrity_check(10)")))
        yield Item("integrity of the file", "; ".join(said), said == ["ok"])
        broken = len(list(connection.execute(text("PRAGMA foreign_key_check"))))
        yield Item("references", f"{broken} lead nowhere", broken == 0)
        return
    open_ones = list(
        connection.scalars(
            text(
                "SELECT conname::text FROM pg_constraint WHERE NOT convalidated "
                "AND connamespace = current_schema()::regnamespace UNION ALL "
                "SELECT indexrelid::regclass::text FROM pg_index WHERE NOT indisvalid"
            )
        )
    )
    words = f"not valid: {', '.join(open_ones)}" if open_ones else "all valid"
    yield Item("constraints and indexes", words, not open_ones)


def _chain(connection: Connection, *, chain: bool, progress: Progress) -> Item:
    seq, hashed = SqlLook(connection).head()
    if not chain:
        return Item("chain", f"not verified now; head {seq}:{hashed}", True)
    verdict = verify_view(connection, head=None, progress=progress)
    if verdict.fault is not None:
        return Item("chain", f"does not verify: {verdict.fault.words}", False)
    return Item("chain", f"verified, {verdict.acts} acts; head {seq}:{hashed}", True)


def _size(connection: Connection, record: SqlRecord) -> Iterator[Item]:
    if connection.dialect.name != "sqlite":
        size = connection.scalar(text("SELECT pg_database_size(current_database())")) or 0
        yield Item("size", f"{size / _MB:.1f} MB", True)
        yield Item("room on the disk", "has to be looked at on the server", True)
        return
    path = Path(str(record.url.database))
    size = sum(
        part.stat().st_size for part in (path, path.with_name(f"{path.name}-wal")) if part.exists()
    )
    free = shutil.disk_usage(path.absolute().parent).free
    yield Item("size", f"{size / _MB:.1f} MB", True)
    # Writing the file anew, as an erasure does, takes as much again, and its log as much once more.
    words = f"{free / _MB:.0f} MB free; at least {2 * size / _MB:.0f} MB are needed"
    yield Item("room on the disk", words, free >= 2 * size)


def _last_backup(connection: Connection, now: datetime, most_days: float) -> Item:
    row = connection.execute(
        select(HISTORY.c.at, HISTORY.c.body)
        .where(HISTORY.c.act == "backup")
        .order_by(HISTORY.c.seq.desc())
        .limit(1)
    ).one_or_none()
    if row is None:
        return Item("last backup", "none yet; make one with 'ebbline record backup'", False)
    days = (now - read_moment(row.at)).total_seconds() / 86400
    digest = json.loads(row.body)["warned"][0].rsplit(" ", 1)[-1].rstrip(".")
    # Another computer's clock may be a little ahead; one that is days ahead hides an old backup.
    age = f"{days:.1f} days ago" if days >= 0 else f"{-days:.1f} days ahead of the clock"
    good = abs(days) <= most_days
    limit = "" if good else f"; at most {most_days:g} days are allowed"
    return Item("last backup", f"{age}{limit}; {row.at}, SHA-256 {digest}", good)


def _counts(connection: Connection) -> Item:
    query = select(ENTRY.c.kind, func.count()).group_by(ENTRY.c.kind).order_by(ENTRY.c.kind)
    counted = [f"{kind} {count}" for kind, count in connection.execute(query)]
    return Item("entries", ", ".join(counted) or "none", True)


def _settings(connection: Connection) -> Iterator[Item]:
    """Look at what decides whether an act that was confirmed survives a power cut."""
    if connection.dialect.name == "sqlite":
        journal = str(connection.scalar(text("PRAGMA journal_mode")))
        yield Item("journal mode", journal, journal == "wal")
        sync = int(connection.scalar(text("PRAGMA synchronous")) or 0)
        yield Item("waits for the disk", {2: "full", 3: "extra"}.get(sync, f"{sync}"), sync >= 2)
        return
    for name, allowed in (
        ("fsync", ("on",)),
        ("full_page_writes", ("on",)),
        ("synchronous_commit", ("on", "remote_apply")),
    ):
        found = str(connection.scalar(select(func.current_setting(name))))
        yield Item(name, found, found in allowed)


def _guards(record: SqlRecord) -> Item:
    # Closing a connection rolls back what was begun on it.
    with spoken(record.where), record.engine.connect() as connection:
        there = guards_of(connection)
        due = expected_guards(connection)
    wrong = sorted(
        f"{table}.{name}" for (table, name) in due if there.get((table, name)) != due[table, name]
    )
    strange = sorted(f"{table}.{name}" for (table, name) in there if (table, name) not in due)
    if not wrong and not strange:
        return Item("guards against change", f"all {len(due)} are there", True)
    words = [f"missing or changed: {', '.join(wrong)}"] if wrong else []
    words += [f"not known: {', '.join(strange)}"] if strange else []
    return Item("guards against change", "; ".join(words), False)
