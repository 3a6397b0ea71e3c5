"""One act against its rows: faults that a database with its keys would not let stand."""

from typing import Any

import pytest

from ebbline.adapters.sql.owned import Erasures
from ebbline.adapters.sql.verify_act import Stored, check_act
from ebbline.core.clinic.record.chain import ActDone, Change, Fault, body_of
from ebbline.core.clinic.record.people import Patient
from ebbline.core.clinic.record.written import digest_row, write_entry

PATIENT = Patient("p1", "female", "en", True)
DIGEST = digest_row(Patient, write_entry(PATIENT), None)
NAME = "patient p1 version 2"


def act_of(*changes: Change) -> dict[str, Any]:
    """Return act 5 with what it lists."""
    done = ActDone(
        seq=5,
        at="2026-11-27T08:00:00.000000Z",
        zone="Europe/London",
        by="",
        act="register patient",
        why_digest=None,
        token=None,
        warned=(),
        changes=changes,
    )
    return {
        "seq": 5, "at": done.at, "by": "", "act": done.act, "token": None, "body": body_of(done)
    }  # fmt: skip


def row(version: int) -> Stored:
    """Return a stored version of the patient."""
    return Stored("patient", {**write_entry(PATIENT), "version": version, "seq": 5})


def checked(act: dict[str, Any], stored: list[Stored], *, before: int | None) -> int | Fault:
    """Compare an act with its rows; ``before`` is the act of the version before."""
    return check_act(
        act, stored, erasures=Erasures({}, {}), before=lambda kind, entry_id, version: before
    )


def test_a_second_version_after_a_first_is_good() -> None:
    """Nothing was erased."""
    assert checked(act_of(Change("patient", "p1", 2, DIGEST)), [row(2)], before=4) == 0


@pytest.mark.parametrize("before", [None, 5, 6])
def test_a_version_needs_the_one_before_it_from_an_earlier_act(before: int | None) -> None:
    """Otherwise the versions have a gap, or stand in another order than the acts."""
    found = checked(act_of(Change("patient", "p1", 2, DIGEST)), [row(2)], before=before)
    assert found == Fault(5, NAME, f"{NAME}: the version before it is missing")


def test_a_row_that_stands_twice_is_found() -> None:
    """A database without its keys would keep both."""
    found = checked(act_of(Change("patient", "p1", 2, DIGEST)), [row(2), row(2)], before=4)
    assert found == Fault(5, "", "row 5: something stands twice that it recorded once")


def test_a_change_that_is_listed_twice_is_found() -> None:
    """One row cannot have been recorded two times."""
    change = Change("patient", "p1", 2, DIGEST)
    found = checked(act_of(change, change), [row(2)], before=4)
    assert found == Fault(5, "", "row 5: something stands twice that it recorded once")


def test_a_kind_that_there_is_not_is_missing() -> None:
    """A record that was written anew may list anything."""
    found = checked(act_of(Change("boat", "b1", 1, DIGEST)), [], before=None)
    assert found == Fault(
        5, "boat b1 version 1", "boat b1 version 1, which row 5 recorded, is missing"
    )
