"""A sample of the wrong patient is moved; both tests keep the trail."""

from datetime import timedelta
from typing import Any

import pytest

from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.bench.move_sample import move_sample
from tests.scene import Scene
from tests.services.clinic.bench.test_correct_sample import correct
from tests.services.clinic.breaths import begun, put, sampled, take
from tests.services.clinic.given import last_act, refused


def move(scene: Scene, sample: SampleTry, to: Test, **changes: Any) -> SampleTry:
    """Move the first version of a sample at the bench."""
    given: dict[str, Any] = {
        "sample_id": sample.id,
        "version": 1,
        "to_test_id": to.id,
        "planned_minute": None,
        "why": "chairs were mixed up",
        "will_amend": False,
        "token": None,
    }
    return move_sample(scene.clinic, scene.bench, **{**given, **changes})


def mixed_up(scene: Scene) -> tuple[SampleTry, Test, Test]:
    """Return a sample in the first of two tests, which belongs to the second."""
    one, other = begun(scene), begun(scene)
    (sample,) = sampled(scene, one, [29.0])
    return sample, one, other


def test_both_tests_keep_the_trail(scene: Scene) -> None:
    """Values and time go along; the minute is that of the other test."""
    sample, one, other = mixed_up(scene)
    moved = move(scene, sample, other, token="tap-1")
    assert (moved.test_id, moved.moved_from, moved.status) == (other.id, sample.id, "ok")
    assert (moved.h2_ppm, moved.at, moved.planned_minute) == (29.0, sample.at, 30.0)
    with scene.clinic.record.look() as look:
        left = look.get(SampleTry, sample.id).entry
    assert (left.test_id, left.status, left.moved_to) == (one.id, "moved", moved.id)
    assert left.h2_ppm == 29.0
    assert last_act(scene)[:2] == ("move sample", "chairs were mixed up")
    assert move(scene, sample, other, token="tap-1") == moved


def test_its_place_in_the_first_test_is_open_again(scene: Scene) -> None:
    """The right patient's breath is taken there."""
    sample, one, other = mixed_up(scene)
    move(scene, sample, other)
    assert take(scene, one, 6.0).planned_minute == 30.0


def test_a_fasting_sample_gets_its_number_in_the_other_test(scene: Scene) -> None:
    """Where the decided baseline rests on it, the person is told to decide again."""
    one = begun(scene)
    other = scene.test(substrate="lactose", state="cleared")
    take(scene, other, 4.0)
    with scene.clinic.record.look() as look:
        fasting = look.find(SampleTry, {"test_id": one.id})[0].entry
    assert move(scene, fasting, other).label == "B2"
    assert "made the baseline of the test that it leaves: decide it again" in last_act(scene)[2]


def test_a_sample_has_a_place_in_the_other_test_or_stays(scene: Scene) -> None:
    """Where that planned minute is in already, a person names another."""
    sample, _, other = mixed_up(scene)
    take(scene, other, 6.0)
    with pytest.raises(FieldError, match="the sample of 30 min is in already"):
        move(scene, sample, other)
    assert move(scene, sample, other, planned_minute=30.0).planned_minute == 30.0


def test_what_is_moved_is_not_moved_again(scene: Scene) -> None:
    """What moved on can be moved back from where it is."""
    sample, one, other = mixed_up(scene)
    moved = move(scene, sample, other)
    text = (
        "status: this is not a breath of this test; allowed: a try that is ok or to be repeated; "
        "came: moved"
    )
    with refused(scene, FieldError, text):
        move(scene, sample, other, version=2)
    assert move(scene, moved, one).test_id == one.id


def test_a_move_to_where_it_is_is_refused(scene: Scene) -> None:
    """It would only make a second copy."""
    sample, one, _ = mixed_up(scene)
    text = f"to_test_id: the sample is in this test already; allowed: another test; came: {one.id}"
    with refused(scene, FieldError, text):
        move(scene, sample, one)
    with refused(scene, FieldError, "why: missing; allowed: a reason in words; came: nothing"):
        move(scene, sample, one, why=" ")


@pytest.mark.parametrize("which", ["first", "second"])
def test_behind_a_signed_report_it_needs_a_promise(scene: Scene, which: str) -> None:
    """Whichever of the two reports it is."""
    sample, one, other = mixed_up(scene)
    signed = put(scene, one if which == "first" else other, state="amended")
    text = (
        f"state: the report of test {signed.number} is signed; allowed: the change, where the "
        "person says that the report will be amended; came: amended"
    )
    with refused(scene, ClinicError, text):
        move(scene, sample, other)
    move(scene, sample, other, will_amend=True)
    told = f"the report of test {signed.number} is signed; it must be amended now"
    assert told in last_act(scene)[2]


def test_nobody_moves_what_changed_meanwhile(scene: Scene) -> None:
    """The version that was seen must stand, and nothing half is kept."""
    sample, _, other = mixed_up(scene)
    scene.clock.pass_minutes(1)
    correct(scene, sample)
    with pytest.raises(ConflictError):
        move(scene, sample, other)
    with scene.clinic.record.look() as look:
        assert len(look.find(SampleTry, {"test_id": other.id})) == 1


def test_a_booked_test_takes_no_sample(scene: Scene) -> None:
    """Its patient is not here."""
    sample, _, _ = mixed_up(scene)
    booked = scene.test(substrate="lactose", state="booked")
    with pytest.raises(ClinicError, match="state: this is not done to a test that stands there"):
        move(scene, sample, booked)


def test_minutes_follow_the_other_tests_minute_0(scene: Scene) -> None:
    """The same breath may be that of another planned minute there."""
    one = begun(scene)
    scene.clock.pass_minutes(25)
    other = begun(scene)
    put(scene, other, t0=scene.clock.at - timedelta(minutes=60))
    sample = take(scene, one, 29.0)
    assert (sample.planned_minute, move(scene, sample, other).planned_minute) == (30.0, 60.0)
