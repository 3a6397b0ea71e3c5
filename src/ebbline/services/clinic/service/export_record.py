"""Export one patient or the whole record; the history says so before a file is written."""

from collections.abc import Callable

from ebbline.core.clinic.record.people import Identity, Patient
from ebbline.core.errors import FieldError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Look

ACT = "export"
"""The act, by data/roles.toml."""

Write = Callable[[str | None, bool], int]
"""Patient, or None for all, and whether with identity, to the number of rows written."""


def find_patient(look: Look, named: str) -> str:
    """Return the id of the patient whom an id or a record number names.

    Parameters
    ----------
    look : Look
        The record.
    named : str
        Id of a patient, or record number of the service.

    Returns
    -------
    str

    Raises
    ------
    FieldError
        If it names nobody, or more than one patient.
    """
    if named and look.find(Patient, {"id": named}):
        return named
    found = {one.entry.patient_id for one in look.find(Identity, {"record_no": named})}
    if len(found) != 1 or not named:
        raise FieldError(
            field="patient",
            wrong="it names more than one patient" if len(found) > 1 else "it names no patient",
            allowed="a record number or the id of a patient",
            came=f"{named}, of {', '.join(sorted(found))}"
            if len(found) > 1
            else named or "nothing",
        )
    return found.pop()


def export_record(
    clinic: Clinic,
    who: Actor,
    *,
    patient: str | None,
    identity: bool,
    why: str,
    token: str | None,
    write: Write,
) -> int:
    """Record that data leave the record, then write them.

    The history says so even where writing fails afterwards: it may say too much, never too little.

    Parameters
    ----------
    clinic : Clinic
        Where it is done.
    who : Actor
        A reviewer or manager.
    patient : str or None
        Record number or id of a patient; None for everything.
    identity : bool
        Whether with the fields that may tell who somebody is.
    why : str
        What the export is for.
    token : str or None
        What the sender calls this act.
    write : callable
        Writes the files.

    Returns
    -------
    int
        How many rows were written.

    Raises
    ------
    FieldError
        If no reason is given, or the patient is not one.
    AccessError
        If the person may not export.
    """
    if not why.strip():
        raise FieldError(
            field="why",
            wrong="a reason is missing",
            allowed="what the export is for",
            came="nothing",
        )
    with clinic.act(ACT, who, why=why, token=token) as act:
        patient_id = None if patient is None else find_patient(act, patient)
        about = "the whole record" if patient_id is None else f"patient {patient_id}"
        names = "with names" if identity else "without names"
        if token is None or act.done(token) is None:
            act.warn(f"The record does not guard what has left it: {about}, {names}.")
    return write(patient_id, identity)
