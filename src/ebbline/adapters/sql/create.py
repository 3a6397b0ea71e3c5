"""Make a new record, or bring an older one up to this release."""

import secrets

from sqlalchemy import insert, inspect, select

from ebbline.adapters.sql.engine import spoken
from ebbline.adapters.sql.migrate import bring_up, revision_of, revisions
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import META
from ebbline.core.errors import BrokenRecordError, RecordError, list_allowed


def create_tables(record: SqlRecord, *, service: str, invented: bool) -> None:
    """Make the tables of a new record, all or none.

    Parameters
    ----------
    record : SqlRecord
        Over an empty database.
    service : str
        Name of the service, as reports print it.
    invented : bool
        Whether everything in it is invented, for training or demonstration.

    Raises
    ------
    RecordError
        If there is a record already, or anything else.
    """
    with spoken(record.where), record.writing() as connection:
        if revision_of(connection) is not None:
            raise RecordError(
                f"record {record.where}: there is one already; allowed: a new file or an empty "
                "database; came: a record"
            )
        others = inspect(connection).get_table_names()
        if others:
            raise RecordError(
                f"record {record.where}: it holds something else; allowed: a new file or an empty "
                f"database; came: tables {list_allowed(others[:3])}"
            )
        bring_up(connection, to=revisions()[-1])
        told = {"id": secrets.token_hex(10), "service": service, "invented": str(invented).lower()}
        connection.execute(
            insert(META), [{"name": name, "value": value} for name, value in told.items()]
        )


def upgrade_tables(record: SqlRecord) -> list[str]:
    """Bring a record up to this release and return the revisions that were applied.

    Parameters
    ----------
    record : SqlRecord
        An older record.

    Returns
    -------
    list of str
    """
    with spoken(record.where), record.writing() as connection:
        if revision_of(connection) is None:
            raise BrokenRecordError(_no_record(record.where))
        return bring_up(connection, to=revisions()[-1])


def check_revision(record: SqlRecord) -> None:
    """Refuse a database whose schema is not that of this release.

    Parameters
    ----------
    record : SqlRecord
        The record.

    Raises
    ------
    BrokenRecordError
        If it is no record, or an older or a newer one.
    """
    with spoken(record.where), record.reading() as connection:
        found = revision_of(connection)
    if found is None:
        raise BrokenRecordError(_no_record(record.where))
    if found != revisions()[-1]:
        raise BrokenRecordError(
            f"record {record.where}: its schema is not that of this release; allowed: schema "
            f"{revisions()[-1]}, to which 'ebbline record upgrade' brings it; came: {found}"
        )


def told_of(record: SqlRecord) -> dict[str, str]:
    """Return what a record says of itself: ``id``, ``service`` and ``invented``.

    Parameters
    ----------
    record : SqlRecord
        The record.

    Returns
    -------
    dict
    """
    with spoken(record.where), record.reading() as connection:
        return {row.name: row.value for row in connection.execute(select(META))}


def _no_record(where: str) -> str:
    return (
        f"record {where}: there is no record in it; allowed: one made by 'ebbline record create'; "
        "came: a database without its tables"
    )
