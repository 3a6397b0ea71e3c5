"""A second reader judges without the first, and the two are compared."""

from collections.abc import Mapping
from datetime import date

import pytest

from ebbline.core.clinic.record.result import SecondRead
from ebbline.core.clinic.record.staff import CompetenceProof, User
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import AccessError, ClinicError, FieldError
from ebbline.services.clinic.desk import Actor
from ebbline.services.clinic.report.second_read import compare_readers, second_read
from tests.scene import Scene
from tests.services.clinic.breaths import Drawn, draft, finished, put, sign
from tests.services.clinic.given import refused

MALABSORPTION = "carbohydrate-malabsorption"
METHANE = "methanogen-overgrowth"
BOTH = {MALABSORPTION: "positive", METHANE: "negative"}
FLAT = (5.0, 6.0, 5.0, 6.0, 5.0, 6.0)


def second_reviewer(scene: Scene) -> Actor:
    """Record another reviewer."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        user = act.add(User(act.new_id(), "cliff", "Dr O. Cliff", ("reviewer",), True))
        days = (date(2026, 1, 1), date(2026, 12, 31))
        act.add(CompetenceProof(act.new_id(), user.id, "review", *days, "shown"))
    return Actor(user.id)


def read(
    scene: Scene,
    who: Actor,
    test: Test,
    findings: Mapping[str, str] = BOTH,
    token: str | None = None,
) -> SecondRead:
    """Read a test."""
    return second_read(scene.clinic, who, test_id=test.id, findings=findings, token=token)


def test_a_second_reader_answers_every_question(scene: Scene) -> None:
    """Those of the adopted rule set about this sugar."""
    test, other = finished(scene), second_reviewer(scene)
    made = read(scene, other, test, token="tap-1")
    assert (made.user_id, made.findings) == (other.user_id, BOTH)
    assert read(scene, other, test, token="tap-1") == made


QUESTIONS = (
    "findings: not the questions of the adopted rule set; allowed: a finding for each of "
    "carbohydrate-malabsorption, methanogen-overgrowth; came: "
)
FINDINGS = "no finding; allowed: positive, negative, indeterminate or invalid; came: "


@pytest.mark.parametrize(
    ("findings", "text"),
    [
        ({MALABSORPTION: "positive"}, f"{QUESTIONS}carbohydrate-malabsorption"),
        ({}, f"{QUESTIONS}nothing"),
        ({MALABSORPTION: "positive", METHANE: "maybe"}, f"{METHANE}: {FINDINGS}maybe"),
        ({MALABSORPTION: "", METHANE: "negative"}, f"{MALABSORPTION}: {FINDINGS}nothing"),
    ],
)
def test_a_reading_with_gaps_is_refused(scene: Scene, findings: dict[str, str], text: str) -> None:
    """The refusal names the questions or the findings."""
    test = finished(scene)
    with refused(scene, FieldError, text):
        read(scene, scene.reviewer, test, findings)


def test_nobody_reads_twice(scene: Scene) -> None:
    """Neither the signer nor whoever has read it before."""
    test, drawn, other = finished(scene), Drawn(), second_reviewer(scene)
    sign(scene, draft(scene, test, drawn), drawn)
    text = (
        "reader: this person has read the test already; allowed: another reviewer; "
        "came: Dr L. Harbour"
    )
    with refused(scene, ClinicError, text):
        read(scene, scene.reviewer, test)
    read(scene, other, test)
    with refused(scene, ClinicError, text.replace("Dr L. Harbour", "Dr O. Cliff")):
        read(scene, other, test)


def test_a_test_that_goes_on_is_not_read(scene: Scene) -> None:
    """And the bench does not read."""
    test = put(scene, finished(scene), state="sampling")
    with pytest.raises(ClinicError, match="state: this is not done to a test that stands there"):
        read(scene, scene.reviewer, test)
    with pytest.raises(AccessError, match="this role may not read a test again"):
        read(scene, scene.bench, test)


def test_readers_are_compared_over_all_signed_tests(scene: Scene) -> None:
    """Two of three agree; kappa by hand: (2/3 - 4/9)/(1 - 4/9) = 0.4."""
    other = second_reviewer(scene)
    negative = {MALABSORPTION: "negative", METHANE: "negative"}
    for values, findings in ((None, BOTH), (None, negative), (FLAT, negative)):
        test = finished(scene) if values is None else finished(scene, values)
        drawn = Drawn()
        sign(scene, draft(scene, test, drawn), drawn)
        read(scene, other, test, findings)
    read(scene, other, finished(scene), negative)
    found = {one.question: one for one in compare_readers(scene.clinic, scene.auditor)}
    assert (found[MALABSORPTION].tests, found[MALABSORPTION].agreed) == (3, 2)
    assert found[MALABSORPTION].kappa == pytest.approx(0.4)
    assert (found[METHANE].tests, found[METHANE].agreed, found[METHANE].kappa) == (3, 3, None)


def test_without_a_second_reading_there_is_nothing_to_compare(scene: Scene) -> None:
    """No question is listed."""
    assert compare_readers(scene.clinic, scene.auditor) == ()
