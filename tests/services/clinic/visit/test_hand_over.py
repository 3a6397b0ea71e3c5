"""The drink is handed over when everything still holds."""

from dataclasses import replace

import pytest

from ebbline.core.clinic.record.bench import BaselineDecision
from ebbline.core.clinic.record.visit import Screening, Test
from ebbline.core.errors import ClinicError, ConflictError, SafetyError
from ebbline.services.clinic.visit.hand_over import hand_over
from tests.scene import Scene
from tests.services.clinic.given import a_dose, put, ready, refused, stands


def go(scene: Scene, test: Test, *, choice: str = "go") -> None:
    """Record a decision on the fasting readings past the use cases."""
    decision = BaselineDecision(
        f"b{test.number}", test.id, choice, "mean", (), (), "", scene.bench.user_id
    )
    put(scene, decision)


def give(scene: Scene, test: Test, *, version: int = 1, token: str | None = None) -> Test:
    """Hand over the drink."""
    return hand_over(scene.clinic, scene.bench, test_id=test.id, version=version, token=token)


def cleared(scene: Scene) -> Test:
    """Record a test of an adult who may have the drink."""
    test = scene.test(substrate="lactose", state="cleared")
    ready(scene, test)
    return test


def test_the_drink_is_handed_over(scene: Scene) -> None:
    """The same act sent twice is one."""
    test = cleared(scene)
    go(scene, test)
    a_dose(scene, test)
    with pytest.raises(ConflictError):
        give(scene, test, version=2)
    give(scene, test, token="t1")
    give(scene, test, token="t1")
    found = stands(scene, Test, id=test.id)
    assert (found.entry.state, found.version) == ("dosed", 2)


def test_the_gate_is_asked_again(scene: Scene) -> None:
    """An answer that changed after the test was cleared keeps the drink back."""
    test = cleared(scene)
    go(scene, test)
    a_dose(scene, test)
    found = stands(scene, Screening, test_id=test.id).entry
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.revise(replace(found, answers={**found.answers, "diabetes": "yes"}), version=1)
    with pytest.raises(SafetyError, match="diabetes-plan"):
        give(scene, test)


@pytest.mark.parametrize(
    ("choice", "with_dose", "second", "missing"),
    [
        ("", True, False, "the decision on the fasting readings is to go ahead"),
        ("rebook", True, False, "the decision on the fasting readings is to go ahead"),
        ("go", False, False, "the dose is prepared as it was worked out"),
        (
            "go",
            True,
            True,
            "a second person checked the dose where the dose rule asks for it",
        ),
    ],
)
def test_what_is_missing_is_named(
    scene: Scene, choice: str, with_dose: bool, second: bool, missing: str
) -> None:
    """The drink waits for it."""
    test = cleared(scene)
    if choice:
        go(scene, test, choice=choice)
    if with_dose:
        a_dose(scene, test, needs_second_check=second)
    with pytest.raises(ClinicError, match=f"came: not yet that {missing}"):
        give(scene, test)


def test_a_dose_from_another_weight_is_prepared_anew(scene: Scene) -> None:
    """Somebody weighed again after the drink was made."""
    test = scene.test(substrate="fructose", state="cleared", age_years=9.2, weight_kg=12.0)
    ready(scene, test)
    go(scene, test)
    a_dose(
        scene, test, rule="fructose-child-0.5-10", substrate="fructose", dose_g=10.0,
        needs_second_check=True, checked_by=scene.second.user_id,
    )  # fmt: skip
    with refused(
        scene,
        ClinicError,
        "dose_g: the dose was worked out from another weight or age; allowed: 6 g, prepared anew; "
        "came: 10 g",
    ):
        give(scene, test)


def test_only_a_cleared_test_has_its_drink(scene: Scene) -> None:
    """Not one that has just arrived."""
    test = scene.test(substrate="lactose", state="arrived")
    with refused(
        scene,
        ClinicError,
        "state: this is not done to a test that stands there; allowed: cleared; came: arrived",
    ):
        give(scene, test)
