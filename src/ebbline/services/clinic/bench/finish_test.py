"""Finish a test: every planned sample is in, or missed with a reason."""

from ebbline.core.clinic.record.visit import Test
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.steps import step


def finish_test(
    clinic: Clinic, who: Actor, *, test_id: str, version: int, token: str | None
) -> Test:
    """Record that a test is finished.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who finishes it.
    test_id : str
        The test.
    version : int
        The version that the person saw.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Test

    Raises
    ------
    ClinicError
        If a planned sample is neither taken nor missed with a reason, or nothing is sampled here.
    ConflictError
        If the test has changed since it was seen.
    """
    with clinic.act("finish test", who, why="", token=token) as act:
        before = repeated(act, Test, token, same=lambda one: one.id == test_id)
        if before is not None:
            return before
        test = act.get(Test, test_id).entry
        return step(clinic, act, test, version=version, to="finished", also=())
