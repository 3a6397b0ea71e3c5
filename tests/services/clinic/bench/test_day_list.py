"""The day's list tells who sits where and what is due, without a name."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from ebbline.adapters.sql.views import day_rows
from ebbline.core.clinic.record.people import Identity
from ebbline.core.clinic.record.visit import Booking, Test
from ebbline.services.clinic.bench.day_list import DayLine, day_list
from tests.scene import MORNING, Scene
from tests.services.clinic.bench.test_minutes import jump
from tests.services.clinic.bench.test_miss_sample import miss
from tests.services.clinic.bench.test_move_sample import move
from tests.services.clinic.breaths import begun, put, sampled, take

TODAY = date(2026, 11, 27)


def today(scene: Scene, day: date = TODAY) -> tuple[DayLine, ...]:
    """Return the list of a day as it stands now."""
    return day_list(scene.clinic, scene.bench, day=day, now=scene.clock.at, rows=day_rows)


def rebook(scene: Scene, test: Test, **changes: object) -> None:
    """Record another appointment of a test."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        stands = act.find(Booking, {"test_id": test.id})[0]
        changed = replace(stands.entry, **changes)  # type: ignore[arg-type]
        act.revise(changed, version=stands.version)


def test_tests_stand_by_slot_and_chair(scene: Scene) -> None:
    """A changed appointment counts, the earlier one does not."""
    late, second, first = (scene.test(substrate="lactose", state="booked") for _ in range(3))
    rebook(scene, late, slot=MORNING + timedelta(hours=1), chair="chair 0")
    rebook(scene, second, chair="chair 2")
    found = today(scene)
    assert [one.test_id for one in found] == [first.id, second.id, late.id]
    assert found[0] == DayLine(
        test_id=first.id,
        number=3,
        slot=MORNING,
        chair="chair 1",
        initials="A. S.",
        substrate="lactose",
        state="booked",
        minute=None,
        due_minute=None,
        due_in_min=None,
    )
    assert found[0].slot.tzinfo == scene.clinic.zone


def test_the_day_is_that_of_the_clinic(scene: Scene) -> None:
    """From midnight to midnight on its clock, in summer an hour before that of UTC."""
    midnight = datetime(2027, 6, 30, 23, 0, tzinfo=UTC)
    tests = [scene.test(substrate="lactose", state="booked") for _ in range(3)]
    for test, minutes in zip(tests, (-1, 0, 24 * 60 - 1), strict=True):
        rebook(scene, test, slot=midnight + timedelta(minutes=minutes))
    assert [one.test_id for one in today(scene, date(2027, 7, 1))] == [tests[1].id, tests[2].id]
    assert [one.test_id for one in today(scene, date(2027, 6, 30))] == [tests[0].id]
    assert today(scene) == ()


def test_what_is_due_next_and_when(scene: Scene) -> None:
    """Taken and missed samples are done; what is to be repeated or was moved is not."""
    test, other = begun(scene), begun(scene)
    (sample,) = sampled(scene, test, [6.0])
    miss(scene, test, 60.0)
    scene.clock.pass_minutes(50)
    line = today(scene)[0]
    assert (line.minute, line.due_minute, line.due_in_min) == (90.0, 90.0, 0.0)
    take(scene, test, 60.0, to_repeat=True)
    scene.clock.pass_minutes(3)
    line = today(scene)[0]
    assert (line.due_minute, line.due_in_min) == (90.0, -3.0)
    move(scene, sample, other, planned_minute=30.0)
    assert today(scene)[0].due_minute == 30.0
    assert today(scene)[1].due_minute == 60.0


def test_after_the_last_sample_nothing_is_due(scene: Scene) -> None:
    """The test waits to be finished."""
    test = begun(scene)
    sampled(scene, test, [6.0])
    for minute in (60.0, 90.0, 120.0, 150.0, 180.0):
        miss(scene, test, minute)
    line = today(scene)[0]
    assert (line.minute, line.due_minute, line.due_in_min) == (30.0, None, None)


def test_a_jump_of_the_clock_makes_nobody_late(scene: Scene) -> None:
    """Minutes are counted past it."""
    begun(scene)
    scene.clock.pass_minutes(10)
    jump(scene, 60)
    line = today(scene)[0]
    assert (line.minute, line.due_in_min) == (10.0, 20.0)


def test_an_erased_name_leaves_the_line(scene: Scene) -> None:
    """Without initials."""
    test = put(scene, begun(scene), state="finished")
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        stands = act.find(Identity, {"patient_id": test.patient_id})[0]
        act.revise(replace(stands.entry, given_name="", family_name=""), version=1)
    (line,) = today(scene)
    assert (line.initials, line.state) == ("", "finished")
