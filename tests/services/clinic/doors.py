"""What tests of access share: a door over the invented clinic, with hashes that cost little."""

from argon2 import Parameters
from argon2.profiles import CHEAPEST

from ebbline.adapters.files.library import data_table
from ebbline.adapters.passwords import Argon2Passwords
from ebbline.adapters.sql.access import SqlAccess
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.access_table import parse_access
from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.staff import User
from ebbline.services.clinic.access.access_ports import Credential, Door
from ebbline.services.clinic.access.log_in import LoggedIn, log_in
from ebbline.services.clinic.desk import Actor, Clinic
from tests.records import Clock
from tests.scene import DOCUMENTS, LIBRARY, RULES, ZONE

ACCESS = parse_access(data_table("access"))
OWN = "kelp gull nine"
"""The invented password of whoever is given one by `give`."""


class CountedPasswords(Argon2Passwords):
    """Hashes that cost little, and a count of how often each was made."""

    def __init__(self, parameters: Parameters = CHEAPEST) -> None:
        super().__init__(parameters)
        self.done: list[str] = []

    def fits(self, hashed: str | None, password: str | None) -> bool:
        self.done.append("fits")
        return super().fits(hashed, password)

    def blind(self, text: str, *, salt: bytes) -> str:
        self.done.append("blind")
        return super().blind(text, salt=salt)


def make_door(record: SqlRecord, clock: Clock) -> Door:
    """Return the door of an invented clinic over a record."""
    return Door(
        clinic=Clinic(record=record, documents=DOCUMENTS, library=LIBRARY, rules=RULES, zone=ZONE),
        access=SqlAccess(record, now=clock),
        passwords=CountedPasswords(),
        rules=ACCESS,
    )


def give(door: Door, who: Actor, password: str = OWN, *, one_time: bool = False) -> None:
    """Give somebody a password, past the use cases."""
    hashed = door.passwords.hash(password)
    with door.access.write() as rows:
        rows.set_credential(Credential(who.user_id, hashed, one_time, door.access.now()))


def come_in(door: Door, login: str, password: str = OWN, *, place: str = "bench 1") -> LoggedIn:
    """Log somebody in."""
    return log_in(door, login=login, password=password, place=place)


def user_of(door: Door, user_id: str) -> Kept[User]:
    """Return a user as they stand."""
    with door.clinic.record.look() as look:
        return look.get(User, user_id)


def last_act(door: Door) -> tuple[str, str, str, str]:
    """Return who did the last act, what it was, why, and its body."""
    with door.clinic.record.look() as look:
        (seen,) = look.acts([look.head()[0]])
    return seen.by, seen.act, seen.why, seen.body


def passwords_of(door: Door) -> CountedPasswords:
    """Return the passwords of a door made here."""
    assert isinstance(door.passwords, CountedPasswords)
    return door.passwords
