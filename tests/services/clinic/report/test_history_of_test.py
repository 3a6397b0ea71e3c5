"""The trail of a test tells every act about it: who, when, why, and what changed."""

from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.errors import FieldError
from ebbline.services.clinic.report.history_of_test import history_of_test
from tests.scene import Scene
from tests.services.clinic.bench.test_correct_sample import correct, correction
from tests.services.clinic.bench.test_move_sample import mixed_up, move
from tests.services.clinic.breaths import Drawn, begun, draft, finished, sampled, sign, typed
from tests.services.clinic.given import refused


def test_the_acts_of_a_test_in_order(scene: Scene) -> None:
    """From the booking to the signature, and nothing of another test."""
    test, drawn = finished(scene), Drawn()
    sampled(scene, begun(scene), [6.0])
    sign(scene, draft(scene, test, drawn), drawn)
    found = history_of_test(scene.clinic, scene.auditor, test_id=test.id)
    assert [one.act for one in found] == [
        "scene",
        "take sample",
        "decide baseline",
        "scene",
        *["take sample"] * 6,
        "finish test",
        "draft report",
        "sign report",
    ]
    assert [one.seq for one in found] == sorted(one.seq for one in found)
    assert (found[1].by, found[-1].by, found[0].by) == ("M. Tide", "Dr L. Harbour", "the system")
    assert found[1].says == "take a sample"
    assert found[1].at == scene.clock.at.replace(hour=8, minute=0)
    assert found[1].at.tzinfo == scene.clinic.zone
    assert found[1].warned == ("no calibration of analyser 1 is on record",)


def test_a_correction_shows_both_values_and_the_reason(scene: Scene) -> None:
    """Only fields that changed."""
    test = begun(scene)
    (sample,) = sampled(scene, test, [92.0])
    correct(scene, sample, correction=correction(breath=typed(29.0)))
    last = history_of_test(scene.clinic, scene.auditor, test_id=test.id)[-1]
    assert (last.act, last.why) == ("correct sample", "typed in the wrong line")
    (changed,) = last.changed
    assert (changed.kind, changed.id, changed.version) == ("sample_try", sample.id, 2)
    fields = {name: (old, new) for name, old, new in changed.fields}
    assert fields["h2_ppm"] == ("92.0", "29.0")
    assert set(fields) == {"h2_ppm", "h2_u_ppm"}


def test_a_move_is_in_both_trails(scene: Scene) -> None:
    """Each tells its own side."""
    sample, one, other = mixed_up(scene)
    moved = move(scene, sample, other)
    left = history_of_test(scene.clinic, scene.auditor, test_id=one.id)[-1]
    came = history_of_test(scene.clinic, scene.auditor, test_id=other.id)[-1]
    assert left.seq == came.seq
    assert [entry.id for entry in left.changed] == [sample.id]
    assert [entry.id for entry in came.changed] == [moved.id]
    assert ("status", "ok", "moved") in left.changed[0].fields


def test_there_is_no_trail_of_no_test(scene: Scene) -> None:
    """An id of something else is refused too."""
    test = begun(scene)
    with scene.clinic.record.look() as look:
        sample = look.find(SampleTry, {"test_id": test.id})[0].entry
    text = f"test_id: there is no such test; allowed: one that is in the record; came: {sample.id}"
    with refused(scene, FieldError, text):
        history_of_test(scene.clinic, scene.auditor, test_id=sample.id)
