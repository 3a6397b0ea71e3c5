"""The preparation of one test: what was asked of the patient, and what of it is still open."""

from datetime import date, datetime

from ebbline.core.clinic.preparation import (
    Answer,
    JudgedItem,
    PlannedItem,
    judge_preparation,
    plan_preparation,
)
from ebbline.core.clinic.record.visit import Booking, Preparation, Test
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.ports import Look


def planned_items(
    clinic: Clinic, look: Look, test: Test, *, guidance: str
) -> tuple[PlannedItem, ...]:
    """Return what the patient is asked to do before the appointment, with real dates.

    Parameters
    ----------
    clinic : Clinic
        Rules and time zone.
    look : Look
        The record.
    test : Test
        The test.
    guidance : str
        A rule set's id, or ``service``.

    Returns
    -------
    tuple of PlannedItem
    """
    booking = look.find(Booking, {"test_id": test.id})[-1].entry
    return plan_preparation(
        appointment=booking.slot.astimezone(clinic.zone),
        substrate=test.substrate,
        guidance=guidance,
        age_years=test.age_years,
        table=clinic.rules.preparation,
    )


def judged_items(
    clinic: Clinic, look: Look, test: Test, preparation: Preparation
) -> tuple[JudgedItem, ...]:
    """Return how each item was kept.

    Parameters
    ----------
    clinic : Clinic
        Rules and time zone.
    look : Look
        The record.
    test : Test
        The test.
    preparation : Preparation
        The answers.

    Returns
    -------
    tuple of JudgedItem
    """
    planned = planned_items(clinic, look, test, guidance=preparation.guidance)
    answers = {
        name: Answer(word=told["word"], on=_when(told.get("on"), clinic))
        for name, told in preparation.answers.items()
    }
    return judge_preparation(planned, answers)


def open_items(
    clinic: Clinic, look: Look, test: Test, preparation: Preparation
) -> tuple[JudgedItem, ...]:
    """Return the items that were not kept, or not answered, and have no decision to go ahead.

    Parameters
    ----------
    clinic : Clinic
        Rules and time zone.
    look : Look
        The record.
    test : Test
        The test.
    preparation : Preparation
        The answers and decisions.

    Returns
    -------
    tuple of JudgedItem
    """
    return tuple(
        one
        for one in judged_items(clinic, look, test, preparation)
        if one.needs_decision and not preparation.decisions.get(one.id, {}).get("go_ahead", False)
    )


def _when(text: str | None, clinic: Clinic) -> date | None:
    """Return the day, or the moment in the clinic's zone, that an answer carries."""
    if not text:
        return None
    if len(text) == len("2026-11-27"):
        return date.fromisoformat(text)
    moment = datetime.fromisoformat(text)
    return moment.astimezone(clinic.zone) if moment.tzinfo else moment.replace(tzinfo=clinic.zone)
