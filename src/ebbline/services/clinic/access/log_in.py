"""Log in and out, and say who is at work in a session."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from ebbline.core.clinic.access import check_session
from ebbline.core.clinic.record.staff import User
from ebbline.core.clinic.record.written import sha256
from ebbline.core.errors import AccessError
from ebbline.services.clinic.access.access_ports import AccessRows, Door, Session
from ebbline.services.clinic.access.try_password import accept, try_password
from ebbline.services.clinic.desk import Actor

_PLACE = 200


@dataclass(frozen=True, slots=True)
class LoggedIn:
    """A new session. Its token is given out once and kept nowhere.

    Where ``must_change`` is true, the session may do nothing but choose a password.
    """

    who: Actor
    token: str = field(repr=False)
    must_change: bool


def log_in(door: Door, *, login: str, password: str, place: str) -> LoggedIn:
    """Begin a session.

    Parameters
    ----------
    door : Door
        Where.
    login : str
        As it was typed.
    password : str
        As it was typed.
    place : str
        What the device says of itself, for the list of sessions.

    Returns
    -------
    LoggedIn

    Raises
    ------
    AccessError
        In the same words for a wrong password, an unknown login and an inactive one; in others
        where it is too early for another try.
    """
    right = try_password(door, login=login, password=password)
    if right is None:
        raise AccessError(
            field="login",
            wrong="login and password do not belong together",
            allowed="the login and the password of somebody who may work with the record",
            came="another pair",
        )
    with door.access.write() as rows:
        credential = accept(rows, door, right)
        now = door.access.now()
        kept = timedelta(seconds=door.rules.throttle.forget_s)
        longest = timedelta(seconds=door.rules.session.most_s)
        rows.forget(tried_before=now - kept, begun_before=now - kept - longest)
        token = new_session(rows, door, right.user.id, place=place)
    return LoggedIn(who=Actor(right.user.id), token=token, must_change=credential.one_time)


def who_is(door: Door, token: str) -> Actor:
    """Return who is at work in a session, and note that somebody is.

    Parameters
    ----------
    door : Door
        Where.
    token : str
        The session's token.

    Returns
    -------
    Actor

    Raises
    ------
    AccessError
        If the session is not known, was ended, idle for too long or has lasted its time; or if a
        password has to be chosen first.
    """
    session, _, must_change = open_session(door, token)
    if must_change:
        raise AccessError(
            field="password",
            wrong="this password may be used only once",
            allowed="to choose a password of one's own first",
            came="something else",
        )
    return Actor(session.user_id)


def log_out(door: Door, token: str) -> None:
    """End a session; one that is not known or has ended stays as it is.

    Parameters
    ----------
    door : Door
        Where.
    token : str
        The session's token.
    """
    with door.access.write() as rows:
        rows.end_session(_hash_of(token), door.access.now())


def log_out_everywhere(door: Door, who: Actor) -> None:
    """End every session of a person.

    Parameters
    ----------
    door : Door
        Where.
    who : Actor
        The person.
    """
    with door.access.write() as rows:
        rows.end_sessions(who.user_id, door.access.now())


def sessions_of(door: Door, who: Actor) -> tuple[Session, ...]:
    """Return where a person is logged in.

    Parameters
    ----------
    door : Door
        Where.
    who : Actor
        The person.

    Returns
    -------
    tuple of Session
        Those that are open, the latest first.
    """
    now = door.access.now()
    with door.access.look() as rows:
        return tuple(one for one in rows.sessions(who.user_id) if _is_open(door, one, now=now))


def open_session(door: Door, token: str) -> tuple[Session, User, bool]:
    """Return a session that is open, whose it is, and whether a password has to be chosen in it.

    Parameters
    ----------
    door : Door
        Where.
    token : str
        The session's token.

    Returns
    -------
    tuple of Session, User and bool

    Raises
    ------
    AccessError
        If it is not open.
    """
    token_hash = _hash_of(token)
    with door.access.look() as rows:
        session = rows.session(token_hash)
        credential = None if session is None else rows.credential(session.user_id)
    if session is None or credential is None:
        raise AccessError(
            field="session",
            wrong="there is no such session",
            allowed="a new login",
            came="a token that is not known",
        )
    with door.clinic.record.look() as look:
        user = look.get(User, session.user_id).entry
    now = door.access.now()
    note = check_session(
        door.rules.session,
        begun_at=session.begun_at,
        seen_at=session.seen_at,
        # Somebody who was let go while logging in has a session that nobody ended.
        ended_at=session.ended_at if user.active else now,
        now=now,
    )
    if note:
        with door.access.write() as rows:
            rows.see_session(token_hash, now)
    return session, user, credential.one_time


def new_session(rows: AccessRows, door: Door, user_id: str, *, place: str) -> str:
    """Keep a new session and return its token.

    Parameters
    ----------
    rows : AccessRows
        In a transaction that writes.
    door : Door
        Where.
    user_id : str
        Whose it is.
    place : str
        What the device says of itself.

    Returns
    -------
    str
        Random, of 256 bits; only its SHA-256 is kept.
    """
    token = door.passwords.token()
    now = door.access.now()
    printable = "".join(letter for letter in place if letter.isprintable())
    rows.add_session(
        Session(
            token_hash=_hash_of(token),
            user_id=user_id,
            begun_at=now,
            seen_at=now,
            ended_at=None,
            place=printable[:_PLACE],
        )
    )
    return token


def _is_open(door: Door, session: Session, *, now: datetime) -> bool:
    try:
        check_session(
            door.rules.session,
            begun_at=session.begun_at,
            seen_at=session.seen_at,
            ended_at=session.ended_at,
            now=now,
        )
    except AccessError:
        return False
    return True


def _hash_of(token: str) -> str:
    # A browser may send anything, half characters too.
    return sha256(token.encode("utf-8", "surrogatepass"))
