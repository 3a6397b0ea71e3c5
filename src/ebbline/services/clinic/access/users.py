"""What the use cases about people share: who may be added, and a password to begin with."""

from collections.abc import Sequence

from ebbline.core.clinic.record.staff import User
from ebbline.core.clinic.roles import RoleTable
from ebbline.core.errors import AccessError, FieldError, list_allowed
from ebbline.services.clinic.access.access_ports import AccessRows, Credential, Door
from ebbline.services.clinic.access.try_password import login_key
from ebbline.services.clinic.ports import Act

MANAGE = "manage users"
"""The act, by data/roles.toml."""

_LONGEST_NAME = 80


def managing_roles(table: RoleTable) -> tuple[str, ...]:
    """Return the roles that may manage users.

    Parameters
    ----------
    table : RoleTable
        Roles and acts.

    Returns
    -------
    tuple of str
    """
    return next(one.roles for one in table.acts if one.id == MANAGE)


def a_user(act: Act, door: Door, *, login: str, name: str, roles: Sequence[str]) -> User:
    """Return a new user whose login nobody has.

    Parameters
    ----------
    act : Act
        In which they are added.
    door : Door
        Where.
    login : str
        From `ebbline.core.clinic.passwords.new_login`.
    name : str
        Name as it is printed.
    roles : sequence of str
        By data/roles.toml.

    Returns
    -------
    User

    Raises
    ------
    FieldError
        If the login is taken, or a name or role is none.
    """
    if act.find(User, {"login": login}):
        raise FieldError(
            field="login",
            wrong="this login is taken",
            allowed="one that nobody has or had",
            came=login,
        )
    return User(
        id=act.new_id(),
        login=login,
        name=clean_name(name),
        roles=check_roles(door.clinic.rules.roles, roles),
        active=True,
    )


def keep_a_manager(act: Act, door: Door, after: User) -> None:
    """Refuse a change after which nobody could manage users any more.

    Parameters
    ----------
    act : Act
        In which it is made.
    door : Door
        Where.
    after : User
        Somebody as they are to be.

    Raises
    ------
    AccessError
        Naming the roles of which somebody has to be left.
    """
    managing = managing_roles(door.clinic.rules.roles)
    active = [one.entry for one in act.find(User, {"active": True}) if one.entry.id != after.id]
    if after.active:
        active.append(after)
    if not any(set(one.roles) & set(managing) for one in active):
        raise AccessError(
            field="roles",
            wrong="nobody would be left who may manage users",
            allowed=f"a change that leaves an active {list_allowed(managing)}",
            came=f"a change of {after.login}, who is the last one",
        )


def clean_name(name: str) -> str:
    """Return a name as it is kept, with single spaces.

    Parameters
    ----------
    name : str
        As it was typed.

    Returns
    -------
    str

    Raises
    ------
    FieldError
        If it is empty, too long, or cannot be printed.
    """
    cleaned = " ".join(name.split())
    if not cleaned or len(cleaned) > _LONGEST_NAME or not cleaned.isprintable():
        raise FieldError(
            field="name",
            wrong="this cannot be a name",
            allowed=f"1 to {_LONGEST_NAME} characters that can be printed",
            came=f"{len(cleaned)} characters" if cleaned else "nothing",
        )
    return cleaned


def check_roles(table: RoleTable, roles: Sequence[str]) -> tuple[str, ...]:
    """Return roles in the order of the table.

    Parameters
    ----------
    table : RoleTable
        Roles and acts.
    roles : sequence of str
        As they were chosen.

    Returns
    -------
    tuple of str

    Raises
    ------
    FieldError
        If there are none, one is not known, or one is given twice.
    """
    known = [role.id for role in table.roles]
    if not roles or set(roles) - set(known) or len(set(roles)) != len(roles):
        raise FieldError(
            field="roles",
            wrong="these cannot be somebody's roles",
            allowed=f"one or more of {list_allowed(known)}, each once",
            came=", ".join(roles) or "none",
        )
    return tuple(role for role in known if role in roles)


def give_first(act: Act, door: Door, user: User, hashed: str) -> None:
    """Give a user a password for one login when the act ends; their sessions end.

    Parameters
    ----------
    act : Act
        In which it is given.
    door : Door
        Where.
    user : User
        Who gets it.
    hashed : str
        The hash of the password.
    """
    credential = Credential(user_id=user.id, hash=hashed, one_time=True, changed_at=act.at)
    key = login_key(door, user.login)

    def write(rows: AccessRows) -> None:
        rows.set_credential(credential)
        rows.end_sessions(user.id, act.at)
        rows.clear_tried(key)

    door.access.with_act(act, write)


def give_again(act: Act, door: Door, user: User, hashed: str) -> None:
    """Give a user a password for one login when the act ends, and keep in the history that it was.

    Parameters
    ----------
    act : Act
        In which it is given.
    door : Door
        Where.
    user : User
        Who gets it.
    hashed : str
        The hash of the password.
    """
    # No entry changes, so without these words the history would not have the act at all.
    act.warn(f"a password for one login was shown, for user {user.id}; their sessions ended")
    give_first(act, door, user, hashed)
