"""What a link to an analyser tells: values, troubles, and that it works again."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from ebbline.core.breath.trace import Channel


@dataclass(frozen=True, slots=True)
class Arrived:
    """One line of values: when it came, s on the link's clock, and NaN for what is missing."""

    at_s: float
    values: Mapping[Channel, float]


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something is wrong: what was seen, what it may be and what to do, in words."""

    code: str
    words: str


@dataclass(frozen=True, slots=True)
class Restored:
    """It works again, after a gap of so many seconds."""

    words: str
    gap_s: float


Event = Arrived | Trouble | Restored


class EventSource(Protocol):
    """A link to an analyser; it opens itself, and again after a trouble."""

    @property
    def over(self) -> bool:
        """Whether nothing more will ever come, as at the end of a replay."""
        ...

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        """Return what has happened, after so many seconds at the most.

        Refuse with `ebbline.core.errors.InstrumentError` what can never be opened.
        """
        ...

    def close(self) -> None:
        """Let go of the link."""
        ...
