"""A link that plays a raw log again, at any pace, on the times that it was logged with."""

import time
from collections.abc import Callable

from ebbline.adapters.instrument.links import Pace, Received
from ebbline.adapters.instrument.profile import ReplayLink
from ebbline.adapters.instrument.raw_log import ReadLog, Record, read_log
from ebbline.core.errors import InstrumentError

# So long the clock may run on after a loss, s; the listener opens it again before that.
_SHUT_S = 0.6


class ReplayConnection:
    """A raw log, as if its bytes came now; where the link was lost then, it is lost again.

    Parameters
    ----------
    link : ReplayLink
        File and pace.
    clock : callable
        Returns seconds that never go back.
    """

    def __init__(self, link: ReplayLink, clock: Callable[[], float]) -> None:
        self._link, self._clock = link, clock
        self._pace = Pace(clock, speed=link.speed, start_s=0.0)
        self._log: ReadLog | None = None
        self._left: list[Record] = []
        self._is_open = False
        self._openings = 0
        self._lost_s = 0.0
        self._at_s = 0.0

    @property
    def now_s(self) -> float:
        """Seconds on the log's clock, not beyond what is played next."""
        if self._left:
            next_s = self._left[-1].at_s
            if not self._is_open:
                # Time must pass until it is opened again, even if it came back sooner then.
                next_s = max(next_s, self._lost_s + _SHUT_S)
            self._at_s = max(self._at_s, min(self._pace.now_s, next_s))
        return self._at_s

    @property
    def over(self) -> bool:
        """Whether all of the log was played."""
        return self._log is not None and not self._left

    @property
    def remark(self) -> str:
        """That the log ends in a torn line, where it does; said when it is opened first."""
        torn = self._log is not None and self._log.torn and self._openings == 1
        return f"the last line of {self._link.file} broke off and was left out" if torn else ""

    def open(self) -> None:
        """Read the log, at the first time.

        Raises
        ------
        InstrumentError
            If it cannot be read, or is no raw log.
        """
        if self._log is None:
            self._log = read_log(self._link.file)
            # The last first, so that each is taken off the end. An opening is no news here.
            records = [one for one in self._log.records if one.what != "opened"]
            self._left = records[::-1]
            self._at_s = self._log.records[0].at_s if self._log.records else 0.0
            self._pace = Pace(self._clock, speed=self._link.speed, start_s=self._at_s)
        self._is_open = True
        self._openings += 1

    def read(self, timeout_s: float) -> Received | None:
        """Return the next bytes if they are due within so many seconds, else None.

        Raises
        ------
        InstrumentError
            If the link was lost then.
        """
        if not self._left:
            return None
        due_s = (self._left[-1].at_s - self._pace.now_s) / self._link.speed
        if due_s > timeout_s:
            time.sleep(timeout_s)
            return None
        if due_s > 0.0:
            time.sleep(due_s)
        record = self._left.pop()
        self._at_s = max(self._at_s, record.at_s)
        if record.what == "lost":
            self._lost_s = self._at_s
            raise InstrumentError(record.data.decode("utf-8", "replace"))
        return Received(self._at_s, record.data)

    def close(self) -> None:
        """Stop; what is left is played once it is opened again."""
        self._is_open = False
