"""Record and correct a referral: why a patient is sent, and what the referrer knows."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from ebbline.core.clinic.record.people import Patient, Referral
from ebbline.core.clinic.referral_table import alarm_words, check_alarms
from ebbline.core.errors import FieldError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import choice, reason, words
from ebbline.services.clinic.ports import Act
from ebbline.services.clinic.repeated import repeated

SURGERY: tuple[Literal["yes", "no", "unknown"], ...] = ("yes", "no", "unknown")


@dataclass(frozen=True, slots=True)
class Request:
    """What a referral says.

    ``alarm_features`` are ids of data/referral.toml: None where the referrer was not asked, empty
    where the answer was that there are none. ``surgery`` is of the upper gut: yes, no or unknown.
    """

    requested_on: date
    referrer: str
    copy_to: str
    indication: str
    alarm_features: Collection[str] | None
    medicines: str
    surgery: str
    surgery_words: str
    earlier_tests: str


def refer(
    clinic: Clinic, who: Actor, *, patient_id: str, request: Request, token: str | None
) -> Referral:
    """Record a referral. Alarm features warn whoever records it, and block nothing.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who records it.
    patient_id : str
        The patient.
    request : Request
        What it says.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Referral

    Raises
    ------
    FieldError
        If a field cannot be.
    """
    with clinic.act("refer", who, why="", token=token) as act:
        referral = _referral(clinic, act, act.new_id(), patient_id, request)
        if before := repeated(act, Referral, token, same=lambda one: _same(one, referral)):
            return before
        act.get(Patient, patient_id)
        return _warned(clinic, act, act.add(referral))


def correct_referral(
    clinic: Clinic,
    who: Actor,
    *,
    referral_id: str,
    version: int,
    request: Request,
    why: str,
    token: str | None,
) -> Referral:
    """Correct a referral; what was recorded before stays as an earlier version.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who corrects it.
    referral_id : str
        The referral.
    version : int
        The version that the person saw.
    request : Request
        What it says.
    why : str
        The reason.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Referral

    Raises
    ------
    FieldError
        If a field cannot be, or no reason is given.
    ConflictError
        If it has changed since it was seen.
    """
    with clinic.act("refer", who, why=reason(why), token=token) as act:
        stands = act.get(Referral, referral_id).entry
        referral = _referral(clinic, act, stands.id, stands.patient_id, request)
        if before := repeated(act, Referral, token, same=lambda one: one == referral):
            return before
        return _warned(clinic, act, act.revise(referral, version=version))


def _referral(
    clinic: Clinic, act: Act, entry_id: str, patient_id: str, request: Request
) -> Referral:
    today = act.at.astimezone(clinic.zone).date()
    if request.requested_on > today:
        raise FieldError(
            field="requested_on", wrong="in the future", allowed=f"up to {today.isoformat()}",
            came=request.requested_on.isoformat(),
        )  # fmt: skip
    return Referral(
        id=entry_id,
        patient_id=patient_id,
        requested_on=request.requested_on,
        referrer=words("referrer", request.referrer, allowed="who asked for the test"),
        copy_to=request.copy_to.strip(),
        indication=words("indication", request.indication, allowed="why the test is asked for"),
        alarm_features=check_alarms(clinic.rules.referral, request.alarm_features or ()),
        alarm_answered=request.alarm_features is not None,
        medicines=request.medicines.strip(),
        surgery=choice("surgery", request.surgery, SURGERY),
        surgery_words=request.surgery_words.strip(),
        earlier_tests=request.earlier_tests.strip(),
    )


def _same(one: Referral, other: Referral) -> bool:
    """Return whether two referrals say the same, whatever their ids."""
    return replace(one, id="") == replace(other, id="")


def _warned(clinic: Clinic, act: Act, referral: Referral) -> Referral:
    if found := alarm_words(clinic.rules.referral, referral.alarm_features):
        act.warn(found)
    return referral
