"""A patient who does not come is recorded so, once the time has passed."""

import pytest

from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.visit.did_not_attend import did_not_attend
from tests.scene import Scene
from tests.services.clinic.given import refused, stands


def mark(
    scene: Scene,
    test: Test,
    *,
    version: int = 1,
    why: str = "no answer",
    token: str | None = None,
) -> Test:
    """Record that the patient did not come."""
    return did_not_attend(
        scene.clinic, scene.bench, test_id=test.id, version=version, why=why, token=token
    )


def test_it_ends_the_test_with_what_is_known(scene: Scene) -> None:
    """Sent twice it is done once."""
    test = scene.test(substrate="lactose", state="booked")
    scene.clock.pass_minutes(31)
    mark(scene, test, token="t1")
    mark(scene, test, token="t1")
    found = stands(scene, Test, id=test.id)
    assert (found.entry.state, found.entry.state_why, found.version) == (
        "did not attend", "no answer", 2,
    )  # fmt: skip


def test_it_is_not_said_before_the_time(scene: Scene) -> None:
    """The patient may still come."""
    test = scene.test(substrate="lactose", state="booked")
    with refused(
        scene,
        ClinicError,
        "state: cannot go from booked to did not attend yet; allowed: did not attend when the time "
        "of the appointment has passed; came: not yet that the time of the appointment has passed",
    ):
        mark(scene, test)


def test_it_needs_words_and_the_latest_version(scene: Scene) -> None:
    """Nothing is changed blindly."""
    test = scene.test(substrate="lactose", state="booked")
    scene.clock.pass_minutes(31)
    with refused(scene, FieldError, "why: missing; allowed: a reason in words; came: nothing"):
        mark(scene, test, why=" ")
    with pytest.raises(ConflictError):
        mark(scene, test, version=2)
