"""A jump of the computer's clock moves no minute of a running test by itself."""

from dataclasses import replace
from datetime import timedelta

import pytest

from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.staff import ClockStep
from ebbline.core.clinic.record.visit import Test
from ebbline.services.clinic.bench.minutes import clock_of, minute_of_try
from tests.scene import Scene
from tests.services.clinic.bench.test_correct_sample import correct, correction
from tests.services.clinic.bench.test_move_sample import move
from tests.services.clinic.breaths import begun, put, take


def jump(scene: Scene, minutes: float) -> ClockStep:
    """Set the clock on the wall, and record that it was noticed at once."""
    scene.clock.pass_minutes(minutes)
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        return act.add(ClockStep(act.new_id(), act.at, 60.0 * minutes, "jump", "open"))


def answer(scene: Scene, step: ClockStep, decision: str) -> None:
    """Decide on a jump, past the use case."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.revise(replace(step, decision=decision), version=1)


def minutes(scene: Scene, test: Test) -> list[float | None]:
    """Return the minutes of the samples after the drink."""
    with scene.clinic.record.look() as look:
        clock = clock_of(look, look.get(Test, test.id).entry)
        found = look.find(SampleTry, {"test_id": test.id, "label": ""})
        return [minute_of_try(look, clock, one) for one in found]


def test_without_a_jump_the_clock_on_the_wall_counts(scene: Scene) -> None:
    """Half an hour is half an hour."""
    test = begun(scene)
    scene.clock.pass_minutes(30.5)
    take(scene, test, 6.0)
    assert minutes(scene, test) == [30.5]


@pytest.mark.parametrize(
    ("decision", "counted"), [("open", 60.0), ("follow", 60.0), ("keep", 120.0)]
)
def test_a_jump_of_an_hour_is_counted_only_where_somebody_says_so(
    scene: Scene, decision: str, counted: float
) -> None:
    """The sample before it is at 30 min either way."""
    test = begun(scene)
    scene.clock.pass_minutes(30)
    take(scene, test, 6.0)
    step = jump(scene, 60)
    scene.clock.pass_minutes(30)
    take(scene, test, 13.0, planned_minute=60.0)
    if decision != "open":
        answer(scene, step, decision)
    assert minutes(scene, test) == [30.0, counted]


def test_the_nearest_planned_sample_is_found_past_a_jump(scene: Scene) -> None:
    """By the wall it would be that of 120 min."""
    test = begun(scene)
    jump(scene, 60)
    scene.clock.pass_minutes(60)
    assert take(scene, test, 13.0).planned_minute == 60.0


def test_a_clock_that_was_set_back_shows_the_same_hour_twice(scene: Scene) -> None:
    """The order of the record tells which of the two it was."""
    test = begun(scene)
    scene.clock.pass_minutes(30)
    take(scene, test, 6.0)
    jump(scene, -30)
    scene.clock.pass_minutes(30)
    take(scene, test, 13.0)
    assert minutes(scene, test) == [30.0, 60.0]


def test_two_jumps_are_taken_in_the_order_in_which_they_came(scene: Scene) -> None:
    """Also where the second one was decided first."""
    test = begun(scene)
    first = jump(scene, 10)
    scene.clock.pass_minutes(30)
    take(scene, test, 6.0)
    second = jump(scene, 100)
    answer(scene, second, "follow")
    answer(scene, first, "keep")
    scene.clock.pass_minutes(20)
    take(scene, test, 13.0)
    assert minutes(scene, test) == [40.0, 60.0]


def test_a_version_that_leaves_the_time_leaves_the_minute(scene: Scene) -> None:
    """A note added after a jump does not move the sample past it; nor does a change of the test."""
    test = begun(scene)
    scene.clock.pass_minutes(30)
    sample = take(scene, test, 6.0)
    jump(scene, 60)
    correct(scene, sample, correction=correction(note="coughed"))
    put(scene, test, site="room 3")
    assert minutes(scene, test) == [30.0]
    scene.clock.pass_minutes(5)
    correct(
        scene, sample, version=2, correction=correction(at=scene.clock.at - timedelta(minutes=1))
    )
    assert minutes(scene, test) == [34.0]


def test_a_sample_that_is_moved_after_a_jump_keeps_its_minute(scene: Scene) -> None:
    """It was given before, in whichever test it stands; and moved back it is still so."""
    one, other = begun(scene), begun(scene)
    put(scene, other, t0=one.t0)
    scene.clock.pass_minutes(20)
    sample = take(scene, one, 6.0)
    jump(scene, 60)
    moved = move(scene, sample, other)
    assert moved.planned_minute == 30.0
    assert minutes(scene, other) == [30.0]
    move(scene, moved, one)
    with scene.clinic.record.look() as look:
        clock = clock_of(look, look.get(Test, one.id).entry)
        (back,) = look.find(SampleTry, {"test_id": one.id, "moved_from": moved.id})
        assert minute_of_try(look, clock, back) == 30.0


def test_before_minute_0_there_is_no_minute(scene: Scene) -> None:
    """Fasting samples are only put in order."""
    test = scene.test(substrate="lactose", state="cleared")
    with scene.clinic.record.look() as look:
        assert clock_of(look, test).minute(scene.clock.at, seq=None) is None
