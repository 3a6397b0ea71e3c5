"""Entries of which a test has one."""

import pytest

from ebbline.core.clinic.record.visit import Screening
from ebbline.core.errors import ConflictError, FieldError
from ebbline.services.clinic.sole import needed, sole, write_sole
from tests.scene import Scene
from tests.services.clinic.given import stands


def write(scene: Scene, test_id: str, answers: dict[str, str], *, version: int) -> None:
    """Write the one screening of a test."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        found = sole(act, Screening, test_id)
        entry_id = act.new_id() if found is None else found.entry.id
        write_sole(act, found, Screening(entry_id, test_id, answers), version=version)


def test_it_is_written_first_and_revised_then(scene: Scene) -> None:
    """A test has one of it at any time."""
    test = scene.test(substrate="lactose", state="arrived")
    with scene.clinic.record.look() as look:
        assert sole(look, Screening, test.id) is None
    write(scene, test.id, {"diabetes": "no"}, version=0)
    write(scene, test.id, {"diabetes": "yes"}, version=1)
    found = stands(scene, Screening, test_id=test.id)
    assert (found.entry.answers, found.version) == ({"diabetes": "yes"}, 2)
    with scene.clinic.record.look() as look:
        assert needed(look, Screening, test.id) == found


def test_what_was_not_seen_is_not_changed(scene: Scene) -> None:
    """Neither a version that was never there, nor one that somebody else replaced."""
    test = scene.test(substrate="lactose", state="arrived")
    with pytest.raises(FieldError) as caught:
        write(scene, test.id, {}, version=2)
    assert str(caught.value) == "version: nothing stands yet; allowed: 0; came: 2"
    write(scene, test.id, {}, version=0)
    with pytest.raises(ConflictError):
        write(scene, test.id, {"diabetes": "no"}, version=0)


def test_what_must_be_there_is_asked_for(scene: Scene) -> None:
    """The refusal names it."""
    test = scene.test(substrate="lactose", state="arrived")
    with scene.clinic.record.look() as look, pytest.raises(FieldError) as caught:
        needed(look, Screening, test.id)
    assert str(caught.value) == (
        "screening: not there yet; allowed: a test with its screening; came: none"
    )
