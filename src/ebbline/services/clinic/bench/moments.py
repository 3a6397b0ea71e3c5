"""When something at the bench happened, as a person says: not to come, and not long gone."""

from datetime import datetime, timedelta

from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.entered import between
from ebbline.services.clinic.ports import Act


def happened_at(clinic: Clinic, act: Act, at: datetime | None) -> datetime:
    """Return when something happened, in UTC.

    Parameters
    ----------
    clinic : Clinic
        Says how long ago it may have been.
    act : Act
        The act that records it.
    at : datetime or None
        What the person says; None for now.

    Returns
    -------
    datetime

    Raises
    ------
    FieldError
        If it has no zone, has not come yet, or is too long ago.
    """
    if at is None:
        return act.at
    oldest = act.at - timedelta(hours=clinic.rules.bench.oldest_hours)
    return between("at", at, earliest=oldest, latest=act.at)
