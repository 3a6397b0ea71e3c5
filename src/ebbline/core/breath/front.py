"""When breath comes and when room air comes back, by the marker gas, sample by sample.

Both watchers take blocks of any length and give the same answer however a record is cut.
"""

import math

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.cycle import Watched
from ebbline.core.breath.settings import ReductionSettings

Float = NDArray[np.float64]

# Below this part of its highest the marker shows room air. Judgement, no source.
_ROOM = 0.5
# The highest of a noisy plateau lies up to some three standard deviations above it, and a turn is
# seven; what stays this part of a turn below the highest has really gone down.
_DIPPED = 0.7
# Noise hardly goes further below the highest than this many of its own turns.
_DEEP = 1.5


class Onset:
    """Watches for breath: two values in a row past a share of the way to alveolar gas.

    ``crossing_s`` is when the line between samples passes that share, ``before_s`` the last sample
    before, ``first_s`` the first one past it.
    """

    def __init__(self, share: float) -> None:
        self._share = share
        # The last two values: time and share.
        self._tail = np.full((2, 2), np.nan)
        self.crossing_s = math.nan
        self.before_s = math.nan
        self.first_s = math.nan

    def feed(self, time_s: Float, share: Float) -> int | None:
        """Return the index at which breath is certain, or None.

        Parameters
        ----------
        time_s, share : ndarray, (n_samples,)
            Times, s, and shares of the way; NaN for gaps.

        Returns
        -------
        int or None
        """
        known = np.flatnonzero(np.isfinite(share))
        pairs = np.concatenate([self._tail, np.column_stack([time_s[known], share[known]])])
        past = pairs[:, 1] > self._share
        hits = np.flatnonzero(past[1:] & past[:-1]) + 1
        # The values carried over were looked at when they came.
        hits = hits[hits >= 2]
        if hits.size == 0:
            self._tail = pairs[-2:]
            return None
        hit = int(hits[0])
        first_s, first = pairs[hit - 1]
        self.first_s = self.before_s = self.crossing_s = float(first_s)
        if hit >= 2 and math.isfinite(pairs[hit - 2, 0]):
            before_s, before = pairs[hit - 2]
            way = (self._share - before) / (first - before)
            self.before_s = float(before_s)
            self.crossing_s = float(before_s + way * (first_s - before_s))
        return int(known[hit - 2])


class Turn:
    """Watches a blow for room air coming back: its end, or an inhalation and more breath after it.

    The marker is averaged over a few samples, and turns where it is further below its highest than
    noise can bring it. ``at_s`` is the last turn, ``clear_s`` the last sample before any that was
    averaged in it, ``peak`` the highest share before it, ``again`` whether breath came after a
    turn.
    """

    def __init__(self, watched: Watched, settings: ReductionSettings, interval_s: float) -> None:
        self._count = max(1, min(30, round(settings.smooth_s / interval_s)))
        sd = watched.sd_share / math.sqrt(self._count)
        self._noise = settings.turn_in_sd * sd
        self.step = max(settings.turn_share, self._noise)
        self._confirm_s = settings.confirm_s
        # As many values as are averaged, and one before them.
        self._tail = np.empty((0, 2))
        self._low = math.inf
        self.peak = -math.inf
        self.at_s = math.nan
        self.clear_s = math.nan
        self.again = False

    def feed(self, time_s: Float, share: Float) -> int | None:
        """Return the index at which the blow is known to be over, or None.

        Parameters
        ----------
        time_s, share : ndarray, (n_samples,)
            Times, s, and shares of the way; NaN for gaps.

        Returns
        -------
        int or None
        """
        known = np.flatnonzero(np.isfinite(share))
        pairs = np.concatenate([self._tail, np.column_stack([time_s[known], share[known]])])
        carried = len(self._tail)
        self._tail = pairs[-(self._count) :]
        smooth = self.smooth(pairs[:, 1])
        # The first few values alone are noisier than a step allows for.
        at = max(carried, self._count - 1)
        while at < len(pairs):
            found = self._next(pairs, smooth, at)
            if found is None:
                break
            at, over = found
            if over:
                return int(known[at - carried])
            at += 1
        return None

    def smooth(self, share: Float) -> Float:
        """Return the mean of each share and of the few before it, summed oldest first."""
        total, number = np.zeros_like(share), np.zeros_like(share)
        for back in range(min(self._count, len(share)) - 1, -1, -1):
            total[back:] += share[: len(share) - back]
            number[back:] += 1.0
        return total / number

    def _next(self, pairs: Float, smooth: Float, start: int) -> tuple[int, bool] | None:
        """Return the next event from a sample on, and whether it is the end of the watching."""
        rest = smooth[start:]
        if math.isnan(self.at_s):
            peaks = np.maximum.accumulate(np.concatenate([[self.peak], rest]))[1:]
            turned = np.flatnonzero(rest < peaks - self.step)
            stop = int(turned[0]) if turned.size else len(rest) - 1
            self.peak = float(peaks[stop])
            if turned.size == 0:
                return None
            at = start + stop
            self.at_s = float(pairs[at, 0])
            self.clear_s = float(pairs[max(at - self._count, 0), 0])
            self._low = float(smooth[at])
            return at, False
        lows = np.minimum.accumulate(np.concatenate([[self._low], rest]))[1:]
        risen = rest > lows + self.step
        late = pairs[start:, 0] >= self.at_s + self._confirm_s
        # No deeper than noise goes, and back near the highest: it never was room air.
        noise = lows > self.peak - _DEEP * self._noise
        noise &= rest >= self.peak - _DIPPED * self._noise
        events = np.flatnonzero(risen | late | noise)
        stop = int(events[0]) if events.size else len(rest) - 1
        self._low = float(lows[stop])
        if events.size == 0:
            return None
        if late[stop]:
            return start + stop, self._is_over(float(rest[stop]))
        self.at_s = math.nan
        if noise[stop]:
            return start + stop, False
        self.again = True
        self.peak = float(rest[stop])
        return start + stop, False

    def _is_over(self, share: float) -> bool:
        """Return whether room air has come for good, some time after the marker turned.

        If it has not, the blow goes on: either noise had made the marker turn, or some room air was
        mixed in for good, as after a short inhalation.
        """
        if share < _ROOM * self.peak:
            return True
        if share < self.peak - _DIPPED * self.step:
            self.again = True
            self.peak = share
        self.at_s = math.nan
        return False
