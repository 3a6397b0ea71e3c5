"""What a report of the record says of itself: version, signature, and where the record stood."""

from datetime import datetime

from ebbline.adapters.chart.wording import words
from ebbline.adapters.pdf.facts import Field
from ebbline.core.errors import ReportError
from ebbline.services.clinic.report.issue import Issue

NOT_SIGNED = "draft, not signed"


def check_issue(issue: Issue) -> None:
    """Refuse to draw what cannot be: pages that say of themselves what is not so.

    Parameters
    ----------
    issue : Issue
        The version of the report.

    Raises
    ------
    ReportError
        If status, signer, reason and versions do not fit together, or a moment has no zone.
    """
    if issue.status == "draft" and issue.signer:
        raise _refused("a draft that is signed", "a draft without a signer", issue.signer)
    if issue.status != "draft" and not (issue.signer.strip() and issue.role.strip()):
        came = repr(issue.signer if not issue.signer.strip() else issue.role)
        raise _refused(f"{issue.status} by nobody", "the signer's name and role", came)
    if issue.status == "amended" and replaced(issue) is None:
        raise _refused("an amendment of nothing", "a version that was signed before", "none")
    if issue.status == "amended" and not issue.reason.strip():
        raise _refused("an amendment without a reason", "a reason", repr(issue.reason))
    for at in (issue.at, *(one.at for one in issue.earlier)):
        if at.tzinfo is None:
            raise _refused("a moment without a zone", "a moment with its zone", at.isoformat())


def replaced(issue: Issue) -> int | None:
    """Return the version that was in force before: the last that was signed; None for none."""
    signed = [one.version for one in issue.earlier if one.status != "draft"]
    return signed[-1] if signed else None


def moment(at: datetime) -> str:
    """Return a moment with its zone, ``2026-11-24 15:02 UTC+01:00``."""
    zone = f"{at:%z}"
    named = "UTC" if zone == "+0000" else f"UTC{zone[:3]}:{zone[3:5]}"
    return f"{at:%Y-%m-%d %H:%M} {named}"


def status_line(issue: Issue) -> str:
    """Return what every page says of the report's standing.

    Parameters
    ----------
    issue : Issue
        The version of the report.

    Returns
    -------
    str
        Such as ``signed by NAME, ROLE, on DATE TIME ZONE``.
    """
    before = replaced(issue)
    if issue.status == "draft":
        if before is None:
            return NOT_SIGNED
        why = f": {issue.reason}" if issue.reason else ""
        return f"{NOT_SIGNED}, is to replace version {before}{why}"
    signed = f"signed by {issue.signer}, {issue.role}, on {moment(issue.at)}"
    if issue.status == "signed":
        return signed
    return f"amended, version {issue.version}, replaces version {before}: {issue.reason}; {signed}"


def name_of(issue: Issue) -> str:
    """Return the report's name and its version, ``42-1, version 1``."""
    return f"{issue.name}, version {issue.version}"


def chain_line(issue: Issue) -> str:
    """Return where the record stood when the pages were drawn, and what that is for."""
    text: str = words()["record"]["chain"]
    return text.format(act=issue.head_seq, hash=issue.head_hash)


def version_lines(issue: Issue) -> list[str]:
    """Return one line for each earlier version, which stays on record under its digest."""
    lines = []
    for one in issue.earlier:
        by = f" by {one.signer}" if one.signer else ""
        why = f": {one.reason}" if one.reason else ""
        lines.append(
            f"Version {one.version}, {one.status}{by}, {moment(one.at)}{why}; SHA-256 {one.digest}"
        )
    return lines


def signatures(issue: Issue) -> list[Field]:
    """Return who answers for the report, in which role, since when."""
    draft = issue.status == "draft"
    when = {"label": "Drafted" if draft else "Signed", "value": moment(issue.at)}
    return [
        {"label": "Author", "value": issue.author},
        {"label": "Reviewer", "value": "not signed" if draft else issue.signer},
        *([] if draft else [{"label": "Role", "value": issue.role}]),
        when,
    ]


def _refused(wrong: str, allowed: str, came: str) -> ReportError:
    return ReportError(f"the report cannot be issued: {wrong}; allowed: {allowed}; came: {came}")
