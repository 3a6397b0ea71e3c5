"""Clear a test: the patient is prepared and may have the drink."""

from ebbline.core.clinic.record.visit import Preparation, Test
from ebbline.core.clinic.safety import require_open
from ebbline.core.errors import ClinicError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.needs import gate_of
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.sole import needed
from ebbline.services.clinic.steps import standing_in, step
from ebbline.services.clinic.visit.preparing import open_items


def clear_test(
    clinic: Clinic, who: Actor, *, test_id: str, version: int, token: str | None
) -> Test:
    """Record that a person cleared a test.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who clears it.
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
    FieldError
        If nobody asked about the preparation.
    SafetyError
        If a bar is closed; it names every one of them.
    ClinicError
        If an item of the preparation is open, a child is not weighed, or the test stands
        somewhere else.
    ConflictError
        If the test has changed since it was seen.
    """
    with clinic.act("clear test", who, why="", token=token) as act:
        if before := repeated(act, Test, token, same=lambda one: one.id == test_id):
            return before
        test = standing_in(act, test_id, states=("arrived",)).entry
        require_open(gate_of(clinic, act, test))
        _check_preparation(clinic, act, test)
        return step(clinic, act, test, version=version, to="cleared", also=())


def _check_preparation(clinic: Clinic, look: Look, test: Test) -> None:
    """Name every item that is open, where the step itself would only say that some are."""
    preparation = needed(look, Preparation, test.id).entry
    still_open = open_items(clinic, look, test, preparation)
    if still_open:
        raise ClinicError(
            field="preparation",
            wrong="not every item was kept, or decided on",
            allowed="items that were kept, or a named person's decision to go ahead",
            came="; ".join(f"{one.id} ({one.state}): {one.words}" for one in still_open),
        )
