"""A reviewer signs exactly the pages that are kept, of exactly what was drafted."""

from datetime import UTC, datetime, timedelta

import pytest

from ebbline.adapters.pdf.report import write_report
from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.result import Report, Signature, Snapshot
from ebbline.core.clinic.record.staff import Setting
from ebbline.core.clinic.record.visit import Test
from ebbline.core.clinic.record.written import sha256
from ebbline.core.errors import AccessError, ClinicError, ConflictError
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.clinic.report.issue import Issue
from ebbline.services.clinic.report.sign_report import sign_report
from tests.scene import Scene
from tests.services.clinic.bench.test_correct_sample import correct
from tests.services.clinic.bench.test_record_event import happen
from tests.services.clinic.breaths import (
    LIMITS,
    POSITIVE,
    Drawn,
    begun,
    draft,
    finished,
    proof,
    put,
    sampled,
    sign,
)
from tests.services.clinic.given import last_act, refused


def state_of(scene: Scene, test: Test) -> str:
    """Return where a test stands."""
    with scene.clinic.record.look() as look:
        return look.get(Test, test.id).entry.state


def test_a_draft_is_drawn_of_what_is_kept(scene: Scene) -> None:
    """Its pages, their digest, and the head of the history that they show."""
    test, drawn = finished(scene), Drawn()
    with scene.clinic.record.look() as look:
        head = look.head()
    made = draft(scene, test, drawn, comment=" see below ", token="tap-1")
    with scene.clinic.record.look() as look:
        kept = look.get(Snapshot, made.snapshot_id).entry
    assert (made.number, made.status, made.comment) == (1, "draft", "see below")
    assert made.pages == f"%PDF {kept.interpretation} 1-1 draft ".encode()
    assert made.digest == sha256(made.pages)
    assert (made.head_seq, made.head_hash) == head
    assert state_of(scene, test) == "drafted"
    assert draft(scene, test, drawn, comment="see below", token="tap-1") == made
    assert len(drawn.issues) == 1


def test_the_issue_says_who_when_and_whom_to_ask(scene: Scene) -> None:
    """In the clinic's zone, with the contact lines of the service."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.add(Setting(act.new_id(), "report_contact", {"value": ["Harbour Clinic", "room 1"]}))
    test, drawn = finished(scene), Drawn()
    draft(scene, test, drawn)
    (issue,) = drawn.issues
    assert (issue.author, issue.signer, issue.role, issue.stopped) == ("M. Tide", "", "", "")
    assert issue.at == datetime(2026, 11, 27, 11, 10, tzinfo=UTC)
    assert issue.at.tzinfo == scene.clinic.zone
    assert issue.contact == ("Harbour Clinic", "room 1")
    assert issue.earlier == ()


def test_a_draft_is_drawn_again_as_a_version_of_itself(scene: Scene) -> None:
    """The earlier pages stay readable."""
    test, drawn = finished(scene), Drawn()
    first = draft(scene, test, drawn)
    happen(scene, test, "slept")
    second = draft(scene, test, drawn)
    assert (second.id, second.number) == (first.id, 1)
    assert second.pages != first.pages
    with scene.clinic.record.look() as look:
        assert [one.entry.pages for one in look.versions(Report, first.id)] == [
            first.pages,
            second.pages,
        ]
        assert len(look.find(Snapshot, {"test_id": test.id})) == 2


@pytest.mark.parametrize("state", ["sampling", "signed"])
def test_no_draft_of_a_test_that_goes_on_or_is_signed(scene: Scene, state: str) -> None:
    """What is signed is amended."""
    test = put(scene, finished(scene), state=state)
    text = (
        "state: this is not done to a test that stands there; allowed: finished, stopped or "
        f"drafted; came: {state}"
    )
    with refused(scene, ClinicError, text):
        draft(scene, test, Drawn())


def test_a_stopped_test_is_reported_as_stopped(scene: Scene) -> None:
    """With its reason, though the state has gone on since."""
    test, drawn = begun(scene), Drawn()
    sampled(scene, test, POSITIVE[:3])
    put(scene, test, state="stopped", state_why="felt faint")
    sign(scene, draft(scene, test, drawn), drawn)
    assert [one.stopped for one in drawn.issues] == ["felt faint", "felt faint"]


def test_a_test_without_any_reading_can_be_reported(scene: Scene) -> None:
    """Stopped before the first breath; the pages can be drawn, and find nothing."""
    test = scene.test(substrate="lactose", state="arrived")
    put(scene, test, state="stopped", state_why="went home")

    def draw(interpretation: Interpretation, issue: Issue) -> bytes:
        return write_report(interpretation, paper="a4", issue=issue)

    made = draft(scene, test, Drawn(), draw=draw)
    assert made.pages.startswith(b"%PDF-")


def test_a_reviewer_signs(scene: Scene) -> None:
    """Pages, digest, name, role and time are kept; the test is signed."""
    test, drawn = finished(scene), Drawn()
    made = draft(scene, test, drawn)
    scene.clock.pass_minutes(20)
    signed = sign(scene, made, drawn, comment="lactose is not absorbed", token="tap-1")
    assert (signed.id, signed.number, signed.status) == (made.id, 1, "signed")
    assert (signed.comment, signed.author) == ("lactose is not absorbed", scene.bench.user_id)
    assert signed.pages.endswith(b" 1-1 signed Dr L. Harbour")
    issue = drawn.issues[-1]
    assert (issue.author, issue.signer, issue.role) == ("M. Tide", "Dr L. Harbour", "reviewer")
    assert (issue.at, issue.comment) == (scene.clock.at, "lactose is not absorbed")
    with scene.clinic.record.look() as look:
        (signature,) = (one.entry for one in look.find(Signature, {"report_id": made.id}))
    assert (signature.user_id, signature.name, signature.role) == (
        scene.reviewer.user_id,
        "Dr L. Harbour",
        "reviewer",
    )
    assert signature.digest == signed.digest == sha256(signed.pages)
    assert state_of(scene, test) == "signed"
    scene.clock.pass_minutes(20)
    assert sign(scene, made, drawn, comment="lactose is not absorbed", token="tap-1") == signed
    assert last_act(scene)[0] == "sign report"


def test_what_changed_since_the_draft_is_not_signed(scene: Scene) -> None:
    """A value, an event or a setting; drawn again it can be."""
    test, drawn = finished(scene), Drawn()
    made = draft(scene, test, drawn)
    with scene.clinic.record.look() as look:
        old = look.get(Snapshot, made.snapshot_id).entry.interpretation
        sample = look.find(SampleTry, {"test_id": test.id})[3].entry
    correct(scene, sample)
    with pytest.raises(ClinicError) as caught:
        sign(scene, made, drawn)
    assert str(caught.value).startswith(
        "interpretation: the test, a setting or a rule has changed since this was drawn; allowed: "
    )
    assert str(caught.value).endswith(f", to be drawn and read first; came: {old}")
    assert state_of(scene, test) == "drafted"
    again = draft(scene, test, drawn)
    assert sign(scene, again, drawn, version=2).status == "signed"


def test_a_draft_that_was_drawn_again_is_not_signed_unseen(scene: Scene) -> None:
    """The reviewer had read the one before."""
    test, drawn = finished(scene), Drawn()
    made = draft(scene, test, drawn)
    draft(scene, test, drawn, comment="another word")
    with pytest.raises(ConflictError):
        sign(scene, made, drawn)
    assert state_of(scene, test) == "drafted"


def test_the_password_is_given_just_now_by_the_one_who_signs(scene: Scene) -> None:
    """Not by another, and not two minutes ago."""
    test, drawn = finished(scene), Drawn()
    made = draft(scene, test, drawn)
    text = (
        "password: somebody else gave the password; allowed: the password of the person who signs; "
        "came: that of another person"
    )
    with refused(scene, AccessError, text):
        sign(scene, made, drawn, proof=proof(scene, scene.manager))
    given = proof(scene, scene.reviewer)
    scene.clock.at += timedelta(seconds=121)
    text = (
        "password: the password was not given just now; allowed: at most 2 min before signing; "
        "came: 3 min before"
    )
    with refused(scene, AccessError, text):
        sign(scene, made, drawn, proof=given)


def test_only_a_reviewer_signs(scene: Scene) -> None:
    """Whoever drafted it does not, with whatever password."""
    test, drawn = finished(scene), Drawn()
    made = draft(scene, test, drawn)
    with pytest.raises(AccessError, match="sign report: this role may not sign a report"):
        sign_report(
            scene.clinic,
            scene.bench,
            report_id=made.id,
            version=1,
            comment="",
            proof=proof(scene, scene.bench),
            limits=LIMITS,
            draw=drawn,
            token=None,
        )


def test_what_is_signed_is_not_signed_again(scene: Scene) -> None:
    """It is amended."""
    test, drawn = finished(scene), Drawn()
    made = draft(scene, test, drawn)
    sign(scene, made, drawn)
    text = (
        "report: this report is signed already; allowed: a draft; what is signed is amended, with "
        "a reason; came: signed"
    )
    with refused(scene, ClinicError, text):
        sign(scene, made, drawn, version=2)


def test_the_pages_of_a_signed_report_are_drawn_by_the_adapter(scene: Scene) -> None:
    """A real report, kept byte for byte."""
    test = finished(scene)

    def draw(interpretation: Interpretation, issue: Issue) -> bytes:
        return write_report(interpretation, paper="a4", issue=issue)

    made = draft(scene, test, Drawn(), draw=draw)
    signed = sign(scene, made, Drawn(), draw=draw)
    assert signed.pages.startswith(b"%PDF-")
    assert signed.pages != made.pages
    assert signed.digest == sha256(signed.pages)
