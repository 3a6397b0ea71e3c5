"""A test is interpreted by the text that was adopted for it, and kept with all that made it."""

import json
from dataclasses import replace

from ebbline.adapters.files.interpretation_document import document, document_line
from ebbline.adapters.files.library import load_library
from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.result import Snapshot
from ebbline.core.clinic.record.staff import Setting
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.clinic.report.interpret_test import interpret_test, interpretation_of
from ebbline.services.clinic.service.adopt import adopt, withdraw
from tests.scene import DOCUMENTS, Scene
from tests.services.clinic.bench.test_correct_sample import correct
from tests.services.clinic.bench.test_record_event import happen
from tests.services.clinic.breaths import finished, put
from tests.services.clinic.given import refused


def keep(scene: Scene, test: Test, token: str | None = None) -> Snapshot:
    """Interpret a test at the bench."""
    return interpret_test(
        scene.clinic, scene.bench, test_id=test.id, write=document_line, token=token
    )


def fresh(scene: Scene, test: Test) -> Interpretation:
    """Return the interpretation of a test as it stands."""
    with scene.clinic.record.look() as look:
        return interpretation_of(scene.clinic, look, look.get(Test, test.id).entry)


def test_the_adopted_criterion_reports(scene: Scene) -> None:
    """29 - 5 = 24 ppm at 90 min, where 20 are asked; the other rule sets stand beside it."""
    found = fresh(scene, finished(scene))
    assert [one.id for one in found.rule_sets if one.adopted] == ["north-american-2017"]
    (finding,) = [
        one
        for one in found.findings
        if (one.rule_set, one.question) == ("north-american-2017", "carbohydrate-malabsorption")
    ]
    assert (finding.finding, finding.because) == (
        "positive",
        "29 − 5 = 24 ppm at 90 min; at least 20 asked",
    )
    assert {"german-2005", "european-2022"} <= {one.id for one in found.rule_sets}


def test_what_is_kept_is_the_whole_document(scene: Scene) -> None:
    """Compressed; its id, engine and findings can be read without it."""
    test = finished(scene)
    kept = keep(scene, test)
    expected = json.loads(json.dumps(document(fresh(scene, test))))
    assert json.loads(kept.document) == expected
    assert (kept.interpretation, kept.engine) == (expected["id"], load_library().engine)
    assert kept.criterion_id == scene.criterion.id
    first = ["north-american-2017", "carbohydrate-malabsorption", "positive"]
    assert kept.findings[0] == first


def test_the_same_inputs_give_the_same_id_and_no_second_snapshot(scene: Scene) -> None:
    """However often it is asked for, and by whomever."""
    test = finished(scene)
    kept = keep(scene, test, "tap-1")
    with scene.clinic.record.look() as look:
        head = look.head()
    scene.clock.pass_minutes(60)
    assert keep(scene, test) == kept
    assert keep(scene, test, "tap-1") == kept
    again = interpret_test(
        scene.clinic, scene.reviewer, test_id=test.id, write=document_line, token=None
    )
    assert again == kept
    with scene.clinic.record.look() as look:
        assert look.head() == head
        assert len(look.find(Snapshot, {"test_id": test.id})) == 1


def test_whatever_changes_gives_another_id(scene: Scene) -> None:
    """A value, an event or a setting; each interpretation stays on record."""
    test = finished(scene)
    ids = [keep(scene, test).interpretation]
    happen(scene, test, "slept")
    ids.append(keep(scene, test).interpretation)
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.add(Setting(act.new_id(), "noise_ppm", {"value": 3.0}))
    ids.append(keep(scene, test).interpretation)
    with scene.clinic.record.look() as look:
        sample = look.find(SampleTry, {"test_id": test.id})[3].entry
    correct(scene, sample)
    ids.append(keep(scene, test).interpretation)
    assert len(set(ids)) == 4
    with scene.clinic.record.look() as look:
        kept = look.find(Snapshot, {"test_id": test.id})
    assert [one.entry.interpretation for one in kept] == ids


def test_the_text_that_was_adopted_counts_and_not_todays_file(scene: Scene) -> None:
    """A release with 40 ppm is adopted after the test was booked, and the old one withdrawn."""
    test = finished(scene)
    text = DOCUMENTS.offered("rule set", "north-american-2017")
    stricter = text.replace("threshold_ppm = 20", "threshold_ppm = 40").replace(
        'version = "1"', 'version = "2"', 1
    )
    newer = adopt(
        scene.clinic,
        scene.manager,
        what="rule set",
        text=stricter,
        adopted_by="Dr L. Harbour",
        token=None,
    )
    assert fresh(scene, test).findings[0].finding == "positive"
    put(scene, test, criterion_id=newer.id)
    found = fresh(scene, test)
    assert found.findings[0].finding == "negative"
    assert [(one.id, one.version) for one in found.rule_sets if one.adopted] == [
        ("north-american-2017", "2")
    ]
    withdraw(
        scene.clinic,
        scene.manager,
        adoption_id=newer.id,
        version=1,
        why="3 is out",
        token=None,
    )
    assert fresh(scene, test).findings[0].finding == "negative"


def test_an_adopted_rule_set_that_the_release_has_no_more_still_reports(scene: Scene) -> None:
    """It stands before the others."""
    test = finished(scene)
    others = tuple(one for one in scene.clinic.library.rule_sets if one.id != "north-american-2017")
    later = replace(scene.clinic, library=replace(scene.clinic.library, rule_sets=others))
    with scene.clinic.record.look() as look:
        found = interpretation_of(later, look, test)
    assert found.rule_sets[0].id == "north-american-2017"
    assert found.rule_sets[0].adopted


def test_a_rule_set_that_says_nothing_of_the_substrate_cannot_report(scene: Scene) -> None:
    """Its rows are about other sugars."""
    test = finished(scene)
    text = DOCUMENTS.offered("rule set", "north-american-2017")
    other = adopt(
        scene.clinic,
        scene.manager,
        what="rule set",
        text=text.replace('"lactose"', '"sucrose"'),
        adopted_by="Dr L. Harbour",
        token=None,
    )
    put(scene, test, criterion_id=other.id)
    text = (
        "criterion: north-american-2017 says nothing about lactose; allowed: a test that the "
        "adopted rule set covers; came: lactose"
    )
    with refused(scene, ClinicError, text):
        keep(scene, test)


def test_nothing_is_interpreted_before_the_drink(scene: Scene) -> None:
    """There is no curve."""
    test = scene.test(substrate="lactose", state="cleared")
    text = (
        "state: this is not done to a test that stands there; allowed: sampling, finished, "
        "stopped, drafted, signed or amended; came: cleared"
    )
    with refused(scene, ClinicError, text):
        keep(scene, test)
