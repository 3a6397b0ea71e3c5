"""Register a patient, and correct who a patient is.

Two patients must never become one on record, nor one patient two: a record number is given once,
and a patient who looks like one on record is only registered once somebody said that it is another.
"""

import re
from collections.abc import Collection
from dataclasses import dataclass, fields, replace
from datetime import date

from ebbline.core.clinic.age import age_on
from ebbline.core.clinic.identify import fold_name, fold_number, search_text
from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.people import SEXES, Identity, Patient
from ebbline.core.clinic.record.visit import Booking, Test
from ebbline.core.errors import ClinicError, FieldError, list_allowed
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import choice, reason, words
from ebbline.services.clinic.ports import Act, Containing, Look
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.sole import needed

# A shortened form of BCP 47: a language, then what narrows it.
_LANGUAGE = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*")
# Once a report is signed, the age in it is what was signed.
_AGE_STANDS = ("signed", "amended", "did not attend")


@dataclass(frozen=True, slots=True)
class Person:
    """Who a patient is. An empty text, or None, is not known; the family name and number must be.

    ``record_no`` is the service's own number for the patient, ``national_no`` a national or
    insurance number.
    """

    family_name: str
    given_name: str
    born: date | None
    record_no: str
    national_no: str
    contact: str


def register_patient(
    clinic: Clinic,
    who: Actor,
    *,
    person: Person,
    sex: str,
    language: str,
    invented: bool,
    not_these: Collection[str],
    token: str | None,
) -> Patient:
    """Register a patient.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who registers.
    person : Person
        Who the patient is.
    sex : {"female", "male", "other", "unknown"}
        Sex.
    language : str
        For sheets and talk, as a BCP 47 tag.
    invented : bool
        Whether the person is invented.
    not_these : collection of str
        Ids of patients who look the same and of whom somebody made sure that they are others;
        empty at first.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Patient

    Raises
    ------
    FieldError
        If a field cannot be, or patients of the same name and birth date, or of the same national
        number, are on record that are not among ``not_these``.
    ClinicError
        If another patient has that record number.
    """
    kept = _checked(person)
    chosen = choice("sex", sex, SEXES)
    if not _LANGUAGE.fullmatch(language):
        raise FieldError(
            field="language", wrong="not a language tag", allowed="a tag such as en or pt-BR",
            came=language or "nothing",
        )  # fmt: skip
    with clinic.act("register patient", who, why="", token=token) as act:
        if before := repeated(act, Identity, token, same=lambda one: _person(one) == kept):
            return act.get(Patient, before.patient_id).entry
        _check_born(clinic, act, kept)
        near = _near(act, kept)
        _check_number(kept, near)
        alike = _alike(kept, near)
        unseen = [one.entry for one in alike if one.entry.patient_id not in not_these]
        if unseen:
            numbers = list_allowed(one.record_no for one in unseen)
            raise FieldError(
                field="family_name",
                wrong="a patient who looks the same is on record",
                allowed=f"the patient {numbers}, or a new one once it is said that it is another",
                came=f"{kept.family_name}, {kept.given_name}",
            )
        _warn_alike(act, alike)
        patient = act.add(Patient(act.new_id(), chosen, language, invented))
        act.add(_identity(act.new_id(), patient.id, kept))
        return patient


def correct_identity(
    clinic: Clinic,
    who: Actor,
    *,
    patient_id: str,
    version: int,
    person: Person,
    why: str,
    token: str | None,
) -> Identity:
    """Correct who a patient is; what was recorded before stays as an earlier version.

    A new birth date changes the age in tests that are not signed yet. Whoever makes a patient look
    like another one on record is warned.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who corrects.
    patient_id : str
        The patient.
    version : int
        The version of the identity that the person saw.
    person : Person
        Who the patient is.
    why : str
        The reason.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Identity

    Raises
    ------
    FieldError
        If a field cannot be, or no reason is given.
    ClinicError
        If another patient has that record number.
    ConflictError
        If it has changed since it was seen.
    """
    kept, why = _checked(person), reason(why)
    with clinic.act("correct identity", who, why=why, token=token) as act:
        if before := repeated(act, Identity, token, same=lambda one: _person(one) == kept):
            return before
        stands = identity_of(act, patient_id)
        _check_born(clinic, act, kept)
        others = [one for one in _near(act, kept) if one.entry != stands.entry]
        _check_number(kept, others)
        _warn_alike(act, _alike(kept, others))
        corrected = act.revise(_identity(stands.entry.id, patient_id, kept), version=version)
        if kept.born != stands.entry.born:
            _correct_ages(clinic, act, patient_id, kept.born)
        return corrected


def identity_of(look: Look, patient_id: str) -> Kept[Identity]:
    """Return who a patient is.

    Parameters
    ----------
    look : Look
        The record.
    patient_id : str
        The patient.

    Returns
    -------
    Kept of Identity

    Raises
    ------
    FieldError
        If there is no such patient.
    """
    patient = look.get(Patient, patient_id).entry
    return look.find(Identity, {"patient_id": patient.id})[0]


def _checked(person: Person) -> Person:
    """Return the fields without blanks around them, or refuse one that must be there."""
    words("family_name", person.family_name, allowed="the family name")
    words("record_no", person.record_no, allowed="the record number of the patient")
    return Person(
        family_name=person.family_name.strip(),
        given_name=person.given_name.strip(),
        born=person.born,
        record_no=person.record_no.strip(),
        national_no=person.national_no.strip(),
        contact=person.contact.strip(),
    )


def _check_born(clinic: Clinic, act: Act, person: Person) -> None:
    if person.born is not None:
        age_on(person.born, act.at.astimezone(clinic.zone).date())


def _check_number(person: Person, others: Collection[Kept[Identity]]) -> None:
    number = fold_number(person.record_no)
    if any(fold_number(one.entry.record_no) == number for one in others):
        raise ClinicError(
            field="record_no",
            wrong="another patient has this record number",
            allowed="a number that no patient has",
            came=person.record_no,
        )


def _near(look: Look, person: Person) -> tuple[Kept[Identity], ...]:
    """Return patients with one of the numbers or with the birth date: who else could be meant."""
    numbers = [
        folded for one in (person.record_no, person.national_no) if (folded := fold_number(one))
    ]
    found = [
        *(
            one
            for number in sorted(numbers)
            for one in look.find(Identity, {"search": Containing(f" #{number} ")})
        ),
        *look.find(Identity, {"born": person.born}),
    ]
    return tuple({one.entry.id: one for one in found}.values())


def _alike(person: Person, others: Collection[Kept[Identity]]) -> list[Kept[Identity]]:
    """Return patients of the same name and birth date, or of the same national number."""
    national = fold_number(person.national_no)
    return [
        one
        for one in others
        if (_same_name(person, one.entry) and person.born == one.entry.born)
        or (national and national == fold_number(one.entry.national_no))
    ]


def _warn_alike(act: Act, alike: Collection[Kept[Identity]]) -> None:
    if alike:
        # Without a name: the warning is part of the chain, and is never erased.
        act.warn(f"patients who look the same were on record: {len(alike)}")


def _same_name(person: Person, other: Identity) -> bool:
    return (fold_name(person.family_name), fold_name(person.given_name)) == (
        fold_name(other.family_name),
        fold_name(other.given_name),
    )


def _person(identity: Identity) -> Person:
    return Person(*(getattr(identity, one.name) for one in fields(Person)))


def _identity(entry_id: str, patient_id: str, person: Person) -> Identity:
    return Identity(
        id=entry_id,
        patient_id=patient_id,
        family_name=person.family_name,
        given_name=person.given_name,
        born=person.born,
        record_no=person.record_no,
        national_no=person.national_no,
        contact=person.contact,
        search=search_text(
            family_name=person.family_name,
            given_name=person.given_name,
            record_no=person.record_no,
            national_no=person.national_no,
        ),
    )


def _correct_ages(clinic: Clinic, act: Act, patient_id: str, born: date | None) -> None:
    for test in act.find(Test, {"patient_id": patient_id}):
        if test.entry.state in _AGE_STANDS:
            continue
        slot = needed(act, Booking, test.entry.id).entry.slot
        age = None if born is None else age_on(born, slot.astimezone(clinic.zone).date())
        act.revise(replace(test.entry, age_years=age), version=test.version)
