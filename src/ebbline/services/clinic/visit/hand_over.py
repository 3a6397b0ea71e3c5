"""Hand over the drink."""

from ebbline.core.clinic.record.visit import Dose, Test
from ebbline.core.clinic.safety import require_open
from ebbline.core.errors import ClinicError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.needs import gate_of
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.sole import sole
from ebbline.services.clinic.steps import standing_in, step
from ebbline.services.clinic.visit.prepare_dose import work_out


def hand_over(clinic: Clinic, who: Actor, *, test_id: str, version: int, token: str | None) -> Test:
    """Record that a person handed over the drink. The safety gate is asked once more.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who hands it over.
    test_id : str
        The test.
    version : int
        The version of the test that the person saw.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Test

    Raises
    ------
    SafetyError
        If a bar is closed; it names every one of them.
    ClinicError
        If the dose was worked out from another age or weight, a need of the step is not met, or
        the test stands somewhere else.
    ConflictError
        If the test has changed since it was seen.
    """
    with clinic.act("hand over", who, why="", token=token) as act:
        if before := repeated(act, Test, token, same=lambda one: one.id == test_id):
            return before
        test = standing_in(act, test_id, states=("cleared",)).entry
        require_open(gate_of(clinic, act, test))
        _check_dose(clinic, act, test)
        return step(clinic, act, test, version=version, to="dosed", also=())


def _check_dose(clinic: Clinic, look: Look, test: Test) -> None:
    """Refuse a dose that would come out otherwise now: age or weight may have been corrected."""
    dose = sole(look, Dose, test.id)
    if dose is None:
        return
    now = work_out(clinic, look, test, rule=dose.entry.rule)
    if now.dose_g != dose.entry.dose_g:
        raise ClinicError(
            field="dose_g",
            wrong="the dose was worked out from another weight or age",
            allowed=f"{now.dose_g:g} g, prepared anew",
            came=f"{dose.entry.dose_g:g} g",
        )
