"""Give the password again before signing."""

from ebbline.core.clinic.access import PasswordProof
from ebbline.core.errors import AccessError
from ebbline.services.clinic.access.access_ports import Door
from ebbline.services.clinic.access.try_password import accept, try_password
from ebbline.services.clinic.desk import Actor


def confirm_password(door: Door, who: Actor, password: str) -> PasswordProof:
    """Return the proof that the person at work gave the password just now.

    `ebbline.core.clinic.access.check_proof` says whether it still counts when something is signed.

    Parameters
    ----------
    door : Door
        Where.
    who : Actor
        Who is at work.
    password : str
        As it was typed.

    Returns
    -------
    PasswordProof

    Raises
    ------
    AccessError
        If the password is wrong, it is too early for another try, or the password may be used only
        once. Wrong ones are counted together with those at the login.
    """
    with door.clinic.record.look() as look:
        user = door.clinic.user(look, who).entry
    right = try_password(door, login=user.login, password=password)
    if right is None:
        raise AccessError(
            field="password",
            wrong="the password is wrong",
            allowed="the password of the person at work",
            came="another one",
        )
    with door.access.write() as rows:
        if accept(rows, door, right).one_time:
            raise AccessError(
                field="password",
                wrong="this password may be used only once",
                allowed="to choose a password of one's own first",
                came="a signature",
            )
        return PasswordProof(user_id=user.id, at=door.access.now())
