"""Credentials, sessions and tries are kept beside the chain, together with an act where asked."""

from datetime import timedelta

import pytest
from sqlalchemy import text

from ebbline.adapters.sql.access import SqlAccess
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.access import Tried
from ebbline.core.clinic.record.staff import User
from ebbline.core.errors import RecordError
from ebbline.services.clinic.access.access_ports import AccessRows, Credential, Session
from tests.records import Clock


@pytest.fixture
def access(record: SqlRecord, clock: Clock) -> SqlAccess:
    """Credentials, sessions and tries of a record with nothing in it."""
    return SqlAccess(record, now=clock)


def a_user(record: SqlRecord) -> str:
    """Record an invented user and return the id."""
    with record.act("manage users", by="", why="", token=None) as act:
        return act.add(User(act.new_id(), "ben.shore", "Ben Shore", ("bench",), True)).id


def a_session(user_id: str, clock: Clock, *, token_hash: str = "a" * 64) -> Session:
    """Return an invented session that begins now."""
    return Session(token_hash, user_id, clock(), clock(), None, "bench 1")


def test_a_credential_takes_the_place_of_the_one_before(
    access: SqlAccess, record: SqlRecord, clock: Clock
) -> None:
    """There is one for each user, and none for a stranger."""
    user_id = a_user(record)
    for one in (
        Credential(user_id, "h1", True, clock()),
        Credential(user_id, "h2", False, clock()),
    ):
        with access.write() as rows:
            rows.set_credential(one)
        with access.look() as rows:
            assert rows.credential(user_id) == one
            assert rows.credential("nobody") is None


def test_tries_are_kept_cleared_and_forgotten(access: SqlAccess, clock: Clock) -> None:
    """By their key."""
    old = Tried(3, clock() - timedelta(days=31))
    with access.write() as rows:
        rows.set_tried("k1", Tried(1, clock()))
        rows.set_tried("k1", Tried(2, clock()))
        rows.set_tried("k2", Tried(5, clock()))
        rows.set_tried("k3", old)
        assert rows.tried("k3") == old
        rows.clear_tried("k2")
        before = clock() - timedelta(days=30)
        rows.forget(tried_before=before, begun_before=before)
    with access.look() as rows:
        assert [rows.tried(key) for key in ("k1", "k2", "k3")] == [Tried(2, clock()), None, None]


def test_sessions_are_seen_ended_and_forgotten(
    access: SqlAccess, record: SqlRecord, clock: Clock
) -> None:
    """One that has ended keeps the time of its end."""
    user_id = a_user(record)
    with access.write() as rows:
        rows.add_session(a_session(user_id, clock))
    begun = clock()
    clock.pass_minutes(1)
    with access.write() as rows:
        rows.add_session(a_session(user_id, clock, token_hash="b" * 64))
        rows.see_session("a" * 64, clock())
        assert [one.token_hash[0] for one in rows.sessions(user_id)] == ["b", "a"]
        rows.end_session("a" * 64, clock())
    ended = clock()
    clock.pass_minutes(1)
    with access.write() as rows:
        rows.end_session("a" * 64, clock())
        rows.end_sessions(user_id, clock())
        assert rows.sessions(user_id) == ()
    with access.look() as rows:
        assert rows.session("a" * 64) == Session("a" * 64, user_id, begun, ended, ended, "bench 1")
        assert rows.session("c" * 64) is None
    with access.write() as rows:
        rows.forget(tried_before=begun, begun_before=ended)
        assert rows.session("a" * 64) is None
        assert rows.session("b" * 64) is not None


def test_what_goes_with_an_act_is_kept_with_it(
    access: SqlAccess, record: SqlRecord, clock: Clock
) -> None:
    """A credential of a user whom the same act adds."""
    with record.act("manage users", by="", why="", token=None) as act:
        user = act.add(User(act.new_id(), "ben.shore", "Ben Shore", ("bench",), True))
        credential = Credential(user.id, "h", True, clock())
        access.with_act(act, lambda rows: rows.set_credential(credential))
    with access.look() as rows:
        assert rows.credential(user.id) == credential


def test_what_goes_with_an_act_that_fails_is_not_kept(
    access: SqlAccess, record: SqlRecord, clock: Clock
) -> None:
    """Nor does it go with a later act."""
    user_id = a_user(record)
    credential = Credential(user_id, "h", True, clock())

    def begun_and_failed() -> None:
        with record.act("x", by="", why="", token=None) as act:
            access.with_act(act, lambda rows: rows.set_credential(credential))
            raise RuntimeError

    with pytest.raises(RuntimeError):
        begun_and_failed()
    with record.act("x", by="", why="", token=None) as act:
        act.warn("another act")
    with access.look() as rows:
        assert rows.credential(user_id) is None


def test_an_act_fails_with_what_goes_with_it(access: SqlAccess, record: SqlRecord) -> None:
    """Both or neither: the entries of the act are not kept."""

    def fail(rows: AccessRows) -> None:
        rows.set_tried("k", Tried(1, access.now()))
        raise RuntimeError

    def add_and_fail() -> None:
        with record.act("x", by="", why="", token=None) as act:
            act.add(User(act.new_id(), "ben.shore", "Ben Shore", ("bench",), True))
            access.with_act(act, fail)

    with pytest.raises(RuntimeError):
        add_and_fail()
    with record.look() as look, access.look() as rows:
        assert look.find(User, {}) == ()
        assert look.head()[0] == 0
        assert rows.tried("k") is None


def test_a_credential_needs_a_user(access: SqlAccess, clock: Clock) -> None:
    """The database refuses one of nobody, and says nothing of the hash."""
    with pytest.raises(RecordError) as caught, access.write() as rows:
        rows.set_credential(Credential("nobody", "secret hash", True, clock()))
    assert "the database refused; allowed: what its schema allows" in str(caught.value)
    assert "secret hash" not in str(caught.value)


def test_an_act_of_another_kind_is_refused(access: SqlAccess) -> None:
    """There is no transaction to write in."""
    with pytest.raises(RecordError) as caught:
        access.with_act(object(), lambda rows: None)  # type: ignore[arg-type]
    assert str(caught.value) == (
        "record: no transaction to write in; allowed: an act of a record in a database; "
        "came: object"
    )


def test_the_record_says_which_one_it_is(access: SqlAccess) -> None:
    """Its id is random; its service is the invented one."""
    assert len(bytes.fromhex(access.record_id())) == 10
    assert access.service() == "Harbour Clinic (invented)"


def test_everything_is_still_there_after_a_restart(
    access: SqlAccess, record: SqlRecord, address: str, clock: Clock
) -> None:
    """Opened anew, by another process as it were."""
    user_id = a_user(record)
    with access.write() as rows:
        rows.set_tried("k", Tried(4, clock()))
        rows.add_session(a_session(user_id, clock))
    record.close()
    again = SqlRecord(record_url(address), now=clock, zone="Europe/London", wait_s=5.0)
    with SqlAccess(again, now=clock).look() as rows:
        assert rows.tried("k") == Tried(4, clock())
        assert len(rows.sessions(user_id)) == 1
    again.close()


def test_none_of_it_is_in_the_history(access: SqlAccess, record: SqlRecord, clock: Clock) -> None:
    """Whoever logs in or mistypes leaves no act."""
    user_id = a_user(record)
    with record.look() as look:
        head = look.head()
    with access.write() as rows:
        rows.set_credential(Credential(user_id, "h", True, clock()))
        rows.add_session(a_session(user_id, clock))
    with record.look() as look:
        assert look.head() == head
        assert look.connection.scalar(text("SELECT count(*) FROM history")) == head[0]
