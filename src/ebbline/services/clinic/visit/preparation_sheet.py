"""The preparation sheet of one appointment, and that it was sent."""

from dataclasses import replace

from ebbline.core.clinic.record.people import Patient
from ebbline.core.clinic.record.visit import Booking, Test
from ebbline.core.clinic.record.written import sha256
from ebbline.core.clinic.sheet import Sheet, preparation_sheet, sheet_text
from ebbline.core.errors import FieldError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.service.change_setting import setting_of
from ebbline.services.clinic.sole import needed
from ebbline.services.clinic.steps import standing_in
from ebbline.services.clinic.visit.preparing import planned_items


def read_sheet(clinic: Clinic, who: Actor, *, test_id: str, guidance: str) -> Sheet:
    """Return the preparation sheet of a test.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who reads it.
    test_id : str
        The test.
    guidance : str
        Whose guidance it follows: a rule set's id, or ``service``.

    Returns
    -------
    Sheet
        To be drawn for the patient, or written as text by `ebbline.core.clinic.sheet.sheet_text`.

    Raises
    ------
    FieldError
        If the guidance is not known, or the service's name or contact is not set.
    """
    with clinic.look(who) as look:
        return _sheet(clinic, look, look.get(Test, test_id).entry, guidance)


def sheet_sent(
    clinic: Clinic, who: Actor, *, test_id: str, version: int, guidance: str, token: str | None
) -> Booking:
    """Record that the preparation sheet was given or sent to the patient, as it reads now.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who sent it.
    test_id : str
        The test.
    version : int
        The version of the booking that the person saw.
    guidance : str
        Whose guidance it follows.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Booking
        Its ``sheet_release`` names the guidance and begins the SHA-256 of the text.

    Raises
    ------
    FieldError
        As for `read_sheet`.
    ClinicError
        If the patient has arrived.
    ConflictError
        If the booking has changed since it was seen.
    """
    with clinic.act("change booking", who, why="", token=token) as act:
        if before := repeated(act, Booking, token, same=lambda one: one.test_id == test_id):
            return before
        test = standing_in(act, test_id, states=(clinic.rules.life.start,)).entry
        text = sheet_text(_sheet(clinic, act, test, guidance))
        release = f"{guidance} {sha256(text)[:12]}"
        booking = needed(act, Booking, test_id).entry
        return act.revise(replace(booking, sheet_release=release), version=version)


def _sheet(clinic: Clinic, look: Look, test: Test, guidance: str) -> Sheet:
    texts = {name: setting_of(look, name) for name in ("service", "contact")}
    for name, text in texts.items():
        if text is None:
            raise FieldError(
                field=name,
                wrong="not set yet",
                allowed=f"the setting {name}, which the sheet prints",
                came="nothing",
            )
    adult = clinic.library.wording.limits["adult_years"]
    return preparation_sheet(
        planned_items(clinic, look, test, guidance=guidance),
        substrate=test.substrate,
        plain=clinic.rules.plain[test.substrate],
        service=texts["service"],
        contact=texts["contact"],
        for_child=test.age_years is not None and test.age_years < adult,
        invented=look.get(Patient, test.patient_id).entry.invented,
        table=clinic.rules.preparation,
    )
