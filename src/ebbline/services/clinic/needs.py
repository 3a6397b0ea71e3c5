"""Which needs of data/test_life.toml a test meets, read from the record alone."""

from collections.abc import Callable, Collection, Mapping
from datetime import datetime

from ebbline.core.clinic.record.bench import BaselineDecision, SampleTry, Symptoms, TestEvent
from ebbline.core.clinic.record.entry import Entry
from ebbline.core.clinic.record.result import Snapshot
from ebbline.core.clinic.record.staff import Adoption
from ebbline.core.clinic.record.visit import (
    Arrival,
    Booking,
    Clearance,
    Dose,
    Preparation,
    Screening,
    Test,
)
from ebbline.core.clinic.safety import Clearance as Decision
from ebbline.core.clinic.safety import Drink, Gate, gate
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.visit.preparing import open_items

_AFTER_ARRIVAL: tuple[type[Entry], ...] = (
    Preparation, Screening, Clearance, Dose, SampleTry, Symptoms, TestEvent, BaselineDecision,
)  # fmt: skip


def needs_met(
    clinic: Clinic, look: Look, test: Test, *, asked: Collection[str], at: datetime
) -> frozenset[str]:
    """Return which of the needs asked about a test meets by what is recorded.

    Needs about the person who acts, such as ``reviewer`` or ``password``, are not among them: the
    use case that asks for them adds them.

    Parameters
    ----------
    clinic : Clinic
        Rules and library.
    look : Look
        The record.
    test : Test
        The test.
    asked : collection of str
        Ids of needs; only these are looked at.
    at : datetime
        Now.

    Returns
    -------
    frozenset of str
        Ids of needs.
    """
    return frozenset(
        name for name, check in _CHECKS.items() if name in asked and check(clinic, look, test, at)
    )


def gate_of(clinic: Clinic, look: Look, test: Test) -> Gate:
    """Return the safety gate before a test's drink, by the answers and decisions on record.

    Parameters
    ----------
    clinic : Clinic
        Rules.
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    Gate
    """
    screening = look.find(Screening, {"test_id": test.id})
    answers: Mapping[str, str] = screening[-1].entry.answers if screening else {}
    decisions = [
        Decision(
            bar=one.entry.bar,
            substrate=one.entry.substrate,
            answer=one.entry.answer,
            go_ahead=one.entry.go_ahead,
            by_name=one.entry.by_name,
            by_kind=one.entry.by_kind,
            reason=one.entry.reason,
        )
        for one in look.find(Clearance, {"test_id": test.id})
    ]
    drink = Drink(substrate=test.substrate, mix=test.mix)
    return gate(drink, answers, clearances=decisions, table=clinic.rules.safety)


def missing_minutes(clinic: Clinic, look: Look, test: Test) -> tuple[float, ...]:
    """Return the planned minutes after T0 that are neither taken nor missed with a reason.

    Parameters
    ----------
    clinic : Clinic
        Reads the adopted protocol.
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    tuple of float
        Minutes from T0.
    """
    protocol = clinic.documents.protocol(look.get(Adoption, test.protocol_id).entry.text)
    done = {
        one.entry.planned_minute
        for one in look.find(SampleTry, {"test_id": test.id})
        if one.entry.status in ("ok", "missed")
    }
    return tuple(minute for minute in protocol.minutes if minute not in done)


def _identity(_clinic: Clinic, look: Look, test: Test, _at: datetime) -> bool:
    return any(len(one.entry.checked) >= 2 for one in look.find(Arrival, {"test_id": test.id}))


def _consent(_clinic: Clinic, look: Look, test: Test, _at: datetime) -> bool:
    return any(one.entry.consent.strip() for one in look.find(Arrival, {"test_id": test.id}))


def _slot_passed(_clinic: Clinic, look: Look, test: Test, at: datetime) -> bool:
    return all(one.entry.slot < at for one in look.find(Booking, {"test_id": test.id}))


def _nothing_recorded(_clinic: Clinic, look: Look, test: Test, _at: datetime) -> bool:
    return not any(look.find(kind, {"test_id": test.id}) for kind in _AFTER_ARRIVAL)


def _preparation(clinic: Clinic, look: Look, test: Test, _at: datetime) -> bool:
    found = look.find(Preparation, {"test_id": test.id})
    if not found:
        return False
    return not open_items(clinic, look, test, found[-1].entry)


def _safety_open(clinic: Clinic, look: Look, test: Test, _at: datetime) -> bool:
    return gate_of(clinic, look, test).open


def _child_weight(clinic: Clinic, _look: Look, test: Test, _at: datetime) -> bool:
    if test.weight_kg is not None:
        return True
    adult = clinic.library.wording.limits["adult_years"]
    return test.age_years is not None and test.age_years >= adult


def _baseline_go(_clinic: Clinic, look: Look, test: Test, _at: datetime) -> bool:
    found = look.find(BaselineDecision, {"test_id": test.id})
    return bool(found) and found[-1].entry.choice == "go"


def _dose_prepared(_clinic: Clinic, look: Look, test: Test, _at: datetime) -> bool:
    found = look.find(Dose, {"test_id": test.id})
    return bool(found) and found[-1].entry.substrate == test.substrate


def _second_check(_clinic: Clinic, look: Look, test: Test, _at: datetime) -> bool:
    found = look.find(Dose, {"test_id": test.id})
    if not found:
        return False
    dose = found[-1].entry
    return dose.checked_by is not None or not dose.needs_second_check


def _t0(_clinic: Clinic, _look: Look, test: Test, _at: datetime) -> bool:
    return test.t0 is not None


def _every_sample(clinic: Clinic, look: Look, test: Test, _at: datetime) -> bool:
    return not missing_minutes(clinic, look, test)


def _interpretation(_clinic: Clinic, look: Look, test: Test, _at: datetime) -> bool:
    if look.find(Snapshot, {"test_id": test.id}):
        return True
    tries = look.find(SampleTry, {"test_id": test.id})
    return not any(one.entry.status == "ok" for one in tries)


def _adopted_rules(_clinic: Clinic, look: Look, test: Test, _at: datetime) -> bool:
    # A criterion withdrawn since then still counts for a test that was begun under it, and its
    # report says so; what was never adopted cannot be named by a test at all.
    return bool(look.find(Adoption, {"id": test.criterion_id}))


_CHECKS: dict[str, Callable[[Clinic, Look, Test, datetime], bool]] = {
    "identity": _identity,
    "consent": _consent,
    "slot-passed": _slot_passed,
    "nothing-recorded": _nothing_recorded,
    "preparation": _preparation,
    "safety-open": _safety_open,
    "child-weight": _child_weight,
    "baseline-go": _baseline_go,
    "dose-prepared": _dose_prepared,
    "second-check": _second_check,
    "t0": _t0,
    "every-sample": _every_sample,
    "interpretation": _interpretation,
    "adopted-rules": _adopted_rules,
}
"""What each need asks of the record; a test holds this against the rows."""
