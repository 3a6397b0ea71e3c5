"""People are added, changed and let go by a manager, and somebody who may do so is always left."""

import json
from concurrent.futures import ThreadPoolExecutor

import pytest

from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.record.staff import User
from ebbline.core.errors import AccessError, ConflictError, EbblineError, FieldError
from ebbline.services.clinic.access.access_ports import Door
from ebbline.services.clinic.access.change_password import change_password
from ebbline.services.clinic.access.log_in import who_is
from ebbline.services.clinic.access.manage_users import (
    add_user,
    change_user,
    deactivate_user,
    reinstate_user,
)
from tests.records import Clock
from tests.scene import Scene
from tests.services.clinic.doors import OWN, come_in, give, last_act, make_door, user_of


@pytest.fixture
def door(record: SqlRecord, scene: Scene) -> Door:
    """The door of the invented clinic."""
    return make_door(record, scene.clock)


def add(door: Door, scene: Scene, *, login: str = "ben.shore", token: str | None = None) -> str:
    """Add Ben Shore to the bench and return the one-time password."""
    made = add_user(
        door, scene.manager, login=login, name="Ben Shore", roles=["bench"], token=token
    )
    assert made.password is not None
    return made.password


def version_of(door: Door, user_id: str) -> int:
    """Return the version in which a user stands."""
    return user_of(door, user_id).version


def test_whoever_is_added_comes_in_and_chooses_a_password(door: Door, scene: Scene) -> None:
    """The password that was shown is good for nothing else."""
    made = add_user(
        door,
        scene.manager,
        login=" Ben.Shore ",
        name="  Ben   Shore ",
        roles=["reviewer", "bench"],
        token=None,
    )
    assert made.password is not None
    assert made.password not in repr(made)
    kept = user_of(door, made.user_id).entry
    assert kept == User(made.user_id, "ben.shore", "Ben Shore", ("bench", "reviewer"), True)
    here = come_in(door, "ben.shore", made.password)
    assert here.must_change
    fresh = change_password(door, here.token, old=made.password, new=OWN)
    assert who_is(door, fresh.token).user_id == made.user_id


def test_the_history_has_who_added_them_and_no_password(door: Door, scene: Scene) -> None:
    """One act, with one change."""
    password = add(door, scene)
    by, act, _, body = last_act(door)
    assert (by, act) == (scene.manager.user_id, "manage users")
    assert [one[0] for one in json.loads(body)["changes"]] == ["user"]
    assert password not in body


def test_the_same_addition_sent_twice_is_done_once(door: Door, scene: Scene) -> None:
    """The password was shown the first time, and is not made again."""
    password = add(door, scene, token="t1")
    again = add_user(
        door, scene.manager, login="ben.shore", name="Ben Shore", roles=["bench"], token="t1"
    )
    assert (again.login, again.password) == ("ben.shore", None)
    assert come_in(door, "ben.shore", password).must_change


@pytest.mark.parametrize("login", ["tide", "TIDE", " ｔｉｄｅ "])
def test_a_login_is_given_once(door: Door, scene: Scene, login: str) -> None:
    """However it is typed, and also after its owner was let go."""
    deactivate_user(door, scene.manager, scene.bench.user_id, version=1, why="", token=None)
    with pytest.raises(FieldError) as caught:
        add(door, scene, login=login)
    assert str(caught.value) == (
        "login: this login is taken; allowed: one that nobody has or had; came: tide"
    )


def test_two_managers_cannot_give_one_login_twice(
    door: Door, scene: Scene, address: str, clock: Clock
) -> None:
    """Four connections at the same moment: one adds, three are told that it is taken."""

    def one(_: int) -> str:
        record = SqlRecord(record_url(address), now=clock, zone="Europe/London", wait_s=30.0)
        try:
            add(make_door(record, clock), scene)
        except FieldError as error:
            return error.wrong
        finally:
            record.close()
        return "added"

    with ThreadPoolExecutor(4) as pool:
        found = sorted(pool.map(one, range(4)))
    assert found == ["added", *["this login is taken"] * 3]
    with door.clinic.record.look() as look:
        assert len(look.find(User, {"login": "ben.shore"})) == 1


NO_ROLES = (
    "roles: these cannot be somebody's roles; allowed: one or more of bench, reviewer, manager or "
    "auditor, each once; came: "
)
NO_NAME = "name: this cannot be a name; allowed: 1 to 80 characters that can be printed; came: "


@pytest.mark.parametrize(
    ("name", "roles", "words"),
    [
        ("Ben Shore", [], NO_ROLES + "none"),
        ("Ben Shore", ["captain"], NO_ROLES + "captain"),
        ("Ben Shore", ["bench", "bench"], NO_ROLES + "bench, bench"),
        (" ", ["bench"], NO_NAME + "nothing"),
        ("B" * 81, ["bench"], NO_NAME + "81 characters"),
        ("Ben\x00Shore", ["bench"], NO_NAME + "9 characters"),
    ],
)
def test_a_name_or_role_that_is_none_is_refused(
    door: Door, scene: Scene, name: str, roles: list[str], words: str
) -> None:
    """For a new person and for a change alike; nothing is stored."""
    with pytest.raises(FieldError) as caught:
        add_user(door, scene.manager, login="ben.shore", name=name, roles=roles, token=None)
    assert str(caught.value) == words
    with pytest.raises(FieldError) as caught:
        change_user(
            door,
            scene.manager,
            scene.bench.user_id,
            name=name,
            roles=roles,
            version=1,
            why="",
            token=None,
        )
    assert str(caught.value) == words
    assert version_of(door, scene.bench.user_id) == 1


def test_a_role_that_is_taken_away_is_gone_at_the_next_act(door: Door, scene: Scene) -> None:
    """In the session that is open already."""
    give(door, scene.reviewer)
    here = come_in(door, "harbour")
    changed = change_user(
        door,
        scene.manager,
        scene.reviewer.user_id,
        name="Dr L. Harbour",
        roles=["auditor"],
        version=1,
        why="moved to the audit",
        token="t1",
    )
    assert changed.roles == ("auditor",)
    assert last_act(door)[:3] == (scene.manager.user_id, "manage users", "moved to the audit")
    with (
        pytest.raises(AccessError, match="this role may not sign a report"),
        door.clinic.act("sign report", who_is(door, here.token), why="", token=None),
    ):
        pass
    # Sent once more, it is done already.
    again = change_user(
        door,
        scene.manager,
        scene.reviewer.user_id,
        name="Dr L. Harbour",
        roles=["bench"],
        version=1,
        why="",
        token="t1",
    )
    assert again.roles == ("auditor",)


def test_two_changes_of_one_version_are_a_conflict(door: Door, scene: Scene) -> None:
    """The first one stands."""
    user_id = scene.bench.user_id
    change_user(
        door, scene.manager, user_id, name="M. Ebb", roles=["bench"], version=1, why="", token=None
    )
    with pytest.raises(ConflictError, match="changed by"):
        change_user(
            door,
            scene.manager,
            user_id,
            name="M. Flood",
            roles=["bench"],
            version=1,
            why="",
            token=None,
        )
    with pytest.raises(ConflictError, match="changed by"):
        deactivate_user(door, scene.manager, user_id, version=1, why="", token=None)
    assert user_of(door, user_id).entry.name == "M. Ebb"


LAST = (
    "roles: nobody would be left who may manage users; allowed: a change that leaves an active "
    "manager; came: a change of quay, who is the last one"
)


def test_the_last_manager_stays_one(door: Door, scene: Scene) -> None:
    """Nobody takes the role from them or lets them go, not even they themselves."""
    user_id = scene.manager.user_id
    with pytest.raises(AccessError) as caught:
        change_user(
            door,
            scene.manager,
            user_id,
            name="R. Quay",
            roles=["bench"],
            version=1,
            why="",
            token=None,
        )
    assert str(caught.value) == LAST
    with pytest.raises(AccessError) as caught:
        deactivate_user(door, scene.manager, user_id, version=1, why="", token=None)
    assert str(caught.value) == LAST
    # Another role beside it, or another name, is no loss.
    change_user(
        door,
        scene.manager,
        user_id,
        name="R. Quay-Shore",
        roles=["manager", "bench"],
        version=1,
        why="",
        token=None,
    )


def test_a_manager_may_go_when_another_one_is_left(door: Door, scene: Scene) -> None:
    """And does not come back by themselves."""
    add_user(door, scene.manager, login="pier", name="P. Pier", roles=["manager"], token=None)
    user_id = scene.manager.user_id
    deactivate_user(door, scene.manager, user_id, version=1, why="retires", token=None)
    with pytest.raises(AccessError, match="this person may not work with the record any more"):
        reinstate_user(door, scene.manager, user_id, version=2, why="", token=None)


def test_a_manager_who_was_let_go_is_not_left(door: Door, scene: Scene) -> None:
    """The other one is the last."""
    other = add_user(
        door, scene.manager, login="pier", name="P. Pier", roles=["manager"], token=None
    ).user_id
    deactivate_user(door, scene.manager, other, version=1, why="", token=None)
    with pytest.raises(AccessError) as caught:
        deactivate_user(door, scene.manager, scene.manager.user_id, version=1, why="", token=None)
    assert str(caught.value) == LAST


def test_two_managers_cannot_let_each_other_go_at_once(
    door: Door, scene: Scene, address: str, clock: Clock
) -> None:
    """From two connections at the same moment: one of them is refused."""
    other = add_user(
        door, scene.manager, login="pier", name="P. Pier", roles=["manager"], token=None
    ).user_id

    def let_go(user_id: str) -> str:
        record = SqlRecord(record_url(address), now=clock, zone="Europe/London", wait_s=30.0)
        here = make_door(record, clock)
        by = type(scene.manager)(user_id)
        target = other if user_id == scene.manager.user_id else scene.manager.user_id
        try:
            deactivate_user(here, by, target, version=1, why="", token=None)
        except EbblineError:
            return "refused"
        finally:
            record.close()
        return "gone"

    with ThreadPoolExecutor(2) as pool:
        found = sorted(pool.map(let_go, [scene.manager.user_id, other]))
    assert found == ["gone", "refused"]


def test_whoever_is_let_go_may_be_taken_back_with_a_new_password(door: Door, scene: Scene) -> None:
    """The old one is nobody's; what they recorded stayed theirs."""
    give(door, scene.bench)
    user_id = scene.bench.user_id
    gone = deactivate_user(door, scene.manager, user_id, version=1, why="leaves", token="t1")
    assert not gone.active
    again = deactivate_user(door, scene.manager, user_id, version=1, why="leaves", token="t1")
    assert again == gone
    with pytest.raises(AccessError, match="do not belong together"):
        come_in(door, "tide")
    back = reinstate_user(door, scene.manager, user_id, version=2, why="is back", token="t2")
    assert back.password is not None
    assert last_act(door)[:3] == (scene.manager.user_id, "manage users", "is back")
    with pytest.raises(AccessError, match="do not belong together"):
        come_in(door, "tide", OWN)
    assert come_in(door, "tide", back.password).must_change
    twice = reinstate_user(door, scene.manager, user_id, version=2, why="is back", token="t2")
    assert twice.password is None


def test_whoever_was_not_let_go_is_not_taken_back(door: Door, scene: Scene) -> None:
    """It would be a new password without a trace in the history."""
    with pytest.raises(AccessError) as caught:
        reinstate_user(door, scene.manager, scene.bench.user_id, version=1, why="", token=None)
    assert str(caught.value) == (
        "user: this person was not let go; allowed: somebody who was; anybody else gets a new "
        "password by a reset; came: tide"
    )


@pytest.mark.parametrize("role", ["bench", "reviewer", "auditor"])
def test_only_a_manager_manages_users(door: Door, scene: Scene, role: str) -> None:
    """The refusal names who may, and nothing is stored."""
    who = {"bench": scene.bench, "reviewer": scene.reviewer, "auditor": scene.auditor}[role]
    with pytest.raises(AccessError) as caught:
        add_user(door, who, login="ben.shore", name="Ben Shore", roles=["manager"], token=None)
    assert str(caught.value) == (
        "manage users: this role may not add people and change their roles; allowed: manager; "
        f"came: {role}"
    )
    with door.clinic.record.look() as look:
        assert look.find(User, {"login": "ben.shore"}) == ()


def test_somebody_who_is_not_there_is_refused(door: Door, scene: Scene) -> None:
    """Naming the field."""
    with pytest.raises(FieldError) as caught:
        deactivate_user(door, scene.manager, "nobody", version=1, why="", token=None)
    assert str(caught.value) == (
        "user_id: there is no such user; allowed: one that is in the record; came: nobody"
    )


def test_a_token_that_did_something_else_changes_nobody(door: Door, scene: Scene) -> None:
    """It is refused, and not answered as if the change had been made."""
    add(door, scene, token="t")
    user_id = scene.second.user_id
    version = version_of(door, user_id)
    with pytest.raises(FieldError, match="token: this was sent before with other content"):
        deactivate_user(door, scene.manager, user_id, version=version, why="left", token="t")
    assert user_of(door, user_id).entry.active
