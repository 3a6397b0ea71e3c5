"""Whoever forgot a password gets another one from a manager, and the history says so."""

import json

import pytest

from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.errors import AccessError
from ebbline.services.clinic.access.access_ports import Door
from ebbline.services.clinic.access.log_in import who_is
from ebbline.services.clinic.access.manage_users import deactivate_user
from ebbline.services.clinic.access.reset_password import rescue_manager, reset_password
from tests.scene import Scene
from tests.services.clinic.doors import OWN, come_in, give, last_act, make_door


@pytest.fixture
def door(record: SqlRecord, scene: Scene) -> Door:
    """The door of the invented clinic; M. Tide and R. Quay have a password."""
    door = make_door(record, scene.clock)
    give(door, scene.bench)
    give(door, scene.manager)
    return door


def test_a_new_password_ends_the_old_one_and_every_session(door: Door, scene: Scene) -> None:
    """And it may be tried at once, however many wrong ones came before."""
    here = come_in(door, "tide")
    for _ in range(6):
        with pytest.raises(AccessError):
            come_in(door, "tide", "wrong")
    made = reset_password(door, scene.manager, scene.bench.user_id, why="forgot it", token="t1")
    assert made.password is not None
    with pytest.raises(AccessError, match="this session was ended"):
        who_is(door, here.token)
    assert come_in(door, "tide", made.password).must_change
    with pytest.raises(AccessError, match="do not belong together"):
        come_in(door, "tide", OWN)
    again = reset_password(door, scene.manager, scene.bench.user_id, why="forgot it", token="t1")
    assert again.password is None


def test_the_history_says_that_a_password_was_shown(door: Door, scene: Scene) -> None:
    """For whom, by whom and why, and not which."""
    made = reset_password(door, scene.manager, scene.bench.user_id, why="forgot it", token=None)
    by, act, why, body = last_act(door)
    assert (by, act, why) == (scene.manager.user_id, "manage users", "forgot it")
    assert json.loads(body)["warned"] == [
        f"a password for one login was shown, for user {scene.bench.user_id}; their sessions ended"
    ]
    assert made.password is not None
    assert made.password not in body


def test_nobody_resets_their_own(door: Door, scene: Scene) -> None:
    """Whoever finds a manager's screen open does not get the manager's password."""
    with pytest.raises(AccessError) as caught:
        reset_password(door, scene.manager, scene.manager.user_id, why="", token=None)
    assert str(caught.value) == (
        "user: nobody gives themselves a password without the old one; allowed: a change with the "
        "old password, or another manager; came: the same person"
    )


def test_whoever_was_let_go_gets_none(door: Door, scene: Scene) -> None:
    """They have to be taken back first."""
    deactivate_user(door, scene.manager, scene.bench.user_id, version=1, why="", token=None)
    with pytest.raises(AccessError) as caught:
        reset_password(door, scene.manager, scene.bench.user_id, why="", token=None)
    assert str(caught.value) == (
        "user: this person may not work with the record any more; allowed: somebody who may; "
        "came: tide"
    )


def test_only_a_manager_gives_passwords(door: Door, scene: Scene) -> None:
    """The old one stays."""
    with pytest.raises(AccessError, match="allowed: manager; came: reviewer"):
        reset_password(door, scene.reviewer, scene.bench.user_id, why="", token=None)
    come_in(door, "tide")


def test_the_only_manager_is_rescued_at_the_computer(door: Door, scene: Scene) -> None:
    """By the system, with the reason in the history."""
    made = rescue_manager(door, login=" Quay ", why="forgot it, no other manager")
    assert (made.user_id, made.login) == (scene.manager.user_id, "quay")
    assert made.password is not None
    by, act, why, body = last_act(door)
    assert (by, act, why) == ("", "manage users", "forgot it, no other manager")
    assert made.password not in body
    assert come_in(door, "quay", made.password).must_change


@pytest.mark.parametrize("login", ["tide", "nobody"])
def test_nobody_but_a_manager_is_rescued(door: Door, login: str) -> None:
    """The refusal names the managers."""
    with pytest.raises(AccessError) as caught:
        rescue_manager(door, login=login, why="")
    assert str(caught.value) == (
        f"login: this is not the login of an active manager; allowed: quay; came: {login}"
    )
