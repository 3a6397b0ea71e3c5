"""Take a sample: a breath of the right patient, at the right minute, with all that it says."""

from datetime import datetime, timedelta

from ebbline.core.clinic.record.bench import SampleTry, TestEvent
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import FieldError
from ebbline.services.clinic.bench.analyser_in_use import analyser_in_use
from ebbline.services.clinic.bench.breath_taken import Reduced, Typed, fields_of, typed_values
from ebbline.services.clinic.bench.minutes import clock_of
from ebbline.services.clinic.bench.moments import happened_at
from ebbline.services.clinic.bench.place_sample import place_sample, protocol_of, tries_of
from ebbline.services.clinic.bench.right_patient import Checked, right_patient
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Act, Look
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.service.settings_on_record import settings_now
from ebbline.services.clinic.steps import standing_in

TAKEN_IN = ("cleared", "sampling")
"""Where a test stands while samples are taken: fasting ones, and those after the drink."""


def take_sample(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    checked: Checked,
    breath: Typed | Reduced,
    typed_again: Typed | None,
    confirmed: bool,
    to_repeat: bool,
    at: datetime | None,
    planned_minute: float | None,
    analyser_id: str | None,
    note: str,
    token: str | None,
) -> SampleTry:
    """Record one try at a sample. Nothing of a refused one is kept.

    A breath that is refused by its quality is kept as one to be repeated.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who takes it.
    test_id : str
        The test.
    checked : Checked
        What told whose breath it is.
    breath : Typed or Reduced
        What came of it.
    typed_again : Typed or None
        Typed values, typed a second time.
    confirmed : bool
        Whether a person says that a typed value far from the one before is right.
    to_repeat : bool
        Whether the operator wants it blown again.
    at : datetime or None
        When the breath was given, with its zone; None for now.
    planned_minute : float or None
        Which planned sample it is; None for the nearest one that is due.
    analyser_id : str or None
        The analyser; None for that of the booking, or the only one in use.
    note : str
        The operator's note.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    SampleTry

    Raises
    ------
    ClinicError
        If it may be another patient's breath, or the test stands somewhere else.
    FieldError
        If a value, moment or planned minute cannot be used, or the trace is on record already.
    """
    with clinic.act("take sample", who, why="", token=token) as act:

        def same(one: SampleTry) -> bool:
            return one.test_id == test_id and _same_breath(one, breath)

        before = repeated(act, SampleTry, token, same=same)
        if before is not None:
            return before
        test = standing_in(act, test_id, states=TAKEN_IN).entry
        told = right_patient(act, test, checked)
        if isinstance(breath, Reduced):
            _check_new_trace(act, breath)
        when = happened_at(clinic, act, at)
        tries = [one.entry for one in tries_of(act, test_id)]
        if isinstance(breath, Typed):
            typed_values(
                breath,
                again=typed_again,
                confirmed=confirmed,
                before=next((one for one in reversed(tries) if one.status == "ok"), None),
                table=clinic.rules.bench,
            )
        place = place_sample(
            protocol_of(clinic, act, test),
            tries,
            minute=clock_of(act, test).minute(when, seq=None),
            planned_minute=planned_minute,
        )
        used = analyser_in_use(act, test_id=test_id, analyser_id=analyser_id, at=when)
        fields = fields_of(breath, settings_now(clinic, act, substrate=test.substrate))
        for warning in (used.warning, smoked_before(clinic, act, test, at=when)):
            if warning:
                act.warn(warning)
        return act.add(
            SampleTry(
                id=act.new_id(),
                test_id=test_id,
                planned_minute=place.planned_minute,
                label=place.label,
                at=when,
                status="repeat" if to_repeat or fields["quality"] == "refused" else "ok",
                analyser_id=used.analyser_id,
                calibration_id=used.calibration_id,
                operator=who.user_id,
                checked=told,
                note=note.strip(),
                moved_from=None,
                moved_to=None,
                **fields,
            )
        )


def smoked_before(clinic: Clinic, look: Look, test: Test, *, at: datetime) -> str:
    """Return the warning where somebody smoked shortly before a sample, empty otherwise.

    Parameters
    ----------
    clinic : Clinic
        How long to wait.
    look : Look
        The record.
    test : Test
        The test.
    at : datetime
        When the sample was taken.

    Returns
    -------
    str
    """
    wait = clinic.rules.bench.smoking_wait_minutes
    ago = [
        at - one.entry.at
        for one in look.find(TestEvent, {"test_id": test.id, "what": "smoked"})
        if timedelta(0) <= at - one.entry.at < timedelta(minutes=wait)
    ]
    if not ago:
        return ""
    return f"smoked {min(ago) / timedelta(minutes=1):.0f} min before; at least {wait:g} are asked"


def _same_breath(one: SampleTry, breath: Typed | Reduced) -> bool:
    if isinstance(breath, Reduced):
        return one.trace_digest == breath.trace_digest
    return (one.way, one.h2_ppm, one.ch4_ppm, one.o2_pct, one.co2_pct) == (
        "typed",
        breath.h2_ppm,
        breath.ch4_ppm,
        breath.o2_pct,
        breath.co2_pct,
    )


def _check_new_trace(act: Act, breath: Reduced) -> None:
    known = act.find(SampleTry, {"trace_digest": breath.trace_digest})
    if known:
        number = act.get(Test, known[0].entry.test_id).entry.number
        raise FieldError(
            field="trace_digest",
            wrong="this breath is on record already",
            allowed="a breath that is new",
            came=f"that of test {number}",
        )
