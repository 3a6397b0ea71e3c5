"""When each line was sent: by the instrument's own clock while it can be trusted, else by arrival.

Lines that come in one piece, as through a USB adapter, were not sent at one moment. Without a clock
of the instrument they are spread over the time since the piece before.
"""

import math
import statistics
from collections import deque

_HALF_DAY_S = 43_200.0
# Engineering judgement, no source: further from arrival than this, or as long without a move, the
# instrument's clock is not followed. One that is coarser than its lines may be a step further.
_APART_S = 0.5
_COARSE_APART_S = 1.5
_STILL_S = 1.5
# A clock that shows only multiples of these, whole seconds or hundredths of minutes, is coarse: the
# time of arrival is the better one.
_GRIDS_S = (1.0, 0.6)
# How fast the instrument's clock is drawn to the time of arrival, s: of a clock that runs 1 % wrong
# the times are then 0.2 s away, and one that runs 2.5 % wrong is told.
_FOLLOW_S = 20.0
# Two lines are at least so far apart, s.
_LEAST_S = 1e-4
# Lines are spread no wider than so many times their usual distance.
_WIDER = 1.5


class LineTimes:
    """Gives lines their times, rising strictly.

    Parameters
    ----------
    wraps : bool
        Whether the instrument's clock is one of the day, and begins again at midnight.
    """

    def __init__(self, *, wraps: bool) -> None:
        self._wraps = wraps
        self._last_s = -float("inf")
        self._gaps: deque[float] = deque(maxlen=9)
        self.opened(0.0)

    def opened(self, at_s: float) -> None:
        """Say that the link was opened: the instrument's clock may have begun again."""
        self._piece_s = at_s
        self._clock_s: float | None = None
        self._arrived_s = at_s
        self._moved_s = at_s
        # How far the instrument's clock is ahead of arrival, and how much of that is made use of.
        self._lead_s = 0.0
        self._shift_s = 0.0
        self._grids = set(_GRIDS_S)
        self._repeats = False
        self._trusted = True

    def arrivals(self, at_s: float, count: int) -> list[float]:
        """Return when so many lines were sent that came in one piece, by arrival.

        Parameters
        ----------
        at_s : float
            When the piece came, s.
        count : int
            Lines that ended in it.

        Returns
        -------
        list of float, (count,), s
        """
        if count == 0:
            return []
        gap_s = max(at_s - self._piece_s, 0.0) / count
        if count > 1 and self._gaps:
            gap_s = min(gap_s, _WIDER * statistics.median(self._gaps))
        self._gaps.append(gap_s)
        self._piece_s = at_s
        return [at_s - gap_s * left for left in reversed(range(count))]

    def line(self, arrived_s: float, clock_s: float | None) -> tuple[float, str]:
        """Return one line's time, and what is wrong with the instrument's clock, if anything is.

        Parameters
        ----------
        arrived_s : float
            When it was sent by arrival, s.
        clock_s : float or None
            The instrument's own time in it, s.

        Returns
        -------
        at_s : float
            Above that of the line before.
        words : str
            Said once; empty: nothing is wrong.
        """
        words = ""
        if clock_s is not None and self._trusted:
            words = self._follow(arrived_s, clock_s)
        # Where the clock is no longer followed its lead stays, so that times do not run together.
        at_s = max(arrived_s + self._shift_s, self._last_s + _LEAST_S)
        self._last_s = at_s
        return at_s, words

    def _follow(self, arrived_s: float, clock_s: float) -> str:
        """Take the instrument's clock into account, or stop trusting it and say why."""
        before_s, self._clock_s = self._clock_s, clock_s
        passed_s = arrived_s - self._arrived_s
        self._arrived_s = arrived_s
        self._grids = {one for one in self._grids if abs(math.remainder(clock_s, one)) < 1e-6}
        if before_s is None:
            self._moved_s = arrived_s
            return ""
        step_s = clock_s - before_s
        if self._wraps and step_s < -_HALF_DAY_S:
            step_s += 2.0 * _HALF_DAY_S
        if step_s > 0.0:
            self._moved_s = arrived_s
        self._repeats = self._repeats or step_s == 0.0
        coarse = self._repeats or bool(self._grids)
        lead_s = self._lead_s + step_s - passed_s
        words = ""
        if step_s < 0.0:
            words = f"goes back, from {before_s:g} to {clock_s:g} s"
        elif arrived_s - self._moved_s > _STILL_S:
            words = f"stands still at {clock_s:g} s"
        elif abs(lead_s) > (_COARSE_APART_S if coarse else _APART_S):
            words = f"jumps by {lead_s:+.2f} s against the time of arrival"
        if words:
            self._trusted = False
            return words
        self._lead_s = lead_s * (1.0 - min(passed_s / _FOLLOW_S, 1.0))
        if not coarse:
            self._shift_s = self._lead_s
        return ""
