"""Whose breath is it: asked before every sample, since another patient's is the worst mistake."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from ebbline.core.clinic.identify import check_identifiers, fits
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, FieldError
from ebbline.services.clinic.people.on_record import on_record
from ebbline.services.clinic.ports import Look

HERE = ("arrived", "cleared", "dosed", "sampling")
"""Where the test of a patient stands who is in the clinic."""

LABEL = "label"
"""What is kept where a label told whose breath it is."""


@dataclass(frozen=True, slots=True)
class Checked:
    """What told the operator whose breath it is: one of the two.

    ``label`` is the text that was scanned off the patient's label, the id or the number of a test;
    ``said`` is what the patient answered, by the names of `ebbline.core.clinic.identify.KIND_OF`.
    """

    label: str
    said: Mapping[str, str | date]


def right_patient(look: Look, test: Test, checked: Checked) -> tuple[str, ...]:
    """Return what told that it is the patient of a test, or refuse.

    Parameters
    ----------
    look : Look
        The record.
    test : Test
        The test that the sample is meant for.
    checked : Checked
        What was scanned or said.

    Returns
    -------
    tuple of str
        ``label``, or the names of the identifiers.

    Raises
    ------
    FieldError
        If nothing was checked, or a label and answers came together.
    ClinicError
        If the label is of another test, an answer does not fit, or the answers fit another patient
        who is here as well.
    """
    if bool(checked.label) == bool(checked.said):
        raise FieldError(
            field="checked",
            wrong="nobody knows whose breath this is",
            allowed="a label that was scanned, or two identifiers that the patient said",
            came="both" if checked.label else "nothing",
        )
    if checked.label:
        if checked.label.strip() not in (test.id, str(test.number)):
            raise ClinicError(
                field="label",
                wrong="the label is of another test",
                allowed=f"the label of test {test.number}",
                came=checked.label,
            )
        return (LABEL,)
    found = check_identifiers(on_record(look, test.patient_id), checked.said)
    for other in look.find(Test, {"state": HERE}):
        patient = other.entry.patient_id
        if patient != test.patient_id and fits(on_record(look, patient), checked.said):
            raise ClinicError(
                field="identity",
                wrong="what was said fits another patient who is here as well",
                allowed="one more identifier, or the patient's label",
                came=" and ".join(found),
            )
    return found
