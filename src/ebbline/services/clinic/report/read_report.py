"""Read any version of a report, drafts and replaced ones included."""

from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.result import Report
from ebbline.core.errors import FieldError
from ebbline.services.clinic.desk import Actor, Clinic


def read_report(clinic: Clinic, who: Actor, *, report_id: str, version: int | None) -> Kept[Report]:
    """Return a report as it stands, or as it was in an earlier version of its entry.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who reads.
    report_id : str
        The report.
    version : int or None
        The version of its entry; None for the one that stands.

    Returns
    -------
    Kept of Report

    Raises
    ------
    FieldError
        If there is no such report or version.
    """
    with clinic.look(who) as look:
        stands = look.get(Report, report_id)
        versions = {one.version: one for one in look.versions(Report, report_id)}
    wanted = stands.version if version is None else version
    if wanted not in versions:
        raise FieldError(
            field="version",
            wrong="the report has no such version",
            allowed=f"1 to {stands.version}",
            came=str(wanted),
        )
    return versions[wanted]
