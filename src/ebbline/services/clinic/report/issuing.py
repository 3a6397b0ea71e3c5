"""What drafting, signing and amending a report share: the issue, its pages, and the fresh look."""

from dataclasses import dataclass
from typing import Any

from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.result import Report, ReportStatus, Signature
from ebbline.core.clinic.record.visit import Test
from ebbline.core.clinic.record.written import read_moment, sha256
from ebbline.core.errors import ClinicError
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Act, Look
from ebbline.services.clinic.report.facts_of_test import name_of
from ebbline.services.clinic.report.interpret_test import interpretation_of
from ebbline.services.clinic.report.issue import DrawReport, EarlierVersion, Issue
from ebbline.services.clinic.service.settings_on_record import settings_on_record

REVIEWER = "reviewer"
"""The role in which a report is signed."""

SIGNED = ("signed", "amended")
"""Versions of a report that somebody answers for."""


@dataclass(frozen=True, slots=True)
class Said:
    """What a person says of a version of a report; ``signer`` is the id of a user or empty."""

    number: int
    status: ReportStatus
    author: str
    signer: str
    comment: str
    reason: str


def reports_of(look: Look, test_id: str) -> tuple[Kept[Report], ...]:
    """Return the reports of a test by their numbers.

    Parameters
    ----------
    look : Look
        The record.
    test_id : str
        The test.

    Returns
    -------
    tuple of Kept of Report
    """
    found = look.find(Report, {"test_id": test_id})
    return tuple(sorted(found, key=lambda one: one.entry.number))


def draw_pages(
    clinic: Clinic,
    act: Act,
    test: Test,
    interpretation: Interpretation,
    *,
    said: Said,
    draw: DrawReport,
) -> dict[str, Any]:
    """Draw a version of a report, and return the fields of the `Report` that come of it.

    Parameters
    ----------
    clinic : Clinic
        Time zone.
    act : Act
        The act at hand; the head of the history before it is printed.
    test : Test
        The test.
    interpretation : Interpretation
        What the pages show.
    said : Said
        Which version it is, and who answers for it.
    draw : DrawReport
        Draws the pages.

    Returns
    -------
    dict
        Number, status, author, digest, head, comment, reason and pages.
    """
    head_seq, head_hash = act.head()
    pages = draw(
        interpretation,
        Issue(
            test_number=test.number,
            version=said.number,
            status=said.status,
            reason=said.reason,
            comment=said.comment,
            stopped=_stopped(act, test),
            author=name_of(act, said.author),
            signer=name_of(act, said.signer) if said.signer else "",
            role=REVIEWER if said.signer else "",
            at=act.at.astimezone(clinic.zone),
            head_seq=head_seq,
            head_hash=head_hash,
            earlier=_earlier(clinic, act, test),
            contact=tuple(settings_on_record(act).get("report_contact", ())),
        ),
    )
    return {
        "number": said.number,
        "status": said.status,
        "author": said.author,
        "digest": sha256(pages),
        "head_seq": head_seq,
        "head_hash": head_hash,
        "comment": said.comment,
        "reason": said.reason,
        "pages": pages,
    }


def add_signature(clinic: Clinic, act: Act, who: Actor, report: Report) -> Signature:
    """Record the signature of the person at work under a version of a report.

    Parameters
    ----------
    clinic : Clinic
        Who is at work.
    act : Act
        The act at hand.
    who : Actor
        The reviewer.
    report : Report
        The version.

    Returns
    -------
    Signature
    """
    return act.add(
        Signature(
            id=act.new_id(),
            report_id=report.id,
            test_id=report.test_id,
            user_id=who.user_id,
            name=clinic.user(act, who).entry.name,
            role=REVIEWER,
            digest=report.digest,
        )
    )


def unchanged(clinic: Clinic, look: Look, test: Test, *, seen: str) -> Interpretation:
    """Return the interpretation as it stands, or refuse where it is not what the person saw.

    Parameters
    ----------
    clinic : Clinic
        Rules.
    look : Look
        The record.
    test : Test
        The test.
    seen : str
        Id of the interpretation that the person read.

    Returns
    -------
    Interpretation

    Raises
    ------
    ClinicError
        If anything that it depends on has changed since.
    """
    fresh = interpretation_of(clinic, look, test)
    if fresh.id != seen:
        raise ClinicError(
            field="interpretation",
            wrong="the test, a setting or a rule has changed since this was drawn",
            allowed=f"{fresh.id}, to be drawn and read first",
            came=seen or "nothing",
        )
    return fresh


def _stopped(look: Look, test: Test) -> str:
    """Return why a test was stopped before its end, empty where it was not."""
    for one in look.versions(Test, test.id):
        if one.entry.state == "stopped":
            return one.entry.state_why or "no reason on record"
    return ""


def _earlier(clinic: Clinic, look: Look, test: Test) -> tuple[EarlierVersion, ...]:
    found = []
    for one in reports_of(look, test.id):
        if one.entry.status not in SIGNED:
            continue
        signature = look.find(Signature, {"report_id": one.entry.id})[-1].entry
        at = read_moment(look.acts([one.seq])[0].at)
        found.append(
            EarlierVersion(
                version=one.entry.number,
                status=one.entry.status,
                at=at.astimezone(clinic.zone),
                signer=signature.name,
                reason=one.entry.reason,
                digest=one.entry.digest,
            )
        )
    return tuple(found)
