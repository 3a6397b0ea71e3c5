"""Give somebody who cannot log in a new password, for one login."""

from ebbline.core.clinic.passwords import fold_login
from ebbline.core.clinic.record.staff import User
from ebbline.core.errors import AccessError, list_allowed
from ebbline.services.clinic.access.access_ports import Door, OneTime
from ebbline.services.clinic.access.users import MANAGE, give_again, managing_roles
from ebbline.services.clinic.desk import Actor


def reset_password(door: Door, who: Actor, user_id: str, *, why: str, token: str | None) -> OneTime:
    """Give somebody who forgot theirs a new password for one login; their sessions end.

    Parameters
    ----------
    door : Door
        Where.
    who : Actor
        Who gives it.
    user_id : str
        The person.
    why : str
        The reason, or empty.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    OneTime

    Raises
    ------
    FieldError
        If there is no such user.
    AccessError
        If this person may not manage users, asks for a password for themselves, or for somebody
        who was let go.
    """
    if user_id == who.user_id:
        raise AccessError(
            field="user",
            wrong="nobody gives themselves a password without the old one",
            allowed="a change with the old password, or another manager",
            came="the same person",
        )
    password = door.passwords.one_time()
    hashed = door.passwords.hash(password)
    with door.clinic.act(MANAGE, who, why=why, token=token) as act:
        user = act.get(User, user_id).entry
        if token is not None and act.done(token) is not None:
            return OneTime(user_id=user.id, login=user.login, password=None)
        if not user.active:
            raise AccessError(
                field="user",
                wrong="this person may not work with the record any more",
                allowed="somebody who may",
                came=user.login,
            )
        give_again(act, door, user, hashed)
        return OneTime(user_id=user.id, login=user.login, password=password)


def rescue_manager(door: Door, *, login: str, why: str) -> OneTime:
    """Give a manager a password for one login, where no other manager can do so.

    It asks for no password: whoever can start it can already read and write the database. The
    history keeps that it was done, by the system.

    Parameters
    ----------
    door : Door
        Where.
    login : str
        The manager's.
    why : str
        The reason.

    Returns
    -------
    OneTime

    Raises
    ------
    AccessError
        If nobody with this login may manage users.
    """
    password = door.passwords.one_time()
    hashed = door.passwords.hash(password)
    with door.clinic.record.act(MANAGE, by="", why=why, token=None) as act:
        managing = managing_roles(door.clinic.rules.roles)
        active = [one.entry for one in act.find(User, {"active": True})]
        managers = [one for one in active if set(one.roles) & set(managing)]
        for one in managers:
            if one.login == fold_login(login):
                give_again(act, door, one, hashed)
                return OneTime(user_id=one.id, login=one.login, password=password)
        raise AccessError(
            field="login",
            wrong=f"this is not the login of an active {list_allowed(managing)}",
            allowed=list_allowed(one.login for one in managers) or "none is left",
            came=login,
        )
