"""The patient did not come."""

from dataclasses import replace

from ebbline.core.clinic.record.visit import Test
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import reason
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.steps import step


def did_not_attend(
    clinic: Clinic, who: Actor, *, test_id: str, version: int, why: str, token: str | None
) -> Test:
    """Record that the patient did not come; the test ends there.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who records it.
    test_id : str
        The test.
    version : int
        The version of the test that the person saw.
    why : str
        What is known about it.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Test

    Raises
    ------
    FieldError
        If nothing is said about it.
    ClinicError
        If the time of the appointment has not passed, or the patient has arrived.
    ConflictError
        If the test has changed since it was seen.
    """
    why = reason(why)
    with clinic.act("change booking", who, why=why, token=token) as act:
        if before := repeated(act, Test, token, same=lambda one: one.id == test_id):
            return before
        changed = replace(act.get(Test, test_id).entry, state_why=why)
        return step(clinic, act, changed, version=version, to="did not attend", also=())
