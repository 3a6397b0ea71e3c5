"""What the clinic's use cases need from outside: a record, and whoever checks passwords."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol, TypeVar

from ebbline.core.clinic.clock import Anchor
from ebbline.core.clinic.dose_table import DoseTable
from ebbline.core.clinic.record.entry import Entry, Kept
from ebbline.core.curve.protocol import Protocol as TestProtocol
from ebbline.core.rules.grammar import RuleSet

E = TypeVar("E", bound=Entry)


@dataclass(frozen=True, slots=True)
class ActSeen:
    """One row of the history as it is read back.

    ``why`` is empty where no reason was given or it was erased; ``body`` is the canonical JSON that
    was hashed; ``by`` is the id of a user, empty for the system.
    """

    seq: int
    at: str
    by: str
    act: str
    why: str
    body: str
    hash: str


@dataclass(frozen=True, slots=True)
class Containing:
    """Stands in place of a value for any text that contains this one, letter for letter."""

    text: str


class Look(Protocol):
    """One consistent view of the record."""

    def get(self, kind: type[E], entry_id: str) -> Kept[E]:
        """Return an entry as it stands; refuse an id that is not there."""
        ...

    def find(self, kind: type[E], where: Mapping[str, Any]) -> tuple[Kept[E], ...]:
        """Return the entries that stand now and have these values, in the order of recording.

        A list or tuple among the values means any of them, a `Containing` any text with it.
        """
        ...

    def versions(self, kind: type[E], entry_id: str) -> tuple[Kept[E], ...]:
        """Return every version of an entry, the first one first."""
        ...

    def written_by(self, kind: type[E], seq: int) -> tuple[Kept[E], ...]:
        """Return what an act wrote of one kind."""
        ...

    def done(self, token: str) -> int | None:
        """Return the act that was sent under a token, None where there is none."""
        ...

    def acts(self, seqs: Sequence[int]) -> tuple[ActSeen, ...]:
        """Return acts by their numbers, in order."""
        ...

    def acts_after(self, seq: int) -> Iterator[ActSeen]:
        """Yield every act after one, in order."""
        ...

    def head(self) -> tuple[int, str]:
        """Return the number and hash of the last act."""
        ...

    def count(self, kind: type[E]) -> int:
        """Return how many entries of a kind there are."""
        ...


class Act(Look, Protocol):
    """What a use case does in one act. Nothing is written before its end."""

    at: datetime

    def new_id(self) -> str:
        """Return an id that nothing in the record has."""
        ...

    def warn(self, words: str) -> None:
        """Keep in the history that the person was warned."""
        ...

    def add(self, entry: E) -> E:
        """Record a new entry when the act ends."""
        ...

    def revise(self, entry: E, *, version: int) -> E:
        """Record a new version when the act ends.

        Refuses with `ebbline.core.errors.ConflictError` where ``version`` no longer stands. A
        version that changes nothing is not recorded.
        """
        ...


class Documents(Protocol):
    """Reads the documents that a service adopts, from the texts that the record keeps."""

    def offered(self, what: str, name: str) -> str:
        """Return the text of a rule set or protocol of this release, to be adopted."""
        ...

    def rule_set(self, text: str) -> RuleSet:
        """Return the rule set that an adopted text holds."""
        ...

    def protocol(self, text: str) -> TestProtocol:
        """Return the protocol that an adopted text holds."""
        ...

    def doses(self, text: str) -> DoseTable:
        """Return the dose rules that an adopted protocol holds."""
        ...


class Record(Protocol):
    """Where everything is kept."""

    def look(self) -> AbstractContextManager[Look]:
        """Open one consistent view."""
        ...

    def act(self, act: str, *, by: str, why: str, token: str | None) -> AbstractContextManager[Act]:
        """Do one act: all of it is written when the block ends, nothing where it raises."""
        ...


@dataclass(frozen=True, slots=True)
class DayRow:
    """One test of a day as the record holds it; names are empty where they were erased.

    ``done_minutes`` are the planned minutes that were taken or missed.
    """

    test_id: str
    number: int
    slot: datetime
    chair: str
    state: str
    substrate: str
    given_name: str
    family_name: str
    done_minutes: tuple[float, ...]


class DayRows(Protocol):
    """Reads the tests of a day in one query."""

    def __call__(self, look: Look, *, begin: datetime, end: datetime) -> tuple[DayRow, ...]:
        """Return those whose slot is at ``begin`` or later, and before ``end``, by slot."""
        ...


class Anchors(Protocol):
    """Keeps where the computer's clocks last stood, beside the record's chain."""

    def kept(self, look: Look) -> Anchor | None:
        """Return where they stood, None where nobody has looked yet."""
        ...

    def keep(self, act: Act, anchor: Anchor) -> None:
        """Keep where they stand, in the transaction of an act."""
        ...
