"""Amend a signed report: a new version is signed with a reason, and the old one stays readable."""

from ebbline.core.clinic.access import PasswordProof, check_proof
from ebbline.core.clinic.access_table import ProofLimits
from ebbline.core.clinic.record.result import Report
from ebbline.services.clinic.bench.after_signing import SIGNED
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import reason as given_reason
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.report.interpret_test import WriteDocument, keep_snapshot
from ebbline.services.clinic.report.issue import DrawReport
from ebbline.services.clinic.report.issuing import (
    Said,
    add_signature,
    draw_pages,
    reports_of,
    unchanged,
)
from ebbline.services.clinic.steps import standing_in, step


def amend_report(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    interpretation: str,
    comment: str,
    why: str,
    proof: PasswordProof,
    limits: ProofLimits,
    write: WriteDocument,
    draw: DrawReport,
    token: str | None,
) -> Report:
    """Sign a new version of a report.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        The reviewer.
    test_id : str
        The test, whose report is signed.
    interpretation : str
        Id of the interpretation that the reviewer has read, as `interpret_test` keeps it.
    comment : str
        The reviewer's words on the report; may be empty.
    why : str
        Why it is amended; it is printed.
    proof : PasswordProof
        That the reviewer has just given the password.
    limits : ProofLimits
        How long that counts.
    write : WriteDocument
        Writes the interpretation that is kept.
    draw : DrawReport
        Draws the pages.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Report

    Raises
    ------
    AccessError
        If the person is no reviewer, or did not just give the password.
    FieldError
        If no reason is given.
    ClinicError
        If no report is signed, or anything has changed since the interpretation was read.
    """
    why, comment = given_reason(why), comment.strip()
    with clinic.act("amend report", who, why=why, token=token) as act:

        def same(one: Report) -> bool:
            return (one.test_id, one.status, one.reason) == (test_id, "amended", why)

        before = repeated(act, Report, token, same=same)
        if before is not None:
            return before
        check_proof(proof, who.user_id, now=act.at, limits=limits)
        test = standing_in(act, test_id, states=SIGNED)
        fresh = unchanged(clinic, act, test.entry, seen=interpretation)
        snapshot = keep_snapshot(act, test.entry, fresh, write)
        fields = draw_pages(
            clinic,
            act,
            test.entry,
            fresh,
            said=Said(
                number=reports_of(act, test_id)[-1].entry.number + 1,
                status="amended",
                author=who.user_id,
                signer=who.user_id,
                comment=comment,
                reason=why,
            ),
            draw=draw,
        )
        amended = act.add(
            Report(id=act.new_id(), test_id=test_id, snapshot_id=snapshot.id, **fields)
        )
        add_signature(clinic, act, who, amended)
        step(
            clinic,
            act,
            test.entry,
            version=test.version,
            to="amended",
            also=("reviewer", "password", "amendment-reason", "interpretation"),
        )
        return amended
