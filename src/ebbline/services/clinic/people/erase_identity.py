"""Erase who a patient is, on a legal request; every test stays readable and verifiable."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.people import Identity, Patient
from ebbline.core.clinic.record.staff import Erasure
from ebbline.core.errors import ClinicError, FieldError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Act
from ebbline.services.clinic.repeated import repeated

ACT = "erase identity"
"""The act, by data/roles.toml."""


class Eraser(Protocol):
    """What empties the fields held apart, and cleans up behind itself."""

    def empty(self, act: Act, patient_id: str) -> int:
        """Empty the fields with an act and return how many rows lost their words."""
        ...

    def clean(self) -> str:
        """Leave nothing of them in the files; return what stood in the way, empty for nothing."""
        ...


@dataclass(frozen=True, slots=True)
class Erased:
    """An erasure as it was recorded, and what still holds the words; empty for nothing here."""

    erasure: Erasure
    left: str


def erase_identity(
    clinic: Clinic,
    who: Actor,
    *,
    patient_id: str,
    ground: str,
    ordered_by: str,
    token: str | None,
    eraser: Eraser,
) -> Erased:
    """Empty everything that may tell who a patient is, in one act, all of it or nothing.

    That is every field held apart, in every version of every row about the patient: identity,
    referral, notes, the documents behind an interpretation, the pages of reports, and the reasons
    of the acts. It cannot be undone. Whether it may be done is for the law on patient records to
    say: a duty to keep a record may come before a request to erase it.

    Backups and exports that were made before still hold the words; so may logs of a database
    server. They have to be found and dealt with by hand.

    Where nothing is left to empty, the last erasure is returned, and the files are cleaned again.

    Parameters
    ----------
    clinic : Clinic
        Where it is done.
    who : Actor
        A manager.
    patient_id : str
        The patient.
    ground : str
        The legal ground. It is kept for good, so it may not name the patient.
    ordered_by : str
        Who ordered it, by office or staff name; the same holds.
    token : str or None
        What the sender calls this act.
    eraser : Eraser
        Over the clinic's record.

    Returns
    -------
    Erased

    Raises
    ------
    FieldError
        If there is no such patient, or the ground or the order is empty or names the patient.
    ClinicError
        If nothing of the patient was ever there to erase.
    AccessError
        If the person may not erase.
    """
    with clinic.act(ACT, who, why="", token=token) as act:
        erasure = repeated(
            act, Erasure, token, same=lambda one: one.patient_id == patient_id
        ) or _empty(act, eraser, patient_id=patient_id, ground=ground, ordered_by=ordered_by)
    return Erased(erasure, eraser.clean())


def _empty(act: Act, eraser: Eraser, *, patient_id: str, ground: str, ordered_by: str) -> Erasure:
    """Empty the fields and return the erasure that says so."""
    act.get(Patient, patient_id)
    names = _names(
        version
        for one in act.find(Identity, {"patient_id": patient_id})
        for version in act.versions(Identity, one.entry.id)
    )
    _must_not_name("ground", ground, names)
    _must_not_name("ordered_by", ordered_by, names)
    rows = eraser.empty(act, patient_id)
    if rows > 0:
        return act.add(Erasure(act.new_id(), patient_id, ground, ordered_by, rows))
    before = act.find(Erasure, {"patient_id": patient_id})
    if not before:
        raise ClinicError(
            field="patient_id",
            wrong="nothing of this patient is there to erase",
            allowed="a patient who has a name in the record",
            came=patient_id,
        )
    return before[-1].entry


def _names(identities: Iterable[Kept[Identity]]) -> list[str]:
    """Return every name and number by which a patient was ever recorded."""
    found = []
    for kept in identities:
        one = kept.entry
        found += [one.family_name, one.given_name, one.record_no, one.national_no, one.contact]
    return [name for name in found if name.strip()]


def _must_not_name(field: str, words: str, names: list[str]) -> None:
    if not words.strip():
        raise FieldError(field=field, wrong="it is missing", allowed="a few words", came="nothing")
    for name in names:
        if re.search(rf"(?<!\w){re.escape(name.strip())}(?!\w)", words, re.IGNORECASE):
            raise FieldError(
                field=field,
                wrong="it names the patient, and it is kept for good",
                allowed="words without a name or number of the patient",
                came=words,
            )
