"""Who is at work is known from a session that is kept at the clinic and ends there."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.record.written import sha256
from ebbline.core.errors import AccessError
from ebbline.services.clinic.access.access_ports import Door
from ebbline.services.clinic.access.log_in import log_out, log_out_everywhere, sessions_of, who_is
from ebbline.services.clinic.access.manage_users import deactivate_user
from tests.records import Clock
from tests.scene import Scene
from tests.services.clinic.doors import OWN, come_in, give, make_door


@pytest.fixture
def door(record: SqlRecord, scene: Scene) -> Door:
    """The door of the invented clinic; M. Tide has a password."""
    door = make_door(record, scene.clock)
    give(door, scene.bench)
    return door


def told(door: Door, token: str) -> str:
    """Return the words with which a session is refused."""
    with pytest.raises(AccessError) as caught:
        who_is(door, token)
    return str(caught.value)


def test_whoever_logs_in_is_at_work(door: Door, scene: Scene) -> None:
    """And is let do what the roles allow."""
    here = come_in(door, "tide")
    assert (here.who, here.must_change) == (scene.bench, False)
    assert who_is(door, here.token) == scene.bench
    with door.clinic.look(who_is(door, here.token)) as look:
        assert look.head()[0] > 0


def test_only_a_digest_of_a_token_is_kept(door: Door, scene: Scene) -> None:
    """SHA-256, by which the token cannot be found again."""
    here = come_in(door, "tide")
    (session,) = sessions_of(door, scene.bench)
    assert session.token_hash == sha256(here.token)
    assert here.token not in repr(here)
    assert session.token_hash not in repr(session)


def test_two_sessions_are_two(door: Door, scene: Scene, clock: Clock) -> None:
    """One ends without the other; the list says where each is."""
    first = come_in(door, "tide", place="bench 1")
    clock.pass_minutes(1)
    second = come_in(door, "tide", place="office\n\x00 " + "x" * 300)
    assert first.token != second.token
    assert [one.place[:10] for one in sessions_of(door, scene.bench)] == ["office xxx", "bench 1"]
    assert len(sessions_of(door, scene.bench)[0].place) == 200
    log_out(door, first.token)
    assert told(door, first.token) == (
        "session: this session was ended; allowed: a new login; came: a session that was ended by "
        "a logout, a new password or a manager"
    )
    assert who_is(door, second.token) == scene.bench


@pytest.mark.parametrize("token", ["", "unknown", "\ud800", "x" * 100_000])
def test_a_token_that_is_not_known_is_refused(door: Door, token: str) -> None:
    """And logging out with it does nothing."""
    come_in(door, "tide")
    assert told(door, token) == (
        "session: there is no such session; allowed: a new login; came: a token that is not known"
    )
    log_out(door, token)


def test_the_digest_of_a_token_is_no_token(door: Door) -> None:
    """Whoever reads the database cannot go on with a session of it."""
    here = come_in(door, "tide")
    assert "there is no such session" in told(door, sha256(here.token))


def test_a_session_ends_when_nobody_works_in_it(door: Door, scene: Scene, clock: Clock) -> None:
    """After 30 minutes, and not sooner."""
    here = come_in(door, "tide")
    clock.pass_minutes(29)
    assert who_is(door, here.token) == scene.bench
    clock.pass_minutes(29)
    assert who_is(door, here.token) == scene.bench
    clock.pass_minutes(30)
    assert "nobody has worked in this session for too long" in told(door, here.token)
    assert sessions_of(door, scene.bench) == ()


def test_a_session_ends_after_its_full_time(door: Door, scene: Scene, clock: Clock) -> None:
    """After 12 hours, though somebody works in it all the time."""
    here = come_in(door, "tide")
    for _ in range(12 * 4 - 1):
        clock.pass_minutes(15)
        assert who_is(door, here.token) == scene.bench
    clock.pass_minutes(15)
    assert "this session has lasted its full time" in told(door, here.token)


def test_work_is_noted_once_a_minute(door: Door, scene: Scene, clock: Clock) -> None:
    """A page that asks every second does not write every second."""
    here = come_in(door, "tide")
    begun = clock()
    clock.pass_minutes(0.9)
    who_is(door, here.token)
    assert sessions_of(door, scene.bench)[0].seen_at == begun
    clock.pass_minutes(0.1)
    who_is(door, here.token)
    assert sessions_of(door, scene.bench)[0].seen_at == clock()


def test_all_sessions_of_a_person_can_be_ended(door: Door, scene: Scene) -> None:
    """And nobody else's."""
    give(door, scene.second)
    here, there = come_in(door, "tide"), come_in(door, "tide")
    other = come_in(door, "wave")
    log_out_everywhere(door, scene.bench)
    assert all("this session was ended" in told(door, one.token) for one in (here, there))
    assert who_is(door, other.token) == scene.second


def test_whoever_is_let_go_is_out_at_once(door: Door, scene: Scene) -> None:
    """In every session, and in one that a login begins at the same moment."""
    here = come_in(door, "tide")
    deactivate_user(door, scene.manager, scene.bench.user_id, version=1, why="", token=None)
    assert "this session was ended" in told(door, here.token)
    with door.access.write() as rows:
        session = rows.session(sha256(here.token))
        assert session is not None
        rows.end_sessions(scene.bench.user_id, door.access.now())
    late = "a token that nobody ended"
    with door.access.write() as rows:
        rows.add_session(
            type(session)(
                sha256(late), session.user_id, door.access.now(), door.access.now(), None, ""
            )
        )
    assert "this session was ended" in told(door, late)


def test_a_session_of_a_one_time_password_may_only_choose_another(door: Door, scene: Scene) -> None:
    """It is nobody's for anything else."""
    give(door, scene.second, one_time=True)
    here = come_in(door, "wave")
    assert here.must_change
    assert told(door, here.token) == (
        "password: this password may be used only once; allowed: to choose a password of one's own "
        "first; came: something else"
    )


def test_many_may_log_in_at_once(door: Door, scene: Scene, address: str, clock: Clock) -> None:
    """From connections of their own; each gets a session of its own."""

    def one(_: int) -> str:
        record = SqlRecord(record_url(address), now=clock, zone="Europe/London", wait_s=30.0)
        token = come_in(make_door(record, clock), "tide").token
        record.close()
        return token

    with ThreadPoolExecutor(4) as pool:
        tokens = set(pool.map(one, range(4)))
    assert len(tokens) == 4
    assert {who_is(door, token) for token in tokens} == {scene.bench}


def test_old_sessions_are_forgotten(door: Door, scene: Scene, clock: Clock) -> None:
    """Long after they ended, so that the table does not grow without end."""
    here = come_in(door, "tide")
    clock.pass_minutes(32 * 24 * 60)
    come_in(door, "tide")
    assert "there is no such session" in told(door, here.token)


def test_logging_in_leaves_the_chain_as_it_was(door: Door) -> None:
    """What people do is in the history, not that they came."""
    with door.clinic.record.look() as look:
        head = look.head()
    here = come_in(door, "tide", OWN)
    who_is(door, here.token)
    log_out(door, here.token)
    with door.clinic.record.look() as look:
        assert look.head() == head
