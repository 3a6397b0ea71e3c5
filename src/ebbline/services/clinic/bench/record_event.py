"""Record something that happened during a test and may change its result."""

from datetime import datetime

from ebbline.core.clinic.record.bench import EVENTS, TestEvent
from ebbline.core.errors import FieldError, list_allowed
from ebbline.services.clinic.bench.moments import happened_at
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.steps import standing_in

_HAPPENED_IN = ("arrived", "cleared", "dosed", "sampling", "finished", "stopped", "drafted")


def record_event(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    what: str,
    at: datetime | None,
    lost_fraction: float | None,
    note: str,
    token: str | None,
) -> TestEvent:
    """Record an event.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who records it.
    test_id : str
        The test.
    what : str
        What happened, one of `ebbline.core.clinic.record.bench.EVENTS`.
    at : datetime or None
        When, with its zone; None for now.
    lost_fraction : float or None
        For ``vomited``, the share of the drink that was lost, 0 to 1; None otherwise.
    note : str
        More about it; asked for with ``other``.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    TestEvent

    Raises
    ------
    ClinicError
        If the patient is not here, or the report is signed.
    FieldError
        If it is not known, cannot have been then, or the lost share is missing or out of place.
    """
    _check(what, lost_fraction, note)
    with clinic.act("record event", who, why="", token=token) as act:

        def same(one: TestEvent) -> bool:
            return (one.test_id, one.what, one.lost_fraction) == (test_id, what, lost_fraction)

        before = repeated(act, TestEvent, token, same=same)
        if before is not None:
            return before
        standing_in(act, test_id, states=_HAPPENED_IN)
        return act.add(
            TestEvent(
                id=act.new_id(),
                test_id=test_id,
                at=happened_at(clinic, act, at),
                what=what,
                lost_fraction=lost_fraction,
                note=note.strip(),
            )
        )


def _check(what: str, lost_fraction: float | None, note: str) -> None:
    if what not in EVENTS:
        raise FieldError(field="what", wrong="not known", allowed=list_allowed(EVENTS), came=what)
    if what == "other" and not note.strip():
        raise FieldError(
            field="note", wrong="missing", allowed="what happened, in words", came="nothing"
        )
    if what == "vomited":
        if lost_fraction is None or not 0.0 <= lost_fraction <= 1.0:
            raise FieldError(
                field="lost_fraction",
                wrong="how much of the drink was lost is not known",
                allowed="0 to 1",
                came="nothing" if lost_fraction is None else f"{lost_fraction:g}",
            )
    elif lost_fraction is not None:
        raise FieldError(
            field="lost_fraction",
            wrong=f"nothing of the drink is lost by {what}",
            allowed="nothing",
            came=f"{lost_fraction:g}",
        )
