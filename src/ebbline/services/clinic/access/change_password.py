"""Choose a password of one's own."""

from ebbline.core.clinic.passwords import new_password
from ebbline.core.errors import AccessError, FieldError
from ebbline.services.clinic.access.access_ports import Credential, Door
from ebbline.services.clinic.access.log_in import LoggedIn, new_session, open_session
from ebbline.services.clinic.access.try_password import accept, try_password
from ebbline.services.clinic.desk import Actor


def change_password(door: Door, token: str, *, old: str, new: str) -> LoggedIn:
    """Change the password of the person in a session; every session of theirs ends.

    Parameters
    ----------
    door : Door
        Where.
    token : str
        The session's token.
    old : str
        The password until now, as it was typed.
    new : str
        The new one, as it was typed.

    Returns
    -------
    LoggedIn
        A new session at the same place.

    Raises
    ------
    AccessError
        If the session is not open, the old password is wrong, or it is too early for another try.
    FieldError
        If the new one may not be chosen, or is the old one.
    """
    session, user, _ = open_session(door, token)
    chosen = new_password(
        new, door.rules.password, words=(user.login, user.name, door.access.service())
    )
    right = try_password(door, login=user.login, password=old)
    if right is None:
        raise AccessError(
            field="password",
            wrong="the old password is wrong",
            allowed="the password until now",
            came="another one",
        )
    if chosen == right.password:
        raise FieldError(
            field="password",
            wrong="this is the old password",
            allowed="another one",
            came="the same one",
        )
    hashed = door.passwords.hash(chosen)
    with door.access.write() as rows:
        accept(rows, door, right)
        now = door.access.now()
        rows.set_credential(
            Credential(user_id=user.id, hash=hashed, one_time=False, changed_at=now)
        )
        rows.end_sessions(user.id, now)
        fresh = new_session(rows, door, user.id, place=session.place)
    return LoggedIn(who=Actor(user.id), token=fresh, must_change=False)
