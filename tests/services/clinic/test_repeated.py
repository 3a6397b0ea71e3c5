"""The same act sent twice is done once."""

import pytest

from ebbline.core.clinic.record.bench import TestEvent
from ebbline.core.clinic.record.staff import User
from ebbline.core.errors import FieldError
from ebbline.services.clinic.bench.record_event import record_event
from ebbline.services.clinic.repeated import repeated
from tests.scene import Scene
from tests.services.clinic.given import refused


def event(scene: Scene, test_id: str, *, what: str, token: str | None) -> TestEvent:
    """Record an event under a token."""
    return record_event(
        scene.clinic,
        scene.bench,
        test_id=test_id,
        what=what,
        at=None,
        lost_fraction=None,
        note="",
        token=token,
    )


def test_an_act_sent_again_returns_what_it_wrote_first(scene: Scene) -> None:
    """Nothing is written the second time."""
    test = scene.test(substrate="lactose", state="sampling", t0=scene.clock.at)
    first = event(scene, test.id, what="walked", token="tap-1")
    with scene.clinic.record.look() as look:
        head = look.head()
    assert event(scene, test.id, what="walked", token="tap-1") == first
    with scene.clinic.record.look() as look:
        assert look.head() == head
        assert len(look.find(TestEvent, {"test_id": test.id})) == 1


def test_acts_without_a_token_are_acts_of_their_own(scene: Scene) -> None:
    """Somebody may walk twice."""
    test = scene.test(substrate="lactose", state="sampling", t0=scene.clock.at)
    assert event(scene, test.id, what="walked", token=None).id != (
        event(scene, test.id, what="walked", token=None).id
    )


def test_a_token_that_comes_with_other_content_is_refused(scene: Scene) -> None:
    """It names the act that had it."""
    test = scene.test(substrate="lactose", state="sampling", t0=scene.clock.at)
    event(scene, test.id, what="walked", token="tap-1")
    with scene.clinic.record.look() as look:
        seq = look.head()[0]
    text = (
        "token: this was sent before with other content; allowed: the same content again, or a "
        f"token of its own; came: another test event under the token of act {seq}"
    )
    with refused(scene, FieldError, text):
        event(scene, test.id, what="slept", token="tap-1")


def test_without_a_question_any_entry_of_the_kind_will_do(scene: Scene) -> None:
    """And an act that wrote none of the kind is another act."""
    test = scene.test(substrate="lactose", state="sampling", t0=scene.clock.at)
    first = event(scene, test.id, what="walked", token="tap-1")
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        assert repeated(act, TestEvent, "tap-1") == first
        assert repeated(act, TestEvent, "tap-2") is None
        with pytest.raises(FieldError, match="came: another user under the token of act"):
            repeated(act, User, "tap-1")
