"""Sign a report: a reviewer answers for exactly the pages that the record keeps."""

from dataclasses import replace

from ebbline.core.clinic.access import PasswordProof, check_proof
from ebbline.core.clinic.access_table import ProofLimits
from ebbline.core.clinic.record.result import Report, Snapshot
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.report.issue import DrawReport
from ebbline.services.clinic.report.issuing import Said, add_signature, draw_pages, unchanged
from ebbline.services.clinic.steps import step


def sign_report(
    clinic: Clinic,
    who: Actor,
    *,
    report_id: str,
    version: int,
    comment: str,
    proof: PasswordProof,
    limits: ProofLimits,
    draw: DrawReport,
    token: str | None,
) -> Report:
    """Sign the draft of a report.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        The reviewer.
    report_id : str
        The draft.
    version : int
        The version of the draft that the reviewer read.
    comment : str
        The reviewer's words on the report; may be empty.
    proof : PasswordProof
        That the reviewer has just given the password.
    limits : ProofLimits
        How long that counts.
    draw : DrawReport
        Draws the pages.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Report
        With the signed pages and their digest.

    Raises
    ------
    AccessError
        If the person is no reviewer, or did not just give the password.
    ClinicError
        If it is no draft, or anything has changed since it was drawn.
    ConflictError
        If it was drafted again since it was read.
    """
    comment = comment.strip()
    with clinic.act("sign report", who, why="", token=token) as act:

        def same(one: Report) -> bool:
            return (one.id, one.status, one.comment) == (report_id, "signed", comment)

        before = repeated(act, Report, token, same=same)
        if before is not None:
            return before
        check_proof(proof, who.user_id, now=act.at, limits=limits)
        draft = act.get(Report, report_id).entry
        if draft.status != "draft":
            raise ClinicError(
                field="report",
                wrong="this report is signed already",
                allowed="a draft; what is signed is amended, with a reason",
                came=draft.status,
            )
        test = act.get(Test, draft.test_id)
        seen = act.get(Snapshot, draft.snapshot_id).entry.interpretation
        interpretation = unchanged(clinic, act, test.entry, seen=seen)
        fields = draw_pages(
            clinic,
            act,
            test.entry,
            interpretation,
            said=Said(
                number=draft.number,
                status="signed",
                author=draft.author,
                signer=who.user_id,
                comment=comment,
                reason="",
            ),
            draw=draw,
        )
        signed = act.revise(replace(draft, **fields), version=version)
        add_signature(clinic, act, who, signed)
        step(
            clinic,
            act,
            test.entry,
            version=test.version,
            to="signed",
            also=("reviewer", "password"),
        )
        return signed
