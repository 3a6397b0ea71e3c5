"""Stop a test before its end: a person decides, and sees first what would be lost."""

from dataclasses import dataclass, replace

from ebbline.core.clinic.early_stop import StopLoss
from ebbline.core.clinic.record.visit import Test
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import reason, words
from ebbline.services.clinic.needs import missing_minutes
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.steps import step


@dataclass(frozen=True, slots=True)
class Lost:
    """What stopping now would lose: planned minutes without a sample, and what they would show."""

    minutes: tuple[float, ...]
    rows: tuple[StopLoss, ...]


def lost_by_stopping(clinic: Clinic, who: Actor, *, test_id: str) -> Lost:
    """Return what stopping a test now would lose.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who reads it.
    test_id : str
        The test.

    Returns
    -------
    Lost
        Without rows where no planned minute is left.
    """
    with clinic.look(who) as look:
        test = look.get(Test, test_id).entry
        minutes = missing_minutes(clinic, look, test)
    losses = clinic.rules.stops.losses if minutes else ()
    return Lost(minutes, tuple(one for one in losses if test.substrate in one.substrates))


def stop_test(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    version: int,
    why: str,
    decided_by: str,
    token: str | None,
) -> Test:
    """Record that a person stopped a test.

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
        The reason.
    decided_by : str
        Who decided: the patient, a carer, or a name.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Test

    Raises
    ------
    FieldError
        If the reason, or who decided, is missing.
    ClinicError
        If a test that stands there cannot be stopped.
    ConflictError
        If the test has changed since it was seen.
    """
    why = reason(why)
    decided_by = words("decided_by", decided_by, allowed="who decided to stop")
    with clinic.act("stop test", who, why=why, token=token) as act:
        if before := repeated(act, Test, token, same=lambda one: one.id == test_id):
            return before
        test = act.get(Test, test_id).entry
        changed = replace(test, state_why=f"{why} (decided by: {decided_by})")
        also = ("stop-reason", "stopped-by")
        return step(clinic, act, changed, version=version, to="stopped", also=also)
