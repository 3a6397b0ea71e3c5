"""The analysers of a service, and their calibrations and checks."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Literal

from ebbline.core.clinic.record.staff import Analyser, AnalyserCheck
from ebbline.core.errors import ClinicError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import between, choice, reason, words
from ebbline.services.clinic.repeated import repeated

CHECKS: Sequence[Literal["calibration", "check", "zero", "room air"]] = (
    "calibration", "check", "zero", "room air",
)  # fmt: skip

# A check may be recorded some time after it was made, such as after a holiday: common practice, no
# source.
_LATE = timedelta(days=366)


def add_analyser(
    clinic: Clinic,
    who: Actor,
    *,
    name: str,
    serial: str,
    method: str,
    profile: str,
    token: str | None,
) -> Analyser:
    """Record an analyser that is in use from now on.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who records it.
    name : str
        What it is called at the bench.
    serial : str
        Serial number.
    method : str
        How it measures.
    profile : str
        Its profile; empty where values are typed.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Analyser

    Raises
    ------
    FieldError
        If a field is missing.
    ClinicError
        If an analyser in use has that name or serial number.
    """
    name = words("name", name, allowed="what the analyser is called")
    serial = words("serial", serial, allowed="the serial number")
    method = words("method", method, allowed="how the analyser measures")
    with clinic.act("change settings", who, why="", token=token) as act:
        if before := repeated(act, Analyser, token, same=lambda one: one.serial == serial):
            return before
        for one in act.find(Analyser, {"in_use": True}):
            for field, value in (("name", name), ("serial", serial)):
                if getattr(one.entry, field).casefold() == value.casefold():
                    raise ClinicError(
                        field=field,
                        wrong="an analyser in use has it",
                        allowed=f"another {field}, or that analyser out of use first",
                        came=value,
                    )
        return act.add(Analyser(act.new_id(), name, serial, method, profile.strip(), True))


def retire_analyser(
    clinic: Clinic, who: Actor, *, analyser_id: str, version: int, why: str, token: str | None
) -> Analyser:
    """Take an analyser out of use; what was measured by it keeps it.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who records it.
    analyser_id : str
        The analyser.
    version : int
        The version that the person saw.
    why : str
        The reason.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Analyser

    Raises
    ------
    FieldError
        If no reason is given.
    ConflictError
        If it has changed since it was seen.
    """
    with clinic.act("change settings", who, why=reason(why), token=token) as act:
        if before := repeated(act, Analyser, token, same=lambda one: one.id == analyser_id):
            return before
        analyser = act.get(Analyser, analyser_id).entry
        return act.revise(replace(analyser, in_use=False), version=version)


def record_check(
    clinic: Clinic,
    who: Actor,
    *,
    analyser_id: str,
    what: str,
    at: datetime,
    passed: bool,
    gas: str,
    findings: str,
    token: str | None,
) -> AnalyserCheck:
    """Record a calibration or check of an analyser.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who made it.
    analyser_id : str
        The analyser.
    what : {"calibration", "check", "zero", "room air"}
        What was done.
    at : datetime
        When, with its zone.
    passed : bool
        Whether it passed. One that failed is recorded too, and warned of.
    gas : str
        Certificate and lot of the gas; a calibration and a check need it.
    findings : str
        What was found; a failure needs it.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    AnalyserCheck

    Raises
    ------
    FieldError
        If a field is missing, or the moment cannot be.
    ClinicError
        If the analyser is not in use.
    """
    done = choice("what", what, CHECKS)
    if done in ("calibration", "check"):
        words("gas", gas, allowed="certificate and lot of the gas")
    if not passed:
        words("findings", findings, allowed="what was found")
    with clinic.act("check analyser", who, why="", token=token) as act:
        if before := repeated(act, AnalyserCheck, token, same=lambda one: _same(one, done, at)):
            return before
        analyser = act.get(Analyser, analyser_id).entry
        if not analyser.in_use:
            raise ClinicError(
                field="analyser_id",
                wrong="this analyser is not in use",
                allowed="an analyser that is in use",
                came=analyser.name,
            )
        when = between("at", at, earliest=act.at - _LATE, latest=act.at)
        if not passed:
            act.warn(f"{done} of {analyser.name} failed: readings by it are not fit for use")
        return act.add(
            AnalyserCheck(
                id=act.new_id(),
                analyser_id=analyser.id,
                what=done,
                at=when,
                passed=passed,
                gas=gas.strip(),
                words=findings.strip(),
            )
        )


def _same(one: AnalyserCheck, what: str, at: datetime) -> bool:
    return (one.what, one.at) == (what, at)
