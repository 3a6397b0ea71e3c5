"""What the tests of sampling and reporting share: an invented test with its breaths."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from ebbline.adapters.files.interpretation_document import document_line
from ebbline.core.clinic.access import PasswordProof
from ebbline.core.clinic.access_table import ProofLimits
from ebbline.core.clinic.record.bench import BaselineDecision, SampleTry
from ebbline.core.clinic.record.result import Report
from ebbline.core.clinic.record.visit import Test
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.clinic.bench.breath_taken import Typed
from ebbline.services.clinic.bench.decide_baseline import decide_baseline
from ebbline.services.clinic.bench.finish_test import finish_test
from ebbline.services.clinic.bench.right_patient import Checked
from ebbline.services.clinic.bench.take_sample import take_sample
from ebbline.services.clinic.desk import Actor
from ebbline.services.clinic.report.draft_report import draft_report
from ebbline.services.clinic.report.issue import Issue
from ebbline.services.clinic.report.sign_report import sign_report
from tests.scene import Scene

POSITIVE = (6.0, 13.0, 29.0, 41.0, 44.0, 38.0)
"""Hydrogen of an invented lactose test at 30 to 180 min, ppm; the fasting sample is 5 ppm."""

LIMITS = ProofLimits(life_s=120.0)


def label(test: Test) -> Checked:
    """Return a scanned label of a test."""
    return Checked(label=str(test.number), said={})


def typed(h2_ppm: float, ch4_ppm: float | None = 3.0) -> Typed:
    """Return typed values without a marker gas."""
    return Typed(h2_ppm=h2_ppm, ch4_ppm=ch4_ppm, o2_pct=None, co2_pct=None)


def take(scene: Scene, test: Test, h2_ppm: float, **changes: Any) -> SampleTry:
    """Take a sample of typed values at the bench, now, for whichever planned minute is nearest."""
    given: dict[str, Any] = {
        "test_id": test.id,
        "checked": label(test),
        "breath": typed(h2_ppm),
        "typed_again": None,
        "confirmed": True,
        "to_repeat": False,
        "at": None,
        "planned_minute": None,
        "analyser_id": None,
        "note": "",
        "token": None,
    }
    return take_sample(scene.clinic, scene.bench, **{**given, **changes})


def put(scene: Scene, test: Test, **changes: Any) -> Test:
    """Record other values of a test, past the use cases."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        stands = act.get(Test, test.id)
        return act.revise(replace(stands.entry, **changes), version=stands.version)


def go(scene: Scene, test: Test, *uses: SampleTry) -> BaselineDecision:
    """Decide that the mean of these fasting samples is the baseline."""
    return decide_baseline(
        scene.clinic,
        scene.bench,
        test_id=test.id,
        choice="go",
        rule="mean",
        uses=tuple(one.id for one in uses),
        why="as the protocol asks",
        token=None,
    )


def begun(scene: Scene, **changes: Any) -> Test:
    """Return a lactose test with a fasting sample of 5 ppm, at minute 0."""
    test = scene.test(substrate="lactose", state="cleared", **changes)
    go(scene, test, take(scene, test, 5.0))
    scene.clock.pass_minutes(10)
    return put(scene, test, state="sampling", t0=scene.clock.at)


def sampled(scene: Scene, test: Test, values: Sequence[float]) -> list[SampleTry]:
    """Take one sample every 30 min."""
    taken = []
    for value in values:
        scene.clock.pass_minutes(30)
        taken.append(take(scene, test, value))
    return taken


def finished(scene: Scene, values: Sequence[float] = POSITIVE, **changes: Any) -> Test:
    """Return a finished lactose test."""
    test = begun(scene, **changes)
    sampled(scene, test, values)
    return finish_test(
        scene.clinic, scene.bench, test_id=test.id, version=scene.version_of(test), token=None
    )


class Drawn:
    """Draws a report as a line of text, and keeps what it was asked to draw."""

    def __init__(self) -> None:
        self.issues: list[Issue] = []

    def __call__(self, interpretation: Interpretation, issue: Issue) -> bytes:
        """Return the line."""
        self.issues.append(issue)
        return f"%PDF {interpretation.id} {issue.name} {issue.status} {issue.signer}".encode()


def draft(scene: Scene, test: Test, drawn: Drawn, **changes: Any) -> Report:
    """Draft the report of a test at the bench."""
    given: dict[str, Any] = {
        "test_id": test.id,
        "comment": "",
        "write": document_line,
        "draw": drawn,
        "token": None,
    }
    return draft_report(scene.clinic, scene.bench, **{**given, **changes})


def proof(scene: Scene, who: Actor) -> PasswordProof:
    """Return a proof that somebody gave the password just now."""
    return PasswordProof(user_id=who.user_id, at=scene.clock.at)


def sign(scene: Scene, report: Report, drawn: Drawn, **changes: Any) -> Report:
    """Sign a draft as the reviewer."""
    given: dict[str, Any] = {
        "report_id": report.id,
        "version": 1,
        "comment": "",
        "proof": proof(scene, scene.reviewer),
        "limits": LIMITS,
        "draw": drawn,
        "token": None,
    }
    return sign_report(scene.clinic, scene.reviewer, **{**given, **changes})
