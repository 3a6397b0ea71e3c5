"""Draft the report of a test: its pages as a reviewer will read them, marked as not signed."""

from dataclasses import replace

from ebbline.core.clinic.record.result import Report
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.report.interpret_test import (
    WriteDocument,
    interpretation_of,
    keep_snapshot,
)
from ebbline.services.clinic.report.issue import DrawReport
from ebbline.services.clinic.report.issuing import Said, draw_pages, reports_of
from ebbline.services.clinic.steps import standing_in, step


def draft_report(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    comment: str,
    write: WriteDocument,
    draw: DrawReport,
    token: str | None,
) -> Report:
    """Draft a report, or draft it again after something has changed.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who drafts it.
    test_id : str
        The test, finished or stopped.
    comment : str
        Words on the report; may be empty.
    write : WriteDocument
        Writes the interpretation that is kept.
    draw : DrawReport
        Draws the pages.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Report
        Drafting again makes a new version of the same draft; the earlier one stays readable.

    Raises
    ------
    ClinicError
        If the test is not finished or stopped, or a report is signed already.
    """
    comment = comment.strip()
    with clinic.act("draft report", who, why="", token=token) as act:

        def same(one: Report) -> bool:
            return (one.test_id, one.status, one.comment) == (test_id, "draft", comment)

        before = repeated(act, Report, token, same=same)
        if before is not None:
            return before
        test = standing_in(act, test_id, states=("finished", "stopped", "drafted"))
        interpretation = interpretation_of(clinic, act, test.entry)
        snapshot = keep_snapshot(act, test.entry, interpretation, write)
        fields = draw_pages(
            clinic,
            act,
            test.entry,
            interpretation,
            said=Said(
                number=1, status="draft", author=who.user_id, signer="", comment=comment, reason=""
            ),
            draw=draw,
        )
        step(
            clinic,
            act,
            test.entry,
            version=test.version,
            to="drafted",
            also=("interpretation",),
        )
        drafts = reports_of(act, test_id)
        if drafts:
            draft = drafts[-1]
            return act.revise(
                replace(draft.entry, snapshot_id=snapshot.id, **fields), version=draft.version
            )
        return act.add(Report(id=act.new_id(), test_id=test_id, snapshot_id=snapshot.id, **fields))
