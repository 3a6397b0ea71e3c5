"""The first manager of a new record."""

from ebbline.core.clinic.passwords import new_login
from ebbline.core.clinic.record.staff import User
from ebbline.core.errors import AccessError
from ebbline.services.clinic.access.access_ports import Door, OneTime
from ebbline.services.clinic.access.users import MANAGE, a_user, give_first, managing_roles


def first_manager(door: Door, *, login: str, name: str) -> OneTime:
    """Add the first person to a record in which there is nobody: one who may add the others.

    Parameters
    ----------
    door : Door
        Over a new record.
    login : str
        Name to log in with.
    name : str
        Name as it is printed.

    Returns
    -------
    OneTime
        The password for the first login, to be shown once to the person at the computer.

    Raises
    ------
    AccessError
        If there is somebody in the record already.
    FieldError
        If login or name cannot be used.
    """
    folded = new_login(login)
    password = door.passwords.one_time()
    hashed = door.passwords.hash(password)
    with door.clinic.record.act(MANAGE, by="", why="first start", token=None) as act:
        people = len(act.find(User, {}))
        if people:
            raise AccessError(
                field="first start",
                wrong="somebody is in this record already",
                allowed="a record without people",
                came=f"a record with {people}",
            )
        roles = managing_roles(door.clinic.rules.roles)
        user = act.add(a_user(act, door, login=folded, name=name, roles=roles))
        give_first(act, door, user, hashed)
        return OneTime(user_id=user.id, login=user.login, password=password)
