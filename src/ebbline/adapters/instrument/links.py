"""What every link to an analyser can do; each kind of link has a module of its own."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Received:
    """Bytes as they came, and when, s on the link's clock."""

    at_s: float
    data: bytes


class Pace:
    """The clock of a link: seconds since it was made, at so many times the pace of the wall's.

    Parameters
    ----------
    clock : callable
        Returns seconds that never go back.
    speed : float
        Seconds of the link for one of the clock, above 0.
    start_s : float
        What it shows at first, s.
    """

    def __init__(self, clock: Callable[[], float], *, speed: float, start_s: float) -> None:
        self._clock, self.speed, self._start_s = clock, speed, start_s
        self._began = clock()

    @property
    def now_s(self) -> float:
        """What it shows now, s."""
        return self._start_s + (self._clock() - self._began) * self.speed


class Connection(Protocol):
    """A link that can be opened, read and closed, again and again. Nothing is ever sent."""

    @property
    def now_s(self) -> float:
        """Seconds on the link's clock."""
        ...

    @property
    def over(self) -> bool:
        """Whether nothing more will ever come."""
        ...

    @property
    def remark(self) -> str:
        """What is to be said once it is open; empty: nothing."""
        ...

    def open(self) -> None:
        """Open it; refuse with `ebbline.core.errors.InstrumentError` what cannot be opened."""
        ...

    def read(self, timeout_s: float) -> Received | None:
        """Return what has come, after so many seconds at the most; None: nothing.

        A link that was lost raises `ebbline.core.errors.InstrumentError`.
        """
        ...

    def close(self) -> None:
        """Let go of it; it need not be open."""
        ...
