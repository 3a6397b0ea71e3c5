"""One whole visit by the use cases alone, from the referral to the signed report and its PDF."""

import io
from datetime import date

from pypdf import PdfReader

from ebbline.adapters.files.interpretation_document import document_line
from ebbline.adapters.pdf.report import write_report
from ebbline.core.clinic.preparation import Answer
from ebbline.core.clinic.record.result import Report
from ebbline.core.clinic.record.visit import Test
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.clinic.bench.finish_test import finish_test
from ebbline.services.clinic.report.draft_report import draft_report
from ebbline.services.clinic.report.issue import Issue
from ebbline.services.clinic.visit.answer_preparation import answer_preparation, decide_preparation
from ebbline.services.clinic.visit.answer_safety import answer_safety
from ebbline.services.clinic.visit.clear_test import clear_test
from ebbline.services.clinic.visit.hand_over import hand_over
from ebbline.services.clinic.visit.prepare_dose import prepare_dose
from ebbline.services.clinic.visit.record_t0 import record_t0
from tests.scene import Scene
from tests.services.clinic.bench.test_miss_sample import miss
from tests.services.clinic.bench.test_record_event import happen
from tests.services.clinic.bench.test_record_symptoms import score
from tests.services.clinic.breaths import Drawn, go, sampled, sign, take
from tests.services.clinic.given import LACTOSE, REQUEST, all_kept, all_no
from tests.services.clinic.report.test_amend_report import amend, corrected
from tests.services.clinic.test_visit import IDA, received, sent


def draw(interpretation: Interpretation, issue: Issue) -> bytes:
    """Draw a real report."""
    return write_report(interpretation, paper="a4", issue=issue)


def words_of(report: Report) -> str:
    """Return the text of a report with single spaces."""
    pages = PdfReader(io.BytesIO(report.pages)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def dosed(scene: Scene) -> Test:
    """Return a test at minute 0, with one deviation that was decided on."""
    test = sent(scene, IDA, REQUEST, LACTOSE)
    received(scene, test, IDA)
    clinic, bench = scene.clinic, scene.bench
    answers = all_kept("lactose", age_years=47.45) | {"smoking": Answer("yes", None)}
    answer_preparation(
        clinic, bench, test_id=test.id, version=0, guidance="service", answers=answers, token=None
    )
    decide_preparation(
        clinic, bench, test_id=test.id, version=1, item="smoking", go_ahead=True,
        by_name="Dr L. Harbour", reason="one cigarette at six", token=None,
    )  # fmt: skip
    answer_safety(clinic, bench, test_id=test.id, version=0, answers=all_no("lactose"), token=None)
    clear_test(clinic, bench, test_id=test.id, version=2, token=None)
    go(scene, test, take(scene, test, 5.0))
    prepare_dose(
        clinic, bench, test_id=test.id, version=0, rule="lactose-adult-25", prepared_g=25.1,
        lot="L1", expiry=date(2027, 6, 30), token=None,
    )  # fmt: skip
    hand_over(clinic, bench, test_id=test.id, version=3, token=None)
    scene.clock.pass_minutes(10)
    return record_t0(clinic, bench, test_id=test.id, version=4, at=None, drunk="all", token=None)


def test_from_the_referral_to_the_amended_report(scene: Scene) -> None:
    """What happened on the way stands on the pages, and every version keeps its own."""
    test = dosed(scene)
    score(scene, test)
    sampled(scene, test, [6.0, 13.0, 29.0])
    happen(scene, test, "walked")
    sampled(scene, test, [41.0, 44.0])
    miss(scene, test, 180.0, why="went home by bus")
    finish_test(scene.clinic, scene.bench, test_id=test.id, version=5, token=None)
    made = draft_report(
        scene.clinic, scene.bench, test_id=test.id, comment="", write=document_line, draw=draw,
        token=None,
    )  # fmt: skip
    assert "draft, not signed" in words_of(made)
    signed = sign(scene, made, Drawn(), draw=draw)
    text = words_of(signed)
    for words in (
        "signed by Dr L. Harbour, reviewer",
        "Ida Küste",
        "29 − 5 = 24 ppm at 90 min",
        "one cigarette at six",
        "went home by bus",
        "walked",
        "25.1 g",
        f"act {signed.head_seq}",
        signed.head_hash[:16],
    ):
        assert words in text, words
    corrected(scene, test)
    amended = amend(scene, test, Drawn(), draw=draw)
    assert "replaces version 1: 90 min was typed wrongly" in words_of(amended)
    assert "36 ppm at 120 min" in words_of(amended)
    with scene.clinic.record.look() as look:
        kept = [one.entry for one in look.versions(Report, signed.id)]
    assert [one.pages for one in kept] == [made.pages, signed.pages]
