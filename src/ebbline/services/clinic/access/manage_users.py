"""Add people, change what they may do, let them go and take them back."""

from collections.abc import Sequence
from dataclasses import replace

from ebbline.core.clinic.passwords import new_login
from ebbline.core.clinic.record.staff import User
from ebbline.core.errors import AccessError
from ebbline.services.clinic.access.access_ports import Door, OneTime
from ebbline.services.clinic.access.users import (
    MANAGE,
    a_user,
    check_roles,
    clean_name,
    give_first,
    keep_a_manager,
)
from ebbline.services.clinic.desk import Actor
from ebbline.services.clinic.repeated import repeated


def add_user(
    door: Door, who: Actor, *, login: str, name: str, roles: Sequence[str], token: str | None
) -> OneTime:
    """Add somebody who works with the record.

    Parameters
    ----------
    door : Door
        Where.
    who : Actor
        Who adds them.
    login : str
        Name to log in with; upper and lower case are alike.
    name : str
        Name as it is printed.
    roles : sequence of str
        By data/roles.toml.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    OneTime
        The password for the first login.

    Raises
    ------
    FieldError
        If the login is taken or cannot be one, or a name or role is none.
    AccessError
        If this person may not manage users.
    """
    folded = new_login(login)
    password = door.passwords.one_time()
    hashed = door.passwords.hash(password)
    with door.clinic.act(MANAGE, who, why="", token=token) as act:
        if before := repeated(act, User, token, same=lambda one: one.login == folded):
            return OneTime(user_id=before.id, login=before.login, password=None)
        user = act.add(a_user(act, door, login=folded, name=name, roles=roles))
        give_first(act, door, user, hashed)
        return OneTime(user_id=user.id, login=user.login, password=password)


def change_user(
    door: Door,
    who: Actor,
    user_id: str,
    *,
    name: str,
    roles: Sequence[str],
    version: int,
    why: str,
    token: str | None,
) -> User:
    """Change somebody's name and roles; a new role counts from the next act on.

    Parameters
    ----------
    door : Door
        Where.
    who : Actor
        Who changes them.
    user_id : str
        The person.
    name : str
        Name as it is printed.
    roles : sequence of str
        All roles from now on.
    version : int
        The version that was seen.
    why : str
        The reason, or empty.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    User

    Raises
    ------
    FieldError
        If there is no such user, or a name or role is none.
    AccessError
        If this person may not manage users, or nobody would be left who may.
    ConflictError
        If it has changed since it was seen.
    """
    with door.clinic.act(MANAGE, who, why=why, token=token) as act:
        if before := repeated(act, User, token, same=lambda one: one.id == user_id):
            return before
        stands = act.get(User, user_id).entry
        after = replace(
            stands, name=clean_name(name), roles=check_roles(door.clinic.rules.roles, roles)
        )
        keep_a_manager(act, door, after)
        return act.revise(after, version=version)


def deactivate_user(
    door: Door, who: Actor, user_id: str, *, version: int, why: str, token: str | None
) -> User:
    """Let somebody go: they cannot log in any more, and every session of theirs ends.

    What they recorded stays theirs, and nobody else ever gets their login.

    Parameters
    ----------
    door : Door
        Where.
    who : Actor
        Who does it.
    user_id : str
        The person.
    version : int
        The version that was seen.
    why : str
        The reason, or empty.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    User

    Raises
    ------
    FieldError
        If there is no such user.
    AccessError
        If this person may not manage users, or nobody would be left who may.
    ConflictError
        If it has changed since it was seen.
    """
    with door.clinic.act(MANAGE, who, why=why, token=token) as act:
        if before := repeated(act, User, token, same=lambda one: one.id == user_id):
            return before
        after = replace(act.get(User, user_id).entry, active=False)
        keep_a_manager(act, door, after)
        door.access.with_act(act, lambda rows: rows.end_sessions(user_id, act.at))
        return act.revise(after, version=version)


def reinstate_user(
    door: Door, who: Actor, user_id: str, *, version: int, why: str, token: str | None
) -> OneTime:
    """Take somebody back who was let go, with a new password for the first login.

    Parameters
    ----------
    door : Door
        Where.
    who : Actor
        Who does it.
    user_id : str
        The person.
    version : int
        The version that was seen.
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
        If this person may not manage users, or the other one was not let go.
    ConflictError
        If it has changed since it was seen.
    """
    password = door.passwords.one_time()
    hashed = door.passwords.hash(password)
    with door.clinic.act(MANAGE, who, why=why, token=token) as act:
        if before := repeated(act, User, token, same=lambda one: one.id == user_id):
            return OneTime(user_id=before.id, login=before.login, password=None)
        stands = act.get(User, user_id).entry
        if stands.active:
            raise AccessError(
                field="user",
                wrong="this person was not let go",
                allowed="somebody who was; anybody else gets a new password by a reset",
                came=stands.login,
            )
        user = act.revise(replace(stands, active=True), version=version)
        give_first(act, door, user, hashed)
        return OneTime(user_id=user.id, login=user.login, password=password)
