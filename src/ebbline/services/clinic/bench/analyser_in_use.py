"""Which analyser measured a breath, and its calibration in force."""

from dataclasses import dataclass
from datetime import datetime

from ebbline.core.clinic.record.staff import Analyser, AnalyserCheck
from ebbline.core.clinic.record.visit import Booking
from ebbline.core.errors import FieldError, list_allowed
from ebbline.services.clinic.ports import Look


@dataclass(frozen=True, slots=True)
class InUse:
    """Ids of the analyser and its calibration; ``warning`` is empty where the two are in order."""

    analyser_id: str | None
    calibration_id: str | None
    warning: str


def analyser_in_use(look: Look, *, test_id: str, analyser_id: str | None, at: datetime) -> InUse:
    """Return the analyser of a sample: the one named, else that of the booking, else the only one.

    Parameters
    ----------
    look : Look
        The record.
    test_id : str
        The test.
    analyser_id : str or None
        What the person says; None where nothing is said.
    at : datetime
        When the sample was taken.

    Returns
    -------
    InUse
        A calibration that is missing or did not pass is warned of; it stops nothing, since a
        patient who has drunk the sugar cannot come again for it.

    Raises
    ------
    FieldError
        If it is named and not in use.
    """
    known = {one.entry.id: one.entry for one in look.find(Analyser, {"in_use": True})}
    booking = look.find(Booking, {"test_id": test_id})
    chosen = analyser_id or (booking[-1].entry.analyser_id if booking else None)
    if chosen is None and len(known) == 1:
        chosen = next(iter(known))
    if chosen is None:
        return InUse(None, None, "no analyser is named for this sample")
    if chosen not in known:
        raise FieldError(
            field="analyser_id",
            wrong="no analyser in use",
            allowed=list_allowed([one.name for one in known.values()]) or "one that is in use",
            came=chosen,
        )
    checks = [
        one.entry
        for one in look.find(AnalyserCheck, {"analyser_id": chosen, "what": "calibration"})
        if one.entry.at <= at
    ]
    name = known[chosen].name
    if not checks:
        return InUse(chosen, None, f"no calibration of {name} is on record")
    last = max(checks, key=lambda one: one.at)
    warning = "" if last.passed else f"the last calibration of {name} did not pass"
    return InUse(chosen, last.id, warning)
