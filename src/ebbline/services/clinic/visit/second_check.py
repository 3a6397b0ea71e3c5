"""A second person checks a dose that another one prepared."""

from dataclasses import replace

from ebbline.core.clinic.dose import check_second
from ebbline.core.clinic.record.visit import Dose
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.sole import needed
from ebbline.services.clinic.steps import standing_in


def second_check(
    clinic: Clinic, who: Actor, *, test_id: str, version: int, token: str | None
) -> Dose:
    """Record that a second person checked the dose as it stands.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who checked it.
    test_id : str
        The test.
    version : int
        The version of the dose that the person saw.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Dose

    Raises
    ------
    FieldError
        If no dose is prepared.
    ClinicError
        If the same person prepared it, or the test is not cleared.
    ConflictError
        If the dose has changed since it was seen.
    """
    with clinic.act("second check", who, why="", token=token) as act:
        if before := repeated(act, Dose, token, same=lambda one: one.test_id == test_id):
            return before
        standing_in(act, test_id, states=("cleared",))
        dose = needed(act, Dose, test_id).entry
        check_second(dose.prepared_by, who.user_id)
        return act.revise(replace(dose, checked_by=who.user_id), version=version)
