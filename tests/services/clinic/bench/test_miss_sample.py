"""A missed sample is recorded with its reason, and nothing is put in its place."""

from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, FieldError
from ebbline.services.clinic.bench.miss_sample import miss_sample
from tests.scene import Scene
from tests.services.clinic.breaths import begun, sampled, take
from tests.services.clinic.given import last_act, refused


def miss(
    scene: Scene, test: Test, minute: float, *, why: str = "asleep", token: str | None = None
) -> SampleTry:
    """Record a sample as missed."""
    return miss_sample(
        scene.clinic, scene.bench, test_id=test.id, planned_minute=minute, why=why, token=token
    )


def test_a_missed_sample_has_a_reason_and_no_value(scene: Scene) -> None:
    """The reason stands in the history and as the note."""
    test = begun(scene)
    one = miss(scene, test, 60.0, token="tap-1")
    assert (one.status, one.planned_minute, one.note) == ("missed", 60.0, "asleep")
    assert (one.h2_ppm, one.ch4_ppm, one.quality, one.trace_digest) == (None, None, "", None)
    assert last_act(scene)[:2] == ("miss sample", "asleep")
    assert miss(scene, test, 60.0, token="tap-1") == one


def test_a_breath_that_comes_after_all_counts(scene: Scene) -> None:
    """Where the operator names the planned minute."""
    test = begun(scene)
    miss(scene, test, 30.0)
    scene.clock.pass_minutes(33)
    one = take(scene, test, 7.0, planned_minute=30.0)
    assert (one.status, one.planned_minute) == ("ok", 30.0)


def test_only_an_open_sample_can_be_missed(scene: Scene) -> None:
    """Not one that is in, missed already or not planned."""
    test = begun(scene)
    sampled(scene, test, [6.0])
    miss(scene, test, 60.0)
    for minute in (30.0, 60.0, 45.0):
        text = (
            f"planned_minute: this sample is not open; allowed: 90, 120, 150, 180; came: {minute:g}"
        )
        with refused(scene, FieldError, text):
            miss(scene, test, minute)
    for minute in (90.0, 120.0, 150.0, 180.0):
        miss(scene, test, minute)
    text = "planned_minute: this sample is not open; allowed: none is open; came: 30"
    with refused(scene, FieldError, text):
        miss(scene, test, 30.0)


def test_a_reason_is_asked_for(scene: Scene) -> None:
    """Blanks are none."""
    test = begun(scene)
    text = "why: missing; allowed: a reason in words; came: nothing"
    with refused(scene, FieldError, text):
        miss(scene, test, 30.0, why="  ")


def test_nothing_is_missed_before_the_drink(scene: Scene) -> None:
    """A fasting sample can still be taken."""
    test = scene.test(substrate="lactose", state="cleared")
    text = "state: this is not done to a test that stands there; allowed: sampling; came: cleared"
    with refused(scene, ClinicError, text):
        miss(scene, test, 30.0)
