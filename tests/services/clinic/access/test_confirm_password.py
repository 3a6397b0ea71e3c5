"""Whoever signs gives the password again, and the proof of it is theirs and short-lived."""

import pytest

from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.access import PasswordProof, check_proof
from ebbline.core.errors import AccessError
from ebbline.services.clinic.access.access_ports import Door
from ebbline.services.clinic.access.confirm_password import confirm_password
from ebbline.services.clinic.desk import Actor
from tests.records import Clock
from tests.scene import Scene
from tests.services.clinic.doors import OWN, come_in, give, make_door


@pytest.fixture
def door(record: SqlRecord, scene: Scene) -> Door:
    """The door of the invented clinic; Dr L. Harbour has a password."""
    door = make_door(record, scene.clock)
    give(door, scene.reviewer)
    return door


def told(door: Door, who: Actor, password: str) -> str:
    """Return the words with which a password is refused."""
    with pytest.raises(AccessError) as caught:
        confirm_password(door, who, password)
    return str(caught.value)


def test_the_right_password_is_a_proof_of_this_person_and_moment(
    door: Door, scene: Scene, clock: Clock
) -> None:
    """It counts for two minutes."""
    proof = confirm_password(door, scene.reviewer, OWN)
    assert proof == PasswordProof(scene.reviewer.user_id, clock())
    limits = door.rules.proof
    clock.pass_minutes(2)
    check_proof(proof, scene.reviewer.user_id, now=clock(), limits=limits)
    clock.pass_minutes(0.1)
    with pytest.raises(AccessError, match="the password was not given just now"):
        check_proof(proof, scene.reviewer.user_id, now=clock(), limits=limits)


def test_a_wrong_password_is_none(door: Door, scene: Scene) -> None:
    """Nor is the password of somebody else."""
    give(door, scene.bench, "lobster pot eleven")
    assert told(door, scene.reviewer, "lobster pot eleven") == (
        "password: the password is wrong; allowed: the password of the person at work; "
        "came: another one"
    )


def test_wrong_passwords_count_together_with_those_at_the_login(door: Door, scene: Scene) -> None:
    """A screen that was left open gives no further tries; a right one forgets them."""
    for _ in range(4):
        assert "the password is wrong" in told(door, scene.reviewer, "wrong")
    confirm_password(door, scene.reviewer, OWN)
    for _ in range(3):
        told(door, scene.reviewer, "wrong")
    for _ in range(2):
        with pytest.raises(AccessError, match="do not belong together"):
            come_in(door, "harbour", "wrong")
    assert "too many wrong passwords in a row" in told(door, scene.reviewer, OWN)


def test_a_one_time_password_signs_nothing(door: Door, scene: Scene) -> None:
    """Whoever gave it to the person knows it too."""
    give(door, scene.reviewer, one_time=True)
    assert told(door, scene.reviewer, OWN) == (
        "password: this password may be used only once; allowed: to choose a password of one's own "
        "first; came: a signature"
    )


def test_a_stranger_has_no_password(door: Door) -> None:
    """An id that is nobody's."""
    assert told(door, Actor("nobody"), OWN) == (
        "user: there is no such user; allowed: somebody who has logged in; came: nobody"
    )
