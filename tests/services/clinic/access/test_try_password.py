"""A stranger is told as little, and as slowly, as a colleague who mistypes."""

import subprocess
import sys
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from argon2 import extract_parameters
from argon2.profiles import CHEAPEST

from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.errors import AccessError
from ebbline.services.clinic.access.access_ports import Door
from ebbline.services.clinic.access.manage_users import deactivate_user
from ebbline.services.clinic.access.try_password import accept, login_key, try_password
from tests.records import Clock
from tests.scene import Scene
from tests.services.clinic.doors import (
    OWN,
    CountedPasswords,
    come_in,
    give,
    make_door,
    passwords_of,
    user_of,
)
from tests.services.clinic.guess import guess

WRONG = (
    "login: login and password do not belong together; allowed: the login and the password of "
    "somebody who may work with the record; came: another pair"
)
EARLY = "too many wrong passwords in a row"
MISMATCH = "login and password do not belong together"
TOP = Path(__file__).resolve().parents[4]


@pytest.fixture
def door(record: SqlRecord, scene: Scene) -> Door:
    """The door of the invented clinic; S. Wave and the others have no password."""
    door = make_door(record, scene.clock)
    give(door, scene.bench)
    give(door, scene.auditor)
    return door


def told(door: Door, login: str, password: str) -> str:
    """Return the words with which a login is refused."""
    with pytest.raises(AccessError) as caught:
        come_in(door, login, password)
    return str(caught.value)


@pytest.mark.parametrize("login", ["tide", "nobody", "wave", "buoy", "", "\ud800", "x" * 100_000])
def test_everybody_is_told_the_same_with_the_same_work(
    door: Door, scene: Scene, login: str
) -> None:
    """A wrong password, an unknown login, one without a password, one that was let go, no login."""
    deactivate_user(door, scene.manager, scene.auditor.user_id, version=1, why="", token=None)
    done = passwords_of(door).done
    done.clear()
    password = OWN if login != "tide" else "wrong"
    assert told(door, login, password) == WRONG
    assert done == ["blind", "fits"]


@pytest.mark.parametrize("password", ["", "\ud800", "x" * 100_000, OWN + "\x00", OWN.upper()])
def test_what_can_be_nobodys_password_is_only_wrong(door: Door, password: str) -> None:
    """It is looked at like any other."""
    passwords_of(door).done.clear()
    assert told(door, "tide", password) == WRONG
    assert passwords_of(door).done == ["blind", "fits"]


@pytest.mark.parametrize("login", ["tide", "nobody"])
def test_wrong_passwords_make_everybody_wait(door: Door, clock: Clock, login: str) -> None:
    """For known and unknown logins alike, and without looking at the password."""
    for _ in range(5):
        assert told(door, login, "wrong") == WRONG
    passwords_of(door).done.clear()
    assert told(door, login, OWN) == (
        f"login: {EARLY}; allowed: another try in 30 s; came: a try before that"
    )
    assert passwords_of(door).done == ["blind"]
    clock.pass_minutes(0.5)
    assert told(door, login, "wrong") == WRONG
    assert told(door, login, "wrong").startswith(f"login: {EARLY}")


def test_who_waits_and_gives_the_right_password_starts_anew(door: Door, clock: Clock) -> None:
    """A success forgets the wrong ones."""
    for _ in range(5):
        told(door, "tide", "wrong")
    clock.pass_minutes(0.5)
    come_in(door, "tide")
    for _ in range(5):
        assert told(door, "tide", "wrong") == WRONG


def test_one_login_waits_for_itself_alone(door: Door, scene: Scene) -> None:
    """Nobody is kept out by guesses at somebody else's password."""
    give(door, scene.second)
    for _ in range(6):
        told(door, "tide", "wrong")
    assert come_in(door, "wave").who == scene.second


def test_one_login_is_one_however_it_is_typed(door: Door) -> None:
    """Capitals and white space give no further tries."""
    for login in ("tide", "Tide", " TIDE ", "ｔｉｄｅ", "tIde"):
        told(door, login, "wrong")
    assert told(door, "tide", OWN).startswith(f"login: {EARLY}")
    assert login_key(door, "tide") == login_key(door, " ＴＩＤＥ ")


def test_waits_survive_a_clock_that_was_set_back(door: Door, clock: Clock) -> None:
    """They count from the new time, and not until the clock has caught up."""
    for _ in range(5):
        told(door, "tide", "wrong")
    clock.pass_minutes(-24 * 60)
    assert told(door, "tide", OWN).startswith(f"login: {EARLY}")
    clock.pass_minutes(0.5)
    come_in(door, "tide")


def test_many_tries_at_once_are_no_more_than_one_after_the_other(door: Door, address: str) -> None:
    """Eight connections of their own guess twice each at the same moment: five are looked at."""
    with ThreadPoolExecutor(8) as pool:
        answers = [pool.submit(guess, address, "tide", 2) for _ in range(8)]
        found = Counter(words for one in answers for words in one.result())
    assert found == {MISMATCH: 5, EARLY: 11}
    assert told(door, "tide", OWN).startswith(f"login: {EARLY}")


def test_tries_of_other_processes_count_and_outlast_them(
    door: Door, address: str, clock: Clock
) -> None:
    """Two processes at once, and then this one."""
    command = [sys.executable, "-m", "tests.services.clinic.guess", address, "tide", "4"]
    running = [
        subprocess.Popen(command, cwd=TOP, stdout=subprocess.PIPE, text=True) for _ in range(2)
    ]
    found = Counter(line for one in running for line in one.communicate()[0].splitlines())
    assert found == {MISMATCH: 5, EARLY: 3}
    assert told(door, "tide", OWN).startswith(f"login: {EARLY}")
    clock.pass_minutes(0.5)
    come_in(door, "tide")


def test_a_password_is_hashed_anew_when_the_cost_changes(door: Door, scene: Scene) -> None:
    """At the next login, and it stays the same password."""
    dearer = replace(door, passwords=CountedPasswords(replace(CHEAPEST, time_cost=2)))
    come_in(dearer, "tide")
    with door.access.look() as rows:
        kept = rows.credential(scene.bench.user_id)
    assert kept is not None
    assert extract_parameters(kept.hash).time_cost == 2
    come_in(dearer, "tide")


def test_a_password_that_was_changed_meanwhile_does_not_count(door: Door, scene: Scene) -> None:
    """Though it was right when it was looked at."""
    right = try_password(door, login="tide", password=OWN)
    assert right is not None
    give(door, scene.bench, "another gull nine")
    with pytest.raises(AccessError) as caught, door.access.write() as rows:
        accept(rows, door, right)
    assert str(caught.value) == (
        "password: the password was changed meanwhile; allowed: the new password; "
        "came: the one before it"
    )


def test_a_password_that_was_hashed_anew_meanwhile_still_counts(door: Door, scene: Scene) -> None:
    """Somebody who logs in at two places at once comes in at both."""
    dearer = replace(door, passwords=CountedPasswords(replace(CHEAPEST, time_cost=2)))
    right = try_password(dearer, login="tide", password=OWN)
    assert right is not None
    come_in(dearer, "tide")
    with door.access.write() as rows:
        assert accept(rows, dearer, right).user_id == scene.bench.user_id


def test_what_is_handed_on_shows_no_password(door: Door) -> None:
    """Neither the password nor a hash of it is in its words."""
    right = try_password(door, login="tide", password=OWN)
    assert right is not None
    assert OWN not in repr(right)
    assert "$argon2" not in repr(right)
    assert user_of(door, right.user.id).entry == right.user
