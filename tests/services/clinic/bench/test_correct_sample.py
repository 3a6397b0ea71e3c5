"""A correction is a new version with its reason; the first one stays on record."""

from datetime import timedelta
from typing import Any

import pytest

from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.bench.breath_taken import Reduced, Typed
from ebbline.services.clinic.bench.correct_sample import Correction, correct_sample
from tests.core.breath.givens import a_trace, reduced
from tests.scene import Scene
from tests.services.clinic.bench.test_miss_sample import miss
from tests.services.clinic.breaths import begun, put, sampled, take, typed
from tests.services.clinic.given import last_act, refused


def correction(**changes: Any) -> Correction:
    """Return a correction of these fields only."""
    nothing = {"breath": None, "at": None, "planned_minute": None, "status": None, "note": None}
    return Correction(**{**nothing, **changes})


def correct(scene: Scene, sample: SampleTry, **changes: Any) -> SampleTry:
    """Correct the first version of a sample at the bench."""
    given: dict[str, Any] = {
        "sample_id": sample.id,
        "version": 1,
        "correction": correction(note="x"),
        "why": "typed in the wrong line",
        "will_amend": False,
        "token": None,
    }
    return correct_sample(scene.clinic, scene.bench, **{**given, **changes})


def test_the_raw_value_of_the_old_version_is_kept(scene: Scene) -> None:
    """Both versions can be read; normalised values follow the new raw ones."""
    test = begun(scene)
    (sample,) = sampled(scene, test, [92.0])
    right = Typed(20.0, 4.0, 15.3, None)
    new = correct(scene, sample, correction=correction(breath=right), token="tap-1")
    assert (new.h2_ppm, new.quality) == (20.0, "normalised")
    assert new.h2_normalised_ppm == pytest.approx(25.0)
    assert (new.at, new.planned_minute, new.way) == (sample.at, 30.0, "typed")
    assert last_act(scene)[:2] == ("correct sample", "typed in the wrong line")
    with scene.clinic.record.look() as look:
        versions = look.versions(SampleTry, sample.id)
    assert [(one.version, one.entry.h2_ppm) for one in versions] == [(1, 92.0), (2, 20.0)]
    assert correct(scene, sample, correction=correction(breath=right), token="tap-1") == new


def test_a_sample_may_be_marked_to_be_repeated_and_back(scene: Scene) -> None:
    """A note may be put right too."""
    test = begun(scene)
    (sample,) = sampled(scene, test, [6.0])
    worse = correct(scene, sample, correction=correction(status="repeat", note=" coughed "))
    assert (worse.status, worse.note) == ("repeat", "coughed")
    assert correct(scene, sample, version=2, correction=correction(status="ok")).status == "ok"


def test_time_and_planned_minute_may_be_put_right(scene: Scene) -> None:
    """The minute follows from the time; the planned one only where it is named."""
    test = begun(scene)
    (sample,) = sampled(scene, test, [6.0])
    earlier = sample.at - timedelta(minutes=4)
    moved = correct(scene, sample, correction=correction(at=earlier))
    assert (moved.at, moved.planned_minute) == (earlier, 30.0)
    named = correct(scene, sample, version=2, correction=correction(planned_minute=60.0))
    assert (named.at, named.planned_minute) == (earlier, 60.0)


def test_values_from_a_trace_are_not_typed_over(scene: Scene) -> None:
    """The breath is marked to be repeated instead."""
    test = begun(scene)
    scene.clock.pass_minutes(30)
    blow = Reduced(reduced(a_trace(seed=3)), "ab" * 32, {})
    sample = take(scene, test, 0.0, breath=blow)
    text = (
        "breath: these values were reduced from a trace; allowed: the status repeat, and another "
        "breath; came: typed values"
    )
    with refused(scene, FieldError, text):
        correct(scene, sample, correction=correction(breath=typed(6.0)))
    assert correct(scene, sample, correction=correction(status="repeat")).status == "repeat"


def test_a_refused_breath_never_counts(scene: Scene) -> None:
    """O2 of 19 % is mostly room air; values that make it so mark it to be repeated."""
    test = begun(scene)
    (sample,) = sampled(scene, test, [6.0])
    dilute = Typed(6.0, 3.0, 19.0, None)
    new = correct(scene, sample, correction=correction(breath=dilute))
    assert (new.quality, new.status) == ("refused", "repeat")
    text = "status: a refused breath cannot count; allowed: repeat; came: ok"
    with refused(scene, FieldError, text):
        correct(scene, sample, version=2, correction=correction(status="ok"))


def test_a_sample_does_not_change_sides_of_minute_0(scene: Scene) -> None:
    """A fasting sample stays one, and the other way round."""
    test = begun(scene)
    (sample,) = sampled(scene, test, [6.0])
    early = sample.at - timedelta(minutes=31)
    text = (
        "at: minute 0 lies between the two times; allowed: a time after minute 0; "
        f"came: {early.isoformat()}"
    )
    with refused(scene, FieldError, text):
        correct(scene, sample, correction=correction(at=early))
    with scene.clinic.record.look() as look:
        fasting = look.find(SampleTry, {"test_id": test.id})[0].entry
    with pytest.raises(FieldError, match="allowed: a time before minute 0"):
        correct(scene, fasting, correction=correction(at=sample.at))


def test_what_is_no_breath_is_not_corrected(scene: Scene) -> None:
    """A missed sample is taken after all, or stays missed."""
    test = begun(scene)
    text = (
        "status: this is not a breath of this test; allowed: a try that is ok or to be repeated; "
        "came: missed"
    )
    sample = miss(scene, test, 30.0)
    with refused(scene, FieldError, text):
        correct(scene, sample)


def test_reason_and_content_are_asked_for(scene: Scene) -> None:
    """Nothing is recorded without both."""
    test = begun(scene)
    (sample,) = sampled(scene, test, [6.0])
    with refused(scene, FieldError, "why: missing; allowed: a reason in words; came: nothing"):
        correct(scene, sample, why="")
    text = (
        "correction: nothing is put right; allowed: values, a time, a planned minute, a status or "
        "a note; came: nothing"
    )
    with refused(scene, FieldError, text):
        correct(scene, sample, correction=correction())


def test_somebody_elses_correction_is_not_written_over(scene: Scene) -> None:
    """Whoever saw the old version is told."""
    test = begun(scene)
    (sample,) = sampled(scene, test, [92.0])
    correct(scene, sample, correction=correction(breath=typed(29.0)))
    with pytest.raises(ConflictError, match="h2_ppm 29"):
        correct(scene, sample, correction=correction(breath=typed(20.0)))


def test_behind_a_signed_report_it_needs_a_promise(scene: Scene) -> None:
    """And the history says that the report must be amended."""
    test = begun(scene)
    (sample,) = sampled(scene, test, [6.0])
    put(scene, test, state="signed")
    text = (
        "state: the report of test 1 is signed; allowed: the change, where the person says that "
        "the report will be amended; came: signed"
    )
    with refused(scene, ClinicError, text):
        correct(scene, sample)
    assert correct(scene, sample, will_amend=True).note == "x"
    assert "the report of test 1 is signed; it must be amended now" in last_act(scene)[2]
