"""An invented clinic in a record: entries of every kind, and ways to tamper with them."""

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Connection, NullPool, create_engine, text

from ebbline.adapters.sql.owned import belongs
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.record.entry import Column, E, columns_of
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.clinic.record.people import Identity, Patient

AT = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)
PDF = b"%PDF-1.7 invented pages of "


def invented(kind: type[E], entry_id: str, refers: Mapping[str, str], name: str) -> E:
    """Return an entry whose every field that may tell who somebody is holds a name."""
    values = {column.name: _value(column, refers, name) for column in columns_of(kind)}
    return kind(**{**values, "id": entry_id})


def fill(record: SqlRecord, name: str) -> dict[str, str]:
    """Record one entry of each kind for a new patient, one act each, and return the ids by kind."""
    ids: dict[str, str] = {}
    for kind_name, kind in KINDS.items():
        if kind_name == "erasure":
            continue
        about_patient = belongs(kind_name, "") is not None
        why = f"asked by {name}" if about_patient else "asked"
        with record.act(f"make {kind_name}", by="", why=why, token=None) as act:
            ids[kind_name] = act.new_id()
            act.add(invented(kind, ids[kind_name], ids, name))
    return ids


def rename(record: SqlRecord, ids: Mapping[str, str], *, name: str) -> None:
    """Record a second version of a patient and of their identity, in one act."""
    with record.look() as look:
        patient = look.get(Patient, ids["patient"])
        identity = look.get(Identity, ids["identity"])
    with record.act("register patient", by="", why="", token=f"rename {ids['patient']}") as act:
        act.revise(replace(patient.entry, language="cy"), version=patient.version)
        act.revise(replace(identity.entry, family_name=name), version=identity.version)


@contextmanager
def unguarded(record: SqlRecord) -> Iterator[Connection]:
    """Open the database behind the record's back, as somebody can who owns it."""
    engine = create_engine(record.url, poolclass=NullPool)
    with engine.begin() as connection:
        if engine.dialect.name == "sqlite":
            found = connection.execute(
                text("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            ).scalars()
            for trigger in found.all():
                connection.exec_driver_sql(f'DROP TRIGGER "{trigger}"')
        else:
            connection.execute(text("SET LOCAL session_replication_role = replica"))
        yield connection


def tamper(record: SqlRecord, *statements: str, **values: Any) -> None:
    """Change the database behind the record's back."""
    with unguarded(record) as connection:
        for statement in statements:
            connection.execute(text(statement), values)


def _value(column: Column, refers: Mapping[str, str], name: str) -> Any:
    if column.refers is not None:
        return None if column.optional and column.refers not in refers else _id(column, refers)
    words = name if column.apart else column.name
    if column.form == "bytes":
        if column.name == "pages":
            return PDF + words.encode()
        return json.dumps({"of": words}).encode()
    values: dict[str, Any] = {
        "text": words,
        "whole": 1,
        "number": 1.5,
        "yes-no": True,
        "day": date(1985, 3, 2),
        "moment": AT,
        "list": (words,),
        "map": {"said": words},
    }
    return values[column.form]


def _id(column: Column, refers: Mapping[str, str]) -> str | None:
    # A try that was moved would refer to itself.
    return None if column.name.startswith("moved_") else refers[column.refers or ""]
