"""A password of one's own takes the place of the old one, everywhere at once."""

from dataclasses import replace

import pytest

from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.errors import AccessError, FieldError
from ebbline.services.clinic.access.access_ports import Door
from ebbline.services.clinic.access.change_password import change_password
from ebbline.services.clinic.access.log_in import sessions_of, who_is
from ebbline.services.clinic.access.reset_password import reset_password
from tests.scene import Scene
from tests.services.clinic.doors import OWN, CountedPasswords, come_in, give, make_door

NEW = "lobster pot eleven"


@pytest.fixture
def door(record: SqlRecord, scene: Scene) -> Door:
    """The door of the invented clinic; M. Tide has a password."""
    door = make_door(record, scene.clock)
    give(door, scene.bench)
    return door


def test_a_change_ends_every_session_and_begins_a_new_one(door: Door, scene: Scene) -> None:
    """At the same place; the old password is nobody's any more."""
    here, there = come_in(door, "tide", place="bench 2"), come_in(door, "tide")
    fresh = change_password(door, here.token, old=OWN, new=NEW)
    assert (fresh.who, fresh.must_change) == (scene.bench, False)
    assert who_is(door, fresh.token) == scene.bench
    assert [one.place for one in sessions_of(door, scene.bench)] == ["bench 2"]
    for one in (here, there):
        with pytest.raises(AccessError, match="this session was ended"):
            who_is(door, one.token)
    with pytest.raises(AccessError, match="do not belong together"):
        come_in(door, "tide", OWN)
    assert come_in(door, "tide", NEW).who == scene.bench


def test_a_one_time_password_is_changed_for_ones_own(door: Door, scene: Scene) -> None:
    """Then the session may do everything."""
    give(door, scene.second, one_time=True)
    fresh = change_password(door, come_in(door, "wave").token, old=OWN, new=NEW)
    assert who_is(door, fresh.token) == scene.second
    assert not come_in(door, "wave", NEW).must_change


def test_a_password_in_another_form_is_the_same(door: Door, scene: Scene) -> None:
    """NIST SP 800-63B, 5.1.1.2: a keyboard that composes its letters in another way gets in too."""
    here = come_in(door, "tide")
    change_password(door, here.token, old=OWN, new="caf\u00e9 by the quay")
    assert come_in(door, "tide", "cafe\u0301 by the quay").who == scene.bench


@pytest.mark.parametrize(
    ("new", "words"),
    [
        ("short", "password: too short; allowed: 10 to 1000 characters; came: 5 characters"),
        (
            "password 2026",
            (
                "password: everybody tries this one first; allowed: several words that do not "
                "belong together are easy to remember; came: a commonly used password"
            ),
        ),
        (
            "harbour 2026",
            (
                "password: it is easily guessed; allowed: several words that do not belong "
                "together are easy to remember; came: a name of the person or the service"
            ),
        ),
        (OWN, "password: this is the old password; allowed: another one; came: the same one"),
    ],
)
def test_a_new_password_that_may_not_be_chosen_is_refused(
    door: Door, scene: Scene, new: str, words: str
) -> None:
    """The session and the old password stay."""
    here = come_in(door, "tide")
    with pytest.raises(FieldError) as caught:
        change_password(door, here.token, old=OWN, new=new)
    assert str(caught.value) == words
    assert who_is(door, here.token) == scene.bench
    come_in(door, "tide", OWN)


def test_without_the_old_password_nothing_is_changed(door: Door, scene: Scene) -> None:
    """Whoever finds a screen open does not get the password; wrong ones are counted."""
    here = come_in(door, "tide")
    for _ in range(5):
        with pytest.raises(AccessError) as caught:
            change_password(door, here.token, old="wrong", new=NEW)
        assert str(caught.value) == (
            "password: the old password is wrong; allowed: the password until now; "
            "came: another one"
        )
    with pytest.raises(AccessError, match="too many wrong passwords in a row"):
        change_password(door, here.token, old=OWN, new=NEW)
    assert who_is(door, here.token) == scene.bench


def test_without_a_session_nothing_is_changed(door: Door) -> None:
    """Nor in one that has ended."""
    with pytest.raises(AccessError, match="there is no such session"):
        change_password(door, "unknown", old=OWN, new=NEW)


def test_a_change_forgets_the_wrong_passwords_before_it(door: Door, scene: Scene) -> None:
    """Whoever knew the old one has shown who they are."""
    here = come_in(door, "tide")
    for _ in range(4):
        with pytest.raises(AccessError, match="do not belong together"):
            come_in(door, "tide", "wrong")
    change_password(door, here.token, old=OWN, new=NEW)
    for _ in range(5):
        with pytest.raises(AccessError, match="do not belong together"):
            come_in(door, "tide", OWN)


def test_a_change_does_not_undo_a_reset_at_the_same_moment(door: Door, scene: Scene) -> None:
    """Whoever knew the old password only, and was to be kept out by the reset, is kept out."""
    here = come_in(door, "tide")
    given = []

    class Slow(CountedPasswords):
        def hash(self, password: str) -> str:
            made = reset_password(door, scene.manager, scene.bench.user_id, why="", token=None)
            given.append(made.password)
            return super().hash(password)

    with pytest.raises(AccessError, match="the password was changed meanwhile"):
        change_password(replace(door, passwords=Slow()), here.token, old=OWN, new=NEW)
    assert given[0] is not None
    assert come_in(door, "tide", given[0]).must_change
