"""Each sample names its analyser and the calibration in force."""

from datetime import timedelta

import pytest

from ebbline.core.clinic.record.staff import Analyser, AnalyserCheck
from ebbline.core.clinic.record.visit import Booking
from ebbline.core.errors import FieldError
from ebbline.services.clinic.bench.analyser_in_use import InUse, analyser_in_use
from tests.scene import MORNING, Scene


def second_analyser(scene: Scene, *, in_use: bool = True) -> Analyser:
    """Record another analyser."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        return act.add(Analyser(act.new_id(), "analyser 2", "HC-A2", "", "", in_use))


def calibrated(scene: Scene, *, passed: bool, hours_ago: float) -> AnalyserCheck:
    """Record a calibration of analyser 1."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        at = act.at - timedelta(hours=hours_ago)
        return act.add(
            AnalyserCheck(act.new_id(), scene.analyser.id, "calibration", at, passed, "", "")
        )


def found(scene: Scene, test_id: str, named: str | None = None) -> InUse:
    """Return the analyser of a sample taken now."""
    with scene.clinic.record.look() as look:
        return analyser_in_use(look, test_id=test_id, analyser_id=named, at=scene.clock.at)


def test_the_only_one_in_use_is_taken(scene: Scene) -> None:
    """A missing calibration is warned of."""
    test = scene.test(substrate="lactose", state="sampling")
    second_analyser(scene, in_use=False)
    assert found(scene, test.id) == InUse(
        scene.analyser.id, None, "no calibration of analyser 1 is on record"
    )


def test_of_two_nobody_guesses(scene: Scene) -> None:
    """The sample is kept without an analyser, with a warning."""
    test = scene.test(substrate="lactose", state="sampling")
    second_analyser(scene)
    assert found(scene, test.id) == InUse(None, None, "no analyser is named for this sample")


def test_the_one_named_goes_before_the_one_that_was_booked(scene: Scene) -> None:
    """And the booked one before none."""
    test = scene.test(substrate="lactose", state="sampling")
    second = second_analyser(scene)
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        booked = (test.id, test.patient_id, MORNING, "chair 1", second.id, "", ())
        act.add(Booking(act.new_id(), *booked))
    assert found(scene, test.id).analyser_id == second.id
    assert found(scene, test.id, scene.analyser.id).analyser_id == scene.analyser.id


def test_the_last_calibration_is_in_force(scene: Scene) -> None:
    """One that did not pass is warned of."""
    test = scene.test(substrate="lactose", state="sampling")
    last = calibrated(scene, passed=True, hours_ago=1.0)
    calibrated(scene, passed=False, hours_ago=2.0)
    assert found(scene, test.id) == InUse(scene.analyser.id, last.id, "")
    failed = calibrated(scene, passed=False, hours_ago=0.5)
    assert found(scene, test.id) == InUse(
        scene.analyser.id, failed.id, "the last calibration of analyser 1 did not pass"
    )


def test_one_that_is_not_in_use_is_refused(scene: Scene) -> None:
    """The refusal names those that are."""
    test = scene.test(substrate="lactose", state="sampling")
    old = second_analyser(scene, in_use=False)
    with pytest.raises(FieldError) as caught:
        found(scene, test.id, old.id)
    assert str(caught.value) == (
        f"analyser_id: no analyser in use; allowed: analyser 1; came: {old.id}"
    )
