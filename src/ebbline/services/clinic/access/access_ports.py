"""What logging in needs from outside: where credentials and sessions are kept, and hashes."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from ebbline.core.clinic.access import Tried
from ebbline.core.clinic.access_table import AccessTable
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.ports import Act


@dataclass(frozen=True, slots=True)
class Credential:
    """A user's password, as a hash. One that is ``one_time`` must be changed at the next login."""

    user_id: str
    hash: str = field(repr=False)
    one_time: bool
    changed_at: datetime


@dataclass(frozen=True, slots=True)
class Session:
    """Who is logged in where. ``token_hash`` is the SHA-256 of the token; times are in UTC."""

    token_hash: str = field(repr=False)
    user_id: str
    begun_at: datetime
    seen_at: datetime
    ended_at: datetime | None
    place: str


class AccessRows(Protocol):
    """Credentials, sessions and tries, inside one transaction."""

    def credential(self, user_id: str) -> Credential | None:
        """Return a user's credential, None where there is none."""
        ...

    def set_credential(self, credential: Credential) -> None:
        """Keep a credential in place of the user's earlier one."""
        ...

    def tried(self, key: str) -> Tried | None:
        """Return the wrong passwords under a login's key, None where there are none."""
        ...

    def set_tried(self, key: str, tried: Tried) -> None:
        """Keep the wrong passwords under a login's key."""
        ...

    def clear_tried(self, key: str) -> None:
        """Forget the wrong passwords under a login's key."""
        ...

    def forget(self, *, tried_before: datetime, begun_before: datetime) -> None:
        """Forget wrong passwords last given, and sessions begun, before a time."""
        ...

    def session(self, token_hash: str) -> Session | None:
        """Return a session, None where there is none."""
        ...

    def sessions(self, user_id: str) -> tuple[Session, ...]:
        """Return the sessions of a user that were not ended, the latest first."""
        ...

    def add_session(self, session: Session) -> None:
        """Keep a new session."""
        ...

    def see_session(self, token_hash: str, at: datetime) -> None:
        """Note that somebody works in a session."""
        ...

    def end_session(self, token_hash: str, at: datetime) -> None:
        """End a session that has not ended."""
        ...

    def end_sessions(self, user_id: str, at: datetime) -> None:
        """End every session of a user that has not ended."""
        ...


class Access(Protocol):
    """Where credentials, sessions and tries are kept: beside the record, not part of its chain."""

    def now(self) -> datetime:
        """Return the time of the clinic's clock."""
        ...

    def record_id(self) -> str:
        """Return the record's own id, in hexadecimal."""
        ...

    def service(self) -> str:
        """Return the name of the service."""
        ...

    def look(self) -> AbstractContextManager[AccessRows]:
        """Open one consistent view; nothing is written through it."""
        ...

    def write(self) -> AbstractContextManager[AccessRows]:
        """Open a transaction that is the only one writing."""
        ...

    def with_act(self, act: Act, write: Callable[[AccessRows], None]) -> None:
        """Write in the transaction of an act, after what the act recorded: both or neither."""
        ...


class Passwords(Protocol):
    """Hashes passwords and makes random ones."""

    def hash(self, password: str) -> str:
        """Return the hash of a password."""
        ...

    def fits(self, hashed: str | None, password: str | None) -> bool:
        """Return whether a password fits a hash; no, after the same time, where one is missing."""
        ...

    def outdated(self, hashed: str) -> bool:
        """Return whether a hash should be made anew."""
        ...

    def blind(self, text: str, *, salt: bytes) -> str:
        """Return a text as something from which it can only be guessed, slowly."""
        ...

    def one_time(self) -> str:
        """Return a new password to be used once."""
        ...

    def token(self) -> str:
        """Return a new random token of 256 bits."""
        ...


@dataclass(frozen=True, slots=True)
class Door:
    """Everything that a use case of access works with: the clinic, and who may come in."""

    clinic: Clinic
    access: Access
    passwords: Passwords
    rules: AccessTable


@dataclass(frozen=True, slots=True)
class OneTime:
    """A password to be used once, shown to the person who asked for it and kept nowhere.

    ``password`` is None where the same act was sent before: then it was shown already.
    """

    user_id: str
    login: str
    password: str | None = field(repr=False)
