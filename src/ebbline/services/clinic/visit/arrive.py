"""The patient is here: identity by two identifiers, consent, and an arrival taken back."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime

from ebbline.core.clinic.identify import check_identifiers, fits
from ebbline.core.clinic.record.visit import Arrival, Booking, Test
from ebbline.core.errors import ClinicError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import reason, words
from ebbline.services.clinic.people.on_record import on_record
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.sole import needed
from ebbline.services.clinic.steps import step

_HERE = ("arrived", "cleared", "dosed", "sampling")


def arrive(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    version: int,
    said: Mapping[str, str | date],
    consent: str,
    carer: str,
    token: str | None,
) -> Arrival:
    """Record that the patient of a test has arrived.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who receives the patient.
    test_id : str
        The test.
    version : int
        The version of the test that the person saw.
    said : mapping
        What the patient said when asked, by ``family_name``, ``given_name``, ``born``,
        ``record_no`` and ``national_no``: two kinds of identifier at least.
    consent : str
        How consent was given, as local rules ask.
    carer : str
        Who came along; may be empty.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Arrival

    Raises
    ------
    FieldError
        If consent is not recorded, or an identifier is of the wrong form.
    ClinicError
        If what was said does not fit the patient, or another one of that day too, the appointment
        is on another day, or the test does not wait for its patient.
    ConflictError
        If the test has changed since it was seen.
    """
    consent = words("consent", consent, allowed="how consent was given")
    with clinic.act("arrive", who, why="", token=token) as act:
        if before := repeated(act, Arrival, token, same=lambda one: one.test_id == test_id):
            return before
        test = act.get(Test, test_id).entry
        checked = _agreed(clinic, act, test, said, act.at)
        _check_day(clinic, act, test, act.at)
        step(clinic, act, test, version=version, to="arrived", also=("identity", "consent"))
        return act.add(Arrival(act.new_id(), test_id, checked, consent, carer.strip()))


def undo_arrival(
    clinic: Clinic, who: Actor, *, test_id: str, version: int, why: str, token: str | None
) -> Test:
    """Take back an arrival that was a mistake, while nothing was recorded since.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who takes it back.
    test_id : str
        The test.
    version : int
        The version of the test that the person saw.
    why : str
        The reason.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Test

    Raises
    ------
    FieldError
        If no reason is given.
    ClinicError
        If something was recorded since the arrival.
    ConflictError
        If the test has changed since it was seen.
    """
    with clinic.act("undo arrival", who, why=reason(why), token=token) as act:
        if before := repeated(act, Test, token, same=lambda one: one.id == test_id):
            return before
        changed = replace(act.get(Test, test_id).entry, weight_kg=None)
        start = clinic.rules.life.start
        return step(clinic, act, changed, version=version, to=start, also=())


def _agreed(
    clinic: Clinic, look: Look, test: Test, said: Mapping[str, str | date], at: datetime
) -> tuple[str, ...]:
    """Return the identifiers where each fits the patient, and not another one of that day too."""
    checked = check_identifiers(on_record(look, test.patient_id), said)
    today = at.astimezone(clinic.zone).date()
    waiting = look.find(Test, {"state": (clinic.rules.life.start, *_HERE)})
    bookings = look.find(Booking, {"test_id": [one.entry.id for one in waiting]})
    others = {
        one.entry.patient_id
        for one in bookings
        if one.entry.slot.astimezone(clinic.zone).date() == today
    }
    for patient in others - {test.patient_id}:
        if fits(on_record(look, patient), said):
            raise ClinicError(
                field="identity",
                wrong="what was said fits another patient of this day as well",
                allowed="one more identifier, such as the record number",
                came=" and ".join(checked),
            )
    return checked


def _check_day(clinic: Clinic, look: Look, test: Test, at: datetime) -> None:
    """Refuse an arrival on another day: the preparation was counted back from the appointment."""
    booked = needed(look, Booking, test.id).entry.slot.astimezone(clinic.zone).date()
    today = at.astimezone(clinic.zone).date()
    if booked != today:
        raise ClinicError(
            field="slot",
            wrong="the appointment is on another day",
            allowed=f"an arrival on {booked.isoformat()}, or another appointment first",
            came=today.isoformat(),
        )
