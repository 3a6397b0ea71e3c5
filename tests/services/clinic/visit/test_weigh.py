"""A weight is taken only if a person of that age can have it."""

from typing import Any

import pytest

from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.visit.weigh import weigh
from tests.scene import Scene
from tests.services.clinic.given import refused, stands


def weighed(scene: Scene, test: Test, weight_kg: float, **changes: Any) -> Test:
    """Record a weight."""
    values: dict[str, Any] = {"version": 1, "second_kg": None, "token": None} | changes
    return weigh(scene.clinic, scene.bench, test_id=test.id, weight_kg=weight_kg, **values)


def test_a_weight_is_kept_with_the_test(scene: Scene) -> None:
    """The same one sent twice is one act."""
    test = scene.test(substrate="fructose", state="arrived", age_years=9.2, weight_kg=None)
    first = weighed(scene, test, 28.5, token="t1")
    assert weighed(scene, test, 28.5, token="t1") == first
    assert stands(scene, Test, id=test.id).entry.weight_kg == 28.5


def test_a_rare_weight_is_taken_when_it_was_weighed_again(scene: Scene) -> None:
    """Once is refused, twice the same is taken."""
    test = scene.test(substrate="lactose", state="arrived", age_years=41.7)
    with refused(
        scene,
        FieldError,
        "weight_kg: rare for this age (was it in pounds?); allowed: 35.0 to 200.0 kg at 41.7 "
        "years, or a weight that was weighed again; came: 210",
    ):
        weighed(scene, test, 210.0)
    with refused(
        scene,
        FieldError,
        "second_kg: the second weighing gave another weight; allowed: 210 kg again, or both "
        "weighed anew; came: 110",
    ):
        weighed(scene, test, 210.0, second_kg=110.0)
    assert weighed(scene, test, 210.0, second_kg=210.0).weight_kg == 210.0


def test_a_weight_that_nobody_has_is_never_taken(scene: Scene) -> None:
    """However often it is weighed."""
    test = scene.test(substrate="lactose", state="arrived", age_years=41.7)
    with refused(
        scene,
        FieldError,
        "weight_kg: implausible for this age (was it in pounds?); allowed: 20.0 to 400.0 kg at "
        "41.7 years; came: 640",
    ):
        weighed(scene, test, 640.0, second_kg=640.0)


def test_a_weight_without_an_age_cannot_be_checked(scene: Scene) -> None:
    """So it is not taken."""
    test = scene.test(substrate="lactose", state="arrived", age_years=None)
    with refused(
        scene,
        FieldError,
        "age_years: not known; allowed: a patient with a birth date; came: nothing",
    ):
        weighed(scene, test, 64.0)


def test_an_older_sight_conflicts_and_the_drink_ends_weighing(scene: Scene) -> None:
    """A dose that was drunk keeps the weight that it was worked out from."""
    test = scene.test(substrate="lactose", state="cleared")
    with pytest.raises(ConflictError):
        weighed(scene, test, 70.0, version=2)
    after = scene.test(substrate="lactose", state="dosed")
    with refused(
        scene,
        ClinicError,
        "state: this is not done to a test that stands there; allowed: arrived or cleared; came: "
        "dosed",
    ):
        weighed(scene, after, 70.0)
