"""Look at a password that somebody gave, as slowly for a stranger as for a colleague."""

from dataclasses import dataclass, field, replace

from ebbline.core.clinic.access import next_try, too_early
from ebbline.core.clinic.passwords import fold_login, fold_password
from ebbline.core.clinic.record.staff import User
from ebbline.core.errors import AccessError
from ebbline.services.clinic.access.access_ports import AccessRows, Credential, Door

# Longer than any login; what is typed there may be anything.
_LONGEST = 200


@dataclass(frozen=True, slots=True)
class RightPassword:
    """That a user's password was right when it was looked at; `accept` makes it count.

    ``renewed`` is a hash of it at today's cost, None where the one that is kept has that cost.
    """

    user: User
    key: str
    hash: str = field(repr=False)
    password: str = field(repr=False)
    renewed: str | None = field(repr=False)


def login_key(door: Door, login: str) -> str:
    """Return what wrong passwords of a login are counted under.

    People type their password into the field of the login. So nothing that was typed there is
    kept, only a hash as slow as that of a password.

    Parameters
    ----------
    door : Door
        Where.
    login : str
        As it was typed.

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    salt = bytes.fromhex(door.access.record_id())
    return door.passwords.blind(fold_login(login[:_LONGEST]), salt=salt)


def try_password(door: Door, *, login: str, password: str) -> RightPassword | None:
    """Return that a password is right, None where it is not.

    It takes as long where nobody has the login, or where its owner may not work with the record
    any more.

    Parameters
    ----------
    door : Door
        Where.
    login : str
        As it was typed.
    password : str
        As it was typed.

    Returns
    -------
    RightPassword or None

    Raises
    ------
    AccessError
        If it is too early for another try.
    """
    key = login_key(door, login)
    with door.access.write() as rows:
        tried, wait_s = next_try(rows.tried(key), door.rules.throttle, now=door.access.now())
        rows.set_tried(key, tried)
    if wait_s > 0.0:
        raise too_early(wait_s)
    user, credential = _owner(door, login)
    folded = fold_password(password, door.rules.password)
    hashed = None if credential is None else credential.hash
    if not door.passwords.fits(hashed, folded):
        return None
    # What fits has an owner, a hash and a password.
    assert user is not None
    assert hashed is not None
    assert folded is not None
    renewed = door.passwords.hash(folded) if door.passwords.outdated(hashed) else None
    return RightPassword(user=user, key=key, hash=hashed, password=folded, renewed=renewed)


def accept(rows: AccessRows, door: Door, right: RightPassword) -> Credential:
    """Make a right password count: forget the wrong ones before it.

    Parameters
    ----------
    rows : AccessRows
        In a transaction that writes.
    door : Door
        Where.
    right : RightPassword
        The password.

    Returns
    -------
    Credential
        As it stands.

    Raises
    ------
    AccessError
        If the password was changed while it was looked at.
    """
    stands = rows.credential(right.user.id)
    if stands is None or (
        stands.hash != right.hash and not door.passwords.fits(stands.hash, right.password)
    ):
        raise AccessError(
            field="password",
            wrong="the password was changed meanwhile",
            allowed="the new password",
            came="the one before it",
        )
    if right.renewed is not None and stands.hash == right.hash:
        stands = replace(stands, hash=right.renewed)
        rows.set_credential(stands)
    rows.clear_tried(right.key)
    return stands


def _owner(door: Door, login: str) -> tuple[User | None, Credential | None]:
    """Return the active user with a login and their credential."""
    folded = fold_login(login[:_LONGEST])
    # A database takes no half of a character; it can be in nobody's login.
    known = folded.isprintable()
    with door.clinic.record.look() as look:
        found = look.find(User, {"login": folded, "active": True}) if known else ()
    if not found:
        return None, None
    user = found[0].entry
    with door.access.look() as rows:
        return user, rows.credential(user.id)
