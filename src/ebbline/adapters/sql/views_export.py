"""Read what an export holds: rows of each kind, and the history with readable reasons."""

import json
from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import Connection, select, true

from ebbline.adapters.sql.owned import acts_about, belongs
from ebbline.adapters.sql.tables import HISTORY, HISTORY_WHY, TABLES
from ebbline.core.clinic.record.kinds import KINDS

HISTORY_COLUMNS = {
    "seq": "number of the act",
    "at": "when, in UTC",
    "zone": "time zone of the clinic",
    "by": "id of the user; empty for the system",
    "by_name": "name of the user as it stands now",
    "act": "what was done",
    "why": "why, in the person's words; empty for none, or where it was erased",
    "warned": "what the person was warned of, as a JSON list",
    "wrote": "what was written, as a JSON list of kind, id and version",
    "hash": "SHA-256 of the hash before and the act",
}
"""Columns of history.csv, and what they hold."""

_ROWS_AT_ONCE = 20


def exported_kinds(patient_id: str | None) -> list[str]:
    """Return the kinds that an export holds: all, or those that are about a patient.

    Parameters
    ----------
    patient_id : str or None
        The patient; None for the whole record.

    Returns
    -------
    list of str
    """
    return [name for name in KINDS if patient_id is None or belongs(name, patient_id) is not None]


def exported_rows(
    connection: Connection, name: str, patient_id: str | None
) -> Iterator[tuple[Mapping[str, Any], bool]]:
    """Yield every version of every entry of a kind, and whether it is the one that stands.

    Parameters
    ----------
    connection : Connection
        In a transaction that sees one state.
    name : str
        The kind.
    patient_id : str or None
        The patient; None for all.

    Yields
    ------
    tuple of (mapping, bool)
    """
    table = TABLES[name]
    condition = true() if patient_id is None else belongs(name, patient_id)
    assert condition is not None
    query = select(table).where(condition).order_by(table.c.id, table.c.version)
    options = {"yield_per": _ROWS_AT_ONCE}
    held: dict[str, Any] | None = None
    for row in map(dict, connection.execute(query, execution_options=options).mappings()):
        if held is not None:
            yield held, held["id"] != row["id"]
        held = row
    if held is not None:
        yield held, True


def exported_history(connection: Connection, patient_id: str | None) -> Iterator[dict[str, Any]]:
    """Yield the acts that are about a patient, or all, in order.

    Parameters
    ----------
    connection : Connection
        In a transaction that sees one state.
    patient_id : str or None
        The patient; None for all.

    Yields
    ------
    dict
        By `HISTORY_COLUMNS`.
    """
    users = TABLES["user"]
    query_names = select(users.c.id, users.c.name).order_by(users.c.version)
    names = {row.id: row.name for row in connection.execute(query_names)}
    query = select(HISTORY, HISTORY_WHY.c.words).join_from(HISTORY, HISTORY_WHY, isouter=True)
    if patient_id is not None:
        query = query.where(HISTORY.c.seq.in_(acts_about(patient_id)))
    query = query.order_by(HISTORY.c.seq)
    options = {"yield_per": _ROWS_AT_ONCE}
    for row in connection.execute(query, execution_options=options).mappings():
        body = json.loads(row["body"])
        yield {
            "seq": row["seq"],
            "at": row["at"],
            "zone": body["zone"],
            "by": row["by"],
            "by_name": names.get(row["by"], ""),
            "act": row["act"],
            "why": row["words"] or "",
            "warned": json.dumps(body["warned"], ensure_ascii=False),
            "wrote": json.dumps([change[:3] for change in body["changes"]]),
            "hash": row["hash"],
        }
