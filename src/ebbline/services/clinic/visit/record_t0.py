"""Minute 0: the patient has finished the drink."""

from dataclasses import replace
from datetime import datetime
from typing import Literal

from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.visit import Arrival, Dose, Test
from ebbline.core.clinic.record.written import read_moment
from ebbline.core.errors import FieldError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import between, choice, reason
from ebbline.services.clinic.ports import Act, Look
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.sole import needed
from ebbline.services.clinic.steps import standing_in, step

DRUNK: tuple[Literal["all", "part"], ...] = ("all", "part")


def record_t0(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    version: int,
    at: datetime | None,
    drunk: str,
    token: str | None,
) -> Test:
    """Record minute 0, as the protocol defines it.

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
    at : datetime or None
        When it was, with its zone; None for now.
    drunk : {"all", "part"}
        How much was drunk. A part is warned of, and whether the test goes on is for a person to
        decide.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Test

    Raises
    ------
    FieldError
        If the moment has no zone, lies in the future, or before the patient arrived.
    ClinicError
        If the drink was not handed over, or minute 0 is recorded already.
    ConflictError
        If the test has changed since it was seen.
    """
    how_much = choice("drunk", drunk, DRUNK)
    with clinic.act("record T0", who, why="", token=token) as act:
        if before := repeated(act, Test, token, same=lambda one: _same(one, test_id, at)):
            return before
        test = standing_in(act, test_id, states=("dosed",)).entry
        t0 = act.at if at is None else _possible(act, test_id, at)
        dose = needed(act, Dose, test_id)
        act.revise(replace(dose.entry, drunk=how_much), version=dose.version)
        if how_much == "part":
            act.warn("only a part of the drink was drunk")
        return step(clinic, act, replace(test, t0=t0), version=version, to="sampling", also=())


def correct_t0(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    version: int,
    at: datetime,
    why: str,
    token: str | None,
) -> Test:
    """Correct minute 0. Both are kept, and the actual minutes of all samples follow.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who corrects it.
    test_id : str
        The test.
    version : int
        The version of the test that the person saw.
    at : datetime
        When it was, with its zone.
    why : str
        The reason.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Test

    Raises
    ------
    FieldError
        If no reason is given, or the moment has no zone, lies in the future, before the patient
        arrived, or after a sample that was planned after minute 0.
    ClinicError
        If there is no minute 0 yet, or the report is signed.
    ConflictError
        If the test has changed since it was seen.
    """
    with clinic.act("correct T0", who, why=reason(why), token=token) as act:
        if before := repeated(act, Test, token, same=lambda one: _same(one, test_id, at)):
            return before
        test = standing_in(act, test_id, states=_CORRECTED_IN).entry
        if test.t0 is None:
            raise FieldError(
                field="t0", wrong="not there yet", allowed="a test with its minute 0", came="none"
            )
        t0 = _possible(act, test_id, at)
        _check_samples(act, test_id, t0)
        return act.revise(replace(test, t0=t0), version=version)


_CORRECTED_IN = ("sampling", "finished", "stopped", "drafted")


def _same(test: Test, test_id: str, at: datetime | None) -> bool:
    return test.id == test_id and at in (None, test.t0)


def _possible(act: Act, test_id: str, at: datetime) -> datetime:
    """Return the moment in UTC, or refuse one before the patient arrived, or still to come."""
    arrival = needed(act, Arrival, test_id)
    arrived = read_moment(act.acts([arrival.seq])[0].at)
    return between("t0", at, earliest=arrived, latest=act.at)


def _check_samples(look: Look, test_id: str, t0: datetime) -> None:
    """Refuse a minute 0 that would put a sample planned after it before it."""
    after = [
        one.entry
        for one in look.find(SampleTry, {"test_id": test_id, "status": ("ok", "repeat")})
        if one.entry.planned_minute is not None and one.entry.planned_minute > 0
    ]
    first = min(after, key=lambda one: one.at, default=None)
    if first is not None and first.at <= t0:
        raise FieldError(
            field="t0",
            wrong="after a sample that was planned after minute 0",
            allowed=f"before {first.at:%Y-%m-%d %H:%M} UTC, the sample of {first.planned_minute:g}"
            " min",
            came=f"{t0:%Y-%m-%d %H:%M} UTC",
        )
