"""A signed report is amended by a new version; what was signed before stays readable."""

from typing import Any

import pytest

from ebbline.adapters.files.interpretation_document import document_line
from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.result import Report, Signature
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import AccessError, ClinicError, FieldError
from ebbline.services.clinic.report.amend_report import amend_report
from ebbline.services.clinic.report.read_report import read_report
from tests.scene import Scene
from tests.services.clinic.bench.test_correct_sample import correct, correction
from tests.services.clinic.breaths import LIMITS, Drawn, draft, finished, proof, sign, typed
from tests.services.clinic.given import refused
from tests.services.clinic.report.test_interpret_test import keep
from tests.services.clinic.report.test_sign_report import state_of


def signed(scene: Scene, drawn: Drawn) -> tuple[Test, Report]:
    """Return a test with its signed report."""
    test = finished(scene)
    return test, sign(scene, draft(scene, test, drawn), drawn)


def corrected(scene: Scene, test: Test) -> None:
    """Put a value of a signed test right."""
    with scene.clinic.record.look() as look:
        sample = look.find(SampleTry, {"test_id": test.id})[3].entry
    right = correction(breath=typed(19.0))
    correct(scene, sample, correction=right, will_amend=True)


def amend(scene: Scene, test: Test, drawn: Drawn, **changes: Any) -> Report:
    """Amend the report of a test as the reviewer who has read it as it stands."""
    given: dict[str, Any] = {
        "test_id": test.id,
        "interpretation": keep(scene, test).interpretation,
        "comment": "",
        "why": "90 min was typed wrongly",
        "proof": proof(scene, scene.reviewer),
        "limits": LIMITS,
        "write": document_line,
        "draw": drawn,
        "token": None,
    }
    return amend_report(scene.clinic, scene.reviewer, **{**given, **changes})


def test_an_amended_report_says_why_and_what_it_replaces(scene: Scene) -> None:
    """A new version with a signature of its own."""
    drawn = Drawn()
    test, first = signed(scene, drawn)
    signed_at = scene.clock.at
    scene.clock.pass_minutes(60)
    corrected(scene, test)
    new = amend(scene, test, drawn, token="tap-1")
    assert (new.number, new.status, new.reason) == (2, "amended", "90 min was typed wrongly")
    assert new.pages.endswith(b" 1-2 amended Dr L. Harbour")
    issue = drawn.issues[-1]
    assert (issue.name, issue.reason) == ("1-2", "90 min was typed wrongly")
    (earlier,) = issue.earlier
    assert (earlier.version, earlier.status, earlier.signer) == (1, "signed", "Dr L. Harbour")
    assert (earlier.at, earlier.digest, earlier.reason) == (signed_at, first.digest, "")
    with scene.clinic.record.look() as look:
        assert [one.entry.digest for one in look.find(Signature, {"test_id": test.id})] == [
            first.digest,
            new.digest,
        ]
    assert state_of(scene, test) == "amended"
    assert amend(scene, test, drawn, token="tap-1") == new


def test_every_version_stays_readable(scene: Scene) -> None:
    """The draft, what was signed, and each amendment."""
    drawn = Drawn()
    test, first = signed(scene, drawn)
    corrected(scene, test)
    second = amend(scene, test, drawn)
    third = amend(scene, test, drawn, why="a word was missing")
    assert [issue.name for issue in drawn.issues] == ["1-1", "1-1", "1-2", "1-3"]
    assert [(one.version, one.reason) for one in drawn.issues[-1].earlier] == [
        (1, ""),
        (2, "90 min was typed wrongly"),
    ]
    read = read_report(scene.clinic, scene.auditor, report_id=first.id, version=None)
    assert read.entry == first
    was = read_report(scene.clinic, scene.auditor, report_id=first.id, version=1).entry
    assert was.status == "draft"
    assert was.pages.endswith(b" 1-1 draft ")
    for one in (second, third):
        read = read_report(scene.clinic, scene.auditor, report_id=one.id, version=None)
        assert read.entry.pages == one.pages
    text = "version: the report has no such version; allowed: 1 to 2; came: 3"
    with refused(scene, FieldError, text):
        read_report(scene.clinic, scene.auditor, report_id=first.id, version=3)


def test_what_was_not_read_is_not_amended(scene: Scene) -> None:
    """The interpretation that the reviewer saw must be the one that is signed."""
    drawn = Drawn()
    test, _ = signed(scene, drawn)
    seen = keep(scene, test).interpretation
    corrected(scene, test)
    with pytest.raises(ClinicError, match=f"drawn; allowed: .*, to be drawn.*; came: {seen}"):
        amend(scene, test, drawn, interpretation=seen)
    with pytest.raises(ClinicError, match="came: nothing"):
        amend(scene, test, drawn, interpretation="")


def test_reason_password_and_role_are_asked_for(scene: Scene) -> None:
    """As for a signature."""
    drawn = Drawn()
    test, _ = signed(scene, drawn)
    keep(scene, test)
    with refused(scene, FieldError, "why: missing; allowed: a reason in words; came: nothing"):
        amend(scene, test, drawn, why=" ")
    with pytest.raises(AccessError, match="password: somebody else gave the password"):
        amend(scene, test, drawn, proof=proof(scene, scene.bench))
    with pytest.raises(AccessError, match="amend report: this role may not sign a new version"):
        amend_report(
            scene.clinic,
            scene.bench,
            test_id=test.id,
            interpretation="",
            comment="",
            why="x",
            proof=proof(scene, scene.bench),
            limits=LIMITS,
            write=document_line,
            draw=drawn,
            token=None,
        )


def test_a_draft_is_signed_and_not_amended(scene: Scene) -> None:
    """There is nothing that it would replace."""
    drawn = Drawn()
    test = finished(scene)
    draft(scene, test, drawn)
    text = (
        "state: this is not done to a test that stands there; allowed: signed or amended; "
        "came: drafted"
    )
    with refused(scene, ClinicError, text):
        amend(scene, test, drawn)
