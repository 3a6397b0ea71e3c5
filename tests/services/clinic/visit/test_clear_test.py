"""A test is cleared when preparation, safety and, for a child, the weight are there."""

from dataclasses import replace

import pytest

from ebbline.core.clinic.record.visit import Preparation, Screening, Test
from ebbline.core.errors import ClinicError, ConflictError, FieldError, SafetyError
from ebbline.services.clinic.visit.clear_test import clear_test
from tests.scene import Scene
from tests.services.clinic.given import all_no, put, ready, refused, stands


def clear(scene: Scene, test: Test, *, version: int = 1, token: str | None = None) -> Test:
    """Clear a test."""
    return clear_test(scene.clinic, scene.bench, test_id=test.id, version=version, token=token)


def test_a_prepared_patient_is_cleared(scene: Scene) -> None:
    """The same act sent twice is one."""
    test = scene.test(substrate="lactose", state="arrived")
    ready(scene, test)
    clear(scene, test, token="t1")
    clear(scene, test, token="t1")
    found = stands(scene, Test, id=test.id)
    assert (found.entry.state, found.version) == ("cleared", 2)


def test_nobody_is_cleared_before_the_safety_questions(scene: Scene) -> None:
    """Each question is named."""
    test = scene.test(substrate="lactose", state="arrived")
    with pytest.raises(SafetyError) as caught:
        clear(scene, test)
    for bar in ("diabetes-unasked", "milk-allergy-unasked", "galactosaemia-unasked"):
        assert f"{bar} (answer missing): " in str(caught.value)


def test_nobody_is_cleared_before_the_preparation_is_answered(scene: Scene) -> None:
    """The safety answers alone are not enough."""
    test = scene.test(substrate="lactose", state="arrived")
    put(scene, Screening("s1", test.id, all_no("lactose")))
    with refused(
        scene,
        FieldError,
        "preparation: not there yet; allowed: a test with its preparation; came: none",
    ):
        clear(scene, test)


def test_an_item_that_was_not_kept_is_named(scene: Scene) -> None:
    """It waits for a decision."""
    test = scene.test(substrate="lactose", state="arrived")
    ready(scene, test)
    found = stands(scene, Preparation, test_id=test.id).entry
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        smoked = {**found.answers, "smoking": {"word": "yes", "on": None}}
        act.revise(replace(found, answers=smoked), version=1)
    with refused(
        scene,
        ClinicError,
        "preparation: not every item was kept, or decided on; allowed: items that were kept, or a "
        "named person's decision to go ahead; came: smoking (not kept): answered yes",
    ):
        clear(scene, test)


def test_a_child_is_weighed_first(scene: Scene) -> None:
    """Its dose hangs on the weight."""
    test = scene.test(substrate="fructose", state="arrived", age_years=9.2, weight_kg=None)
    ready(scene, test)
    with pytest.raises(ClinicError, match="came: not yet that a child is weighed"):
        clear(scene, test)


def test_an_older_sight_conflicts_and_another_state_is_refused(scene: Scene) -> None:
    """Only a patient who is here, and not cleared yet, is cleared."""
    test = scene.test(substrate="lactose", state="arrived")
    ready(scene, test)
    with pytest.raises(ConflictError):
        clear(scene, test, version=2)
    booked = scene.test(substrate="lactose", state="booked")
    with refused(
        scene,
        ClinicError,
        "state: this is not done to a test that stands there; allowed: arrived; came: booked",
    ):
        clear(scene, booked)
