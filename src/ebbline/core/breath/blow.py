"""The second stage of a cycle: breath passes the inlet, until room air has come back for good."""

import math

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.cycle import Cycle, Watched
from ebbline.core.breath.front import Turn
from ebbline.core.breath.response import time_to_share_s
from ebbline.core.breath.samples import Samples, column

Float = NDArray[np.float64]


class Blow:
    """Follows one blow by the marker channel.

    Parameters
    ----------
    cycle : Cycle
        What the cycle is run with.
    samples : Samples
        Where samples are kept; they reach to the moment at which breath was seen.
    watched : Watched
        The marker channel, of the stream regime.
    seen_s : float
        When breath was seen, s.
    """

    def __init__(self, cycle: Cycle, samples: Samples, watched: Watched, seen_s: float) -> None:
        self._samples = samples
        self._watched = watched
        self._seen_s = seen_s
        self._latest_s = seen_s + cycle.settings.longest_blow_s
        before = samples.rows[samples.rows[:, 0] <= seen_s, 0]
        # Two samples past the onset are there in any case.
        intervals = np.diff(before if before.size > 1 else samples.rows[:, 0])
        self._turn = Turn(watched, cycle.settings, float(np.median(intervals)))

    def feed(self, rows: Float) -> tuple[int, bool]:
        """Take samples; return how many were taken, and whether the blow is over."""
        late = np.flatnonzero(rows[:, 0] > self._latest_s)
        part = rows[: late[0] + 1] if late.size else rows
        share = self._watched.share(part[:, column(self._watched.channel)])
        hit = self._turn.feed(part[:, 0], share)
        used = len(part) if hit is None else hit + 1
        self._samples.append(part[:used])
        return used, hit is not None or late.size > 0

    @property
    def again(self) -> bool:
        """Whether breath came once more after room air had."""
        return self._turn.again

    @property
    def steady_s(self) -> float:
        """For how long the marker has been near its highest, s: the plateau so far, by eye."""
        rows = self._samples.rows
        rows = rows[np.searchsorted(rows[:, 0], self._seen_s) :]
        share = self._watched.share(rows[:, column(self._watched.channel)])
        known = np.isfinite(share)
        if not known.any():
            return 0.0
        smooth, at_s = self._turn.smooth(share[known]), rows[known, 0]
        below = np.flatnonzero(smooth < smooth.max() - self._turn.step)
        if below.size == smooth.size or (below.size and below[-1] == smooth.size - 1):
            return 0.0
        return float(at_s[-1] - at_s[below[-1] + 1 if below.size else 0])

    @property
    def end_s(self) -> tuple[float, float]:
        """Between which times at the inlet the blow ended, s."""
        response = self._watched.sensor.response
        if math.isnan(self._turn.at_s):
            last_s = float(self._samples.rows[-1, 0]) - response.delay_s
            return last_s, last_s
        fallen = min(self._turn.step / max(self._turn.peak, self._turn.step), 0.5)
        lag_s = response.delay_s + time_to_share_s(fallen, response)
        return self._turn.clear_s - lag_s, self._turn.at_s - lag_s
