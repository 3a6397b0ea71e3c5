"""Restore a backup into a new file or an empty database, of either kind, and verify it there."""

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, MetaData, insert, inspect

from ebbline.adapters.sql.backup_file import BackupFile, Manifest, open_backup
from ebbline.adapters.sql.engine import spoken
from ebbline.adapters.sql.migrate import bring_up, revisions
from ebbline.adapters.sql.new_file import new_file, not_empty, take_away
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.verify import Verdict, verify
from ebbline.core.errors import BrokenRecordError, RecordError

Say = Callable[[str], None]
"""Is told, in words, what has been done."""

_ROWS_AT_ONCE = 500
_BYTES_AT_ONCE = 4_000_000


def restore(path: Path, target: SqlRecord, *, say: Say) -> Verdict:
    """Put a backup into a new record, all of it or nothing, and verify it there.

    A backup of an earlier schema is restored as it was and then brought up to this release, in the
    same transaction.

    Parameters
    ----------
    path : Path
        The backup.
    target : SqlRecord
        Over a file that is not there yet, or a database without tables.
    say : callable
        Is told what has been done.

    Returns
    -------
    Verdict
        A record that did not verify when it was backed up is restored as it was, and does not
        verify here either; the verdict says where.

    Raises
    ------
    RecordError
        If the target holds something, or a later release made the backup.
    BrokenRecordError
        If the backup is damaged.
    UnavailableError
        If the backup cannot be read or the target cannot be written.
    """
    with open_backup(path) as opened:
        manifest = opened.manifest
        say(f"{path}: whole; row {manifest.head[0]} is its last, schema {manifest.schema}.")
        if manifest.schema not in revisions():
            raise RecordError(
                f"{path}: a later release of ebbline made it; allowed: schema "
                f"{', '.join(revisions())}; came: {manifest.schema}"
            )
        file = new_file(target)
        try:
            with spoken(target.where), target.writing() as connection:
                _must_be_empty(connection, target.where)
                bring_up(connection, to=manifest.schema)
                _fill(connection, opened, path=path, say=say)
                for revision in bring_up(connection, to=revisions()[-1]):
                    say(f"brought up to schema {revision}")
        except BaseException:
            take_away(target, file)
            raise
    verdict = verify(target, head=manifest.head, progress=_told_by(say))
    say(_verified(verdict, manifest))
    return verdict


def _must_be_empty(connection: Connection, where: str) -> None:
    tables = inspect(connection).get_table_names()
    if tables:
        raise not_empty(where, f"a database with {len(tables)} tables")


def _fill(connection: Connection, opened: BackupFile, *, path: Path, say: Say) -> None:
    """Write every table of a backup into the tables of its schema."""
    found = MetaData()
    found.reflect(connection)
    for member in opened.manifest.members:
        table = found.tables.get(member.table)
        if table is None:
            raise _strange(path, opened.manifest, f"table {member.table}")
        rows = 0
        for batch in _batches(opened.rows(member)):
            strange = set().union(*batch) - set(table.columns.keys())
            if strange:
                raise _strange(path, opened.manifest, f"{member.table}.{min(strange)}")
            connection.execute(insert(table), batch)
            rows += len(batch)
        if rows != member.rows:
            raise BrokenRecordError(
                f"{path}: {member.name} does not hold the rows that are listed; allowed: "
                f"{member.rows} rows; came: {rows}"
            )
        if rows > 0:
            say(f"{member.table}: {rows} rows")


def _batches(rows: Iterable[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    batch: list[dict[str, Any]] = []
    length = 0
    for row in rows:
        batch.append(row)
        length += sum(len(one) for one in row.values() if isinstance(one, bytes))
        if len(batch) >= _ROWS_AT_ONCE or length >= _BYTES_AT_ONCE:
            yield batch
            batch, length = [], 0
    if batch:
        yield batch


def _strange(path: Path, manifest: Manifest, what: str) -> BrokenRecordError:
    return BrokenRecordError(
        f"{path}: it holds something that its schema does not have; allowed: what schema "
        f"{manifest.schema} has; came: {what}"
    )


def _told_by(say: Say) -> Callable[[int, int], None]:
    return lambda done, total: say(f"verified {done} of {total} acts")


def _verified(verdict: Verdict, manifest: Manifest) -> str:
    if verdict.fault is not None:
        return f"It is restored as it was, and does not verify: {verdict.fault.words}."
    return f"Verified: {verdict.acts} acts, {verdict.rows} rows, up to row {manifest.head[0]}."
