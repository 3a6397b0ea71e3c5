"""Minute 0 is one tap, can be put right with a reason, and every minute follows it."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.entry import columns_of
from ebbline.core.clinic.record.visit import Dose, Test
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.bench.minutes import clock_of
from ebbline.services.clinic.visit.record_t0 import correct_t0, record_t0
from tests.scene import Scene
from tests.services.clinic.given import a_dose, arrived, last_act, put, refused, stands

EIGHT = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)


def at_minute(minutes: float) -> datetime:
    """Return the moment so many minutes after eight, when the clock of the tests begins."""
    return EIGHT + timedelta(minutes=minutes)


def dosed(scene: Scene) -> Test:
    """Record a test whose drink was handed over half an hour after the arrival at eight."""
    test = scene.test(substrate="lactose", state="dosed")
    arrived(scene, test)
    a_dose(scene, test)
    scene.clock.pass_minutes(30)
    return test


def tap(scene: Scene, test: Test, **changes: Any) -> Test:
    """Record minute 0."""
    values: dict[str, Any] = {"version": 1, "at": None, "drunk": "all", "token": None} | changes
    return record_t0(scene.clinic, scene.bench, test_id=test.id, **values)


def correct(scene: Scene, test: Test, at: datetime, **changes: Any) -> Test:
    """Correct minute 0."""
    values: dict[str, Any] = {"version": 2, "why": "late tap", "token": None} | changes
    return correct_t0(scene.clinic, scene.bench, test_id=test.id, at=at, **values)


def sample(scene: Scene, test: Test, *, planned_minute: float, at: datetime) -> None:
    """Record a sample past the use cases."""
    empty: dict[str, Any] = {"text": "", "list": (), "map": {}}
    values: dict[str, Any] = {
        one.name: None if one.optional else empty.get(one.form) for one in columns_of(SampleTry)
    }
    values |= {
        "id": f"try-{planned_minute:g}", "test_id": test.id, "planned_minute": planned_minute,
        "at": at, "status": "ok", "way": "typed", "h2_ppm": 5.0, "operator": scene.bench.user_id,
    }  # fmt: skip
    put(scene, SampleTry(**values))


def test_one_tap_is_minute_0(scene: Scene) -> None:
    """Now, and the drink is drunk; the same tap sent twice is one."""
    test = dosed(scene)
    first = tap(scene, test, token="t1")
    scene.clock.pass_minutes(1)
    assert tap(scene, test, token="t1") == first
    found = stands(scene, Test, id=test.id).entry
    assert (found.t0, found.state) == (at_minute(30), "sampling")
    assert stands(scene, Dose, test_id=test.id).entry.drunk == "all"


def test_minute_0_may_be_given(scene: Scene) -> None:
    """Somebody looked at the clock, and tapped five minutes later."""
    assert tap(scene, dosed(scene), at=at_minute(25)).t0 == at_minute(25)


def test_a_part_is_warned_of(scene: Scene) -> None:
    """Whether the test goes on is for a person to decide."""
    test = dosed(scene)
    assert tap(scene, test, drunk="part").state == "sampling"
    assert "only a part of the drink was drunk" in last_act(scene)[2]
    assert stands(scene, Dose, test_id=test.id).entry.drunk == "part"


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        (
            {"at": at_minute(31)},
            (
                "t0: too late; allowed: 2026-11-27 08:00 UTC to 2026-11-27 08:30 UTC; came: "
                "2026-11-27 08:31 UTC"
            ),
        ),
        (
            {"at": at_minute(-1)},
            (
                "t0: too early; allowed: 2026-11-27 08:00 UTC to 2026-11-27 08:30 UTC; came: "
                "2026-11-27 07:59 UTC"
            ),
        ),
        (
            {"at": datetime(2026, 11, 27, 8, 20)},  # noqa: DTZ001 - it has no zone
            ("t0: no time zone; allowed: a date and time with its zone; came: 2026-11-27T08:20:00"),
        ),
        (
            {"drunk": "some"},
            "drunk: not one of the choices; allowed: all or part; came: some",
        ),
    ],
)
def test_a_minute_0_that_cannot_be_is_refused(
    scene: Scene, changes: dict[str, Any], text: str
) -> None:
    """Between the arrival and now."""
    test = dosed(scene)
    with refused(scene, FieldError, text):
        tap(scene, test, **changes)


def test_there_is_one_minute_0_and_not_before_the_drink(scene: Scene) -> None:
    """An older sight conflicts."""
    test = dosed(scene)
    with pytest.raises(ConflictError):
        tap(scene, test, version=2)
    tap(scene, test)
    with refused(
        scene,
        ClinicError,
        "state: this is not done to a test that stands there; allowed: dosed; came: sampling",
    ):
        tap(scene, test, version=2)


def test_a_correction_keeps_both_and_the_minutes_follow(scene: Scene) -> None:
    """The sample of 30 min was taken at 33 min, and then it was at 35."""
    test = dosed(scene)
    before = tap(scene, test)
    scene.clock.pass_minutes(40)
    sample(scene, test, planned_minute=30, at=at_minute(63))
    after = correct(scene, test, at_minute(28), token="t2")
    assert correct(scene, test, at_minute(28), token="t2") == after
    at = stands(scene, SampleTry, test_id=test.id).entry.at
    with scene.clinic.record.look() as look:
        minutes = [clock_of(look, one).minute(at, seq=None) for one in (before, after)]
        assert minutes == [33.0, 35.0]
        all_t0 = [one.entry.t0 for one in look.versions(Test, test.id)]
    assert all_t0 == [None, at_minute(30), at_minute(28)]
    assert last_act(scene)[:2] == ("correct T0", "late tap")


def test_a_correction_moves_no_sample_across_minute_0(scene: Scene) -> None:
    """A sample planned after the drink stays after it; one that was fasting does not matter."""
    test = dosed(scene)
    tap(scene, test)
    scene.clock.pass_minutes(40)
    sample(scene, test, planned_minute=0, at=at_minute(20))
    sample(scene, test, planned_minute=30, at=at_minute(60))
    with refused(
        scene,
        FieldError,
        "t0: after a sample that was planned after minute 0; allowed: before 2026-11-27 09:00 UTC, "
        "the sample of 30 min; came: 2026-11-27 09:00 UTC",
    ):
        correct(scene, test, at_minute(60))
    assert correct(scene, test, at_minute(59)).t0 == at_minute(59)


def test_a_correction_needs_a_reason_and_the_latest_version(scene: Scene) -> None:
    """And it too lies between the arrival and now."""
    test = dosed(scene)
    tap(scene, test)
    with refused(scene, FieldError, "why: missing; allowed: a reason in words; came: nothing"):
        correct(scene, test, at_minute(28), why=" ")
    with refused(
        scene,
        FieldError,
        "t0: too late; allowed: 2026-11-27 08:00 UTC to 2026-11-27 08:30 UTC; came: 2026-11-27 "
        "08:31 UTC",
    ):
        correct(scene, test, at_minute(31))
    with pytest.raises(ConflictError):
        correct(scene, test, at_minute(28), version=1)


def test_a_test_without_minute_0_has_none_to_correct(scene: Scene) -> None:
    """Such as one that was stopped before the drink, or one that is signed."""
    stopped = scene.test(substrate="lactose", state="stopped")
    with refused(
        scene,
        FieldError,
        "t0: not there yet; allowed: a test with its minute 0; came: none",
    ):
        correct(scene, stopped, at_minute(0), version=1)
    signed = scene.test(substrate="lactose", state="signed", t0=EIGHT)
    with refused(
        scene,
        ClinicError,
        "state: this is not done to a test that stands there; allowed: sampling, finished, stopped "
        "or drafted; came: signed",
    ):
        correct(scene, signed, at_minute(0), version=1)


def test_minute_0_of_a_patient_who_never_arrived_is_refused(scene: Scene) -> None:
    """There is nothing to hold it against."""
    test = scene.test(substrate="lactose", state="dosed")
    a_dose(scene, test)
    with refused(
        scene, FieldError, "arrival: not there yet; allowed: a test with its arrival; came: none"
    ):
        tap(scene, test, at=EIGHT)
