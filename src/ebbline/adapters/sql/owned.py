"""Which rows are about a patient: their own, those of their tests, and the acts that wrote them."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, func, or_, select, union

from ebbline.adapters.sql.tables import HISTORY, TABLES
from ebbline.core.clinic.record.entry import columns_of
from ebbline.core.clinic.record.kinds import KINDS


def patient_columns(name: str) -> tuple[str, ...]:
    """Return the columns of a kind that hold a patient's id.

    Parameters
    ----------
    name : str
        The kind.

    Returns
    -------
    tuple of str
    """
    if name == "patient":
        return ("id",)
    return tuple(one.name for one in columns_of(KINDS[name]) if one.refers == "patient")


def test_columns(name: str) -> tuple[str, ...]:
    """Return the columns of a kind that hold a test's id.

    Parameters
    ----------
    name : str
        The kind.

    Returns
    -------
    tuple of str
    """
    return tuple(one.name for one in columns_of(KINDS[name]) if one.refers == "test")


def belongs(name: str, patient_id: str) -> ColumnElement[bool] | None:
    """Return the condition for the rows of a kind that are about a patient.

    A test counts as the patient's if it was so in any of its versions.

    Parameters
    ----------
    name : str
        The kind.
    patient_id : str
        The patient.

    Returns
    -------
    ColumnElement or None
        None for a kind that is about no patient.
    """
    table, tests = TABLES[name], TABLES["test"]
    theirs = select(tests.c.id).where(tests.c.patient_id == patient_id)
    conditions = [
        *(table.c[column] == patient_id for column in patient_columns(name)),
        *(table.c[column].in_(theirs) for column in test_columns(name)),
    ]
    return or_(*conditions) if conditions else None


def acts_about(patient_id: str) -> Select[Any]:
    """Return the query for the numbers of the acts that are about a patient.

    Those are the acts that wrote one of the patient's rows, and those whose body names the
    patient's id, as the act of an export does.

    Parameters
    ----------
    patient_id : str
        The patient.

    Returns
    -------
    Select
    """
    wrote = [
        select(TABLES[name].c.seq).where(condition)
        for name in KINDS
        if (condition := belongs(name, patient_id)) is not None
    ]
    named = select(HISTORY.c.seq).where(HISTORY.c.body.contains(patient_id, autoescape=True))
    return select(union(*wrote, named).subquery().c.seq)


@dataclass(frozen=True, slots=True)
class Erasures:
    """For each patient whose identity was erased, and each of their tests, the act that did it."""

    patients: Mapping[str, int]
    tests: Mapping[str, int]

    def after(self, name: str, row: Mapping[str, Any]) -> int:
        """Return the last act that erased what a row held apart; 0 where none did."""
        found = [self.patients.get(row[column], 0) for column in patient_columns(name)]
        found += [self.tests.get(row[column], 0) for column in test_columns(name)]
        return max(found, default=0)

    def after_named(self, body: str) -> int:
        """Return the last act that erased a patient whom an act names; 0 where none did."""
        return max((seq for one, seq in self.patients.items() if one in body), default=0)


def read_erasures(connection: Connection) -> Erasures:
    """Return what was erased so far.

    Parameters
    ----------
    connection : Connection
        In a transaction.

    Returns
    -------
    Erasures
    """
    erasure, tests = TABLES["erasure"], TABLES["test"]
    last = func.max(erasure.c.seq)
    patients = connection.execute(select(erasure.c.patient_id, last).group_by(erasure.c.patient_id))
    theirs = connection.execute(
        select(tests.c.id, last)
        .join_from(tests, erasure, tests.c.patient_id == erasure.c.patient_id)
        .group_by(tests.c.id)
    )
    return Erasures(
        patients={row[0]: row[1] for row in patients},
        tests={row[0]: row[1] for row in theirs},
    )
