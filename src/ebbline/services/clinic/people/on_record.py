"""Who a patient is by the record, for holding against what somebody says."""

from ebbline.core.clinic.identify import OnRecord
from ebbline.services.clinic.people.register_patient import identity_of
from ebbline.services.clinic.ports import Look


def on_record(look: Look, patient_id: str) -> OnRecord:
    """Return who a patient is.

    Parameters
    ----------
    look : Look
        The record.
    patient_id : str
        The patient.

    Returns
    -------
    OnRecord
    """
    known = identity_of(look, patient_id).entry
    return OnRecord(
        family_name=known.family_name,
        given_name=known.given_name,
        born=known.born,
        record_no=known.record_no,
        national_no=known.national_no,
    )
