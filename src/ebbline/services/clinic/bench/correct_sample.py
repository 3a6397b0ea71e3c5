"""Correct a sample: a new version with its reason; what was recorded first stays on record."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Literal

from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import FieldError
from ebbline.services.clinic.bench.after_signing import changeable
from ebbline.services.clinic.bench.breath_taken import Typed, fields_of, typed_values
from ebbline.services.clinic.bench.minutes import clock_of, minute_of_try
from ebbline.services.clinic.bench.moments import happened_at
from ebbline.services.clinic.bench.place_sample import place_sample, protocol_of
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import reason
from ebbline.services.clinic.ports import Act
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.service.settings_on_record import settings_now


@dataclass(frozen=True, slots=True)
class Correction:
    """What is put right; None for what stays as it is.

    ``breath`` takes the place of typed values. Those that came from a trace cannot be typed over:
    such a breath is marked to be repeated instead.
    """

    breath: Typed | None
    at: datetime | None
    planned_minute: float | None
    status: Literal["ok", "repeat"] | None
    note: str | None


def correct_sample(
    clinic: Clinic,
    who: Actor,
    *,
    sample_id: str,
    version: int,
    correction: Correction,
    why: str,
    will_amend: bool,
    token: str | None,
) -> SampleTry:
    """Record a new version of a sample.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who corrects it.
    sample_id : str
        The sample.
    version : int
        The version that the person saw.
    correction : Correction
        What is put right.
    why : str
        The reason.
    will_amend : bool
        Whether the person says that a signed report will be amended after this.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    SampleTry

    Raises
    ------
    FieldError
        If no reason is given, nothing is put right, the sample was missed or moved away, or a value
        cannot be used.
    ClinicError
        If a report of the test is signed and nobody says that it will be amended.
    ConflictError
        If it has changed since it was seen.
    """
    why = reason(why)
    if correction == Correction(None, None, None, None, None):
        raise FieldError(
            field="correction",
            wrong="nothing is put right",
            allowed="values, a time, a planned minute, a status or a note",
            came="nothing",
        )
    with clinic.act("correct sample", who, why=why, token=token) as act:

        def same(one: SampleTry) -> bool:
            return one.id == sample_id and _says(one, correction)

        before = repeated(act, SampleTry, token, same=same)
        if before is not None:
            return before
        stands = act.get(SampleTry, sample_id)
        if stands.entry.status not in ("ok", "repeat"):
            raise FieldError(
                field="status",
                wrong="this is not a breath of this test",
                allowed="a try that is ok or to be repeated",
                came=stands.entry.status,
            )
        test = changeable(act, stands.entry.test_id, will_amend=will_amend).entry
        changes = {
            **_breath(clinic, act, test, stands.entry, correction),
            **_time(clinic, act, test, stands, correction),
        }
        if correction.note is not None:
            changes["note"] = correction.note.strip()
        changed: SampleTry = replace(stands.entry, **changes)
        if changed.status == "ok" and changed.quality == "refused":
            raise FieldError(
                field="status",
                wrong="a refused breath cannot count",
                allowed="repeat",
                came="ok",
            )
        return act.revise(changed, version=version)


def _breath(
    clinic: Clinic, act: Act, test: Test, stands: SampleTry, correction: Correction
) -> dict[str, Any]:
    """Return the fields that change by other values or another status."""
    changes: dict[str, Any] = {}
    if correction.breath is not None:
        if stands.way != "typed":
            raise FieldError(
                field="breath",
                wrong="these values were reduced from a trace",
                allowed="the status repeat, and another breath",
                came="typed values",
            )
        typed_values(
            correction.breath, again=None, confirmed=True, before=None, table=clinic.rules.bench
        )
        changes = fields_of(correction.breath, settings_now(clinic, act, substrate=test.substrate))
        if changes["quality"] == "refused":
            changes["status"] = "repeat"
    if correction.status is not None:
        changes["status"] = correction.status
    return changes


def _time(
    clinic: Clinic, act: Act, test: Test, stands: Kept[SampleTry], correction: Correction
) -> dict[str, Any]:
    """Return the fields that change by another time or planned minute."""
    if correction.at is None and correction.planned_minute is None:
        return {}
    clock = clock_of(act, test)
    when, minute = stands.entry.at, minute_of_try(act, clock, stands)
    if correction.at is not None:
        when = happened_at(clinic, act, correction.at)
        minute = clock.minute(when, seq=None)
    fasting = minute is None or minute <= 0.0
    if fasting != bool(stands.entry.label):
        raise FieldError(
            field="at",
            wrong="minute 0 lies between the two times",
            allowed="a time before minute 0" if stands.entry.label else "a time after minute 0",
            came=when.isoformat(),
        )
    planned = correction.planned_minute
    place = place_sample(
        protocol_of(clinic, act, test),
        (),
        minute=minute,
        planned_minute=stands.entry.planned_minute if planned is None else planned,
    )
    return {"at": when, "planned_minute": place.planned_minute}


def _says(one: SampleTry, correction: Correction) -> bool:
    """Whether a version says what a correction asks for."""
    breath = correction.breath
    asked = {
        "at": correction.at,
        "planned_minute": correction.planned_minute,
        "status": correction.status,
        "note": None if correction.note is None else correction.note.strip(),
        "h2_ppm": None if breath is None else breath.h2_ppm,
        "ch4_ppm": None if breath is None else breath.ch4_ppm,
    }
    return all(value is None or getattr(one, name) == value for name, value in asked.items())
