"""The second check is made by a second person."""

import pytest

from ebbline.core.clinic.record.visit import Dose
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.visit.second_check import second_check
from tests.scene import Scene
from tests.services.clinic.given import a_dose, refused, stands


def test_a_second_person_checks_the_dose(scene: Scene) -> None:
    """The same act sent twice is one; an older sight conflicts."""
    test = scene.test(substrate="lactose", state="cleared")
    a_dose(scene, test)
    for _ in range(2):
        second_check(scene.clinic, scene.second, test_id=test.id, version=1, token="t1")
    found = stands(scene, Dose, test_id=test.id)
    assert (found.entry.checked_by, found.version) == (scene.second.user_id, 2)
    with pytest.raises(ConflictError):
        second_check(scene.clinic, scene.reviewer, test_id=test.id, version=1, token=None)


def test_nobody_checks_their_own_dose(scene: Scene) -> None:
    """Two pairs of eyes are not one pair twice."""
    test = scene.test(substrate="lactose", state="cleared")
    a_dose(scene, test)
    with refused(
        scene,
        ClinicError,
        "second_check: one person prepared the dose and checked it; allowed: two different people; "
        f"came: {scene.bench.user_id} twice",
    ):
        second_check(scene.clinic, scene.bench, test_id=test.id, version=1, token=None)


def test_there_is_a_dose_to_check_and_a_drink_still_to_come(scene: Scene) -> None:
    """Neither before the dose nor after the drink."""
    test = scene.test(substrate="lactose", state="cleared")
    with refused(
        scene, FieldError, "dose: not there yet; allowed: a test with its dose; came: none"
    ):
        second_check(scene.clinic, scene.second, test_id=test.id, version=1, token=None)
    after = scene.test(substrate="lactose", state="dosed")
    with refused(
        scene,
        ClinicError,
        "state: this is not done to a test that stands there; allowed: cleared; came: dosed",
    ):
        second_check(scene.clinic, scene.second, test_id=after.id, version=1, token=None)
