"""A new record gets its first manager in one step, and never a second time."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.record.staff import User
from ebbline.core.errors import AccessError, FieldError
from ebbline.services.clinic.access.access_ports import Door
from ebbline.services.clinic.access.change_password import change_password
from ebbline.services.clinic.access.first_start import first_manager
from ebbline.services.clinic.access.log_in import who_is
from ebbline.services.clinic.access.manage_users import add_user
from tests.records import Clock
from tests.services.clinic.doors import OWN, come_in, last_act, make_door, user_of


@pytest.fixture
def door(record: SqlRecord, clock: Clock) -> Door:
    """The door of a record with nothing in it."""
    return make_door(record, clock)


def test_the_first_manager_adds_the_others(door: Door) -> None:
    """With a password of their own, after the one that was shown."""
    made = first_manager(door, login="Quay", name="R. Quay")
    assert made.password is not None
    assert made.password not in repr(made)
    assert user_of(door, made.user_id).entry == User(
        made.user_id, "quay", "R. Quay", ("manager",), True
    )
    here = change_password(
        door, come_in(door, "quay", made.password).token, old=made.password, new=OWN
    )
    who = who_is(door, here.token)
    add_user(door, who, login="tide", name="M. Tide", roles=["bench"], token=None)


def test_the_history_begins_with_them(door: Door) -> None:
    """By the system, without the password."""
    made = first_manager(door, login="quay", name="R. Quay")
    by, act, why, body = last_act(door)
    assert (by, act, why) == ("", "manage users", "first start")
    assert made.password is not None
    assert made.password not in body


def test_there_is_no_second_first_manager(door: Door) -> None:
    """Also if the first one was lost."""
    first_manager(door, login="quay", name="R. Quay")
    with pytest.raises(AccessError) as caught:
        first_manager(door, login="pier", name="P. Pier")
    assert str(caught.value) == (
        "first start: somebody is in this record already; allowed: a record without people; "
        "came: a record with 1"
    )
    with door.clinic.record.look() as look:
        assert len(look.find(User, {})) == 1


def test_two_first_starts_at_once_make_one_manager(door: Door, address: str, clock: Clock) -> None:
    """From two connections at the same moment."""

    def start(login: str) -> bool:
        record = SqlRecord(record_url(address), now=clock, zone="Europe/London", wait_s=30.0)
        try:
            first_manager(make_door(record, clock), login=login, name="R. Quay")
        except AccessError:
            return False
        finally:
            record.close()
        return True

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(start, ["quay", "pier"])) == [False, True]
    with door.clinic.record.look() as look:
        assert len(look.find(User, {})) == 1


def test_a_first_start_that_fails_leaves_nothing(
    door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A manager without a password would keep everybody out for good."""

    def fail(*_: object) -> None:
        raise RuntimeError

    with monkeypatch.context() as patch:
        patch.setattr("ebbline.adapters.sql.access.SqlAccessRows.set_credential", fail)
        with pytest.raises(RuntimeError):
            first_manager(door, login="quay", name="R. Quay")
    with door.clinic.record.look() as look:
        assert look.find(User, {}) == ()
        assert look.head()[0] == 0
    first_manager(door, login="quay", name="R. Quay")


def test_a_login_that_cannot_be_one_is_refused(door: Door) -> None:
    """And the record stays as it was."""
    with pytest.raises(FieldError, match="this cannot be a login"):
        first_manager(door, login="r quay", name="R. Quay")
    with pytest.raises(FieldError, match="this cannot be a name"):
        first_manager(door, login="quay", name="")
    with door.clinic.record.look() as look:
        assert look.head()[0] == 0
