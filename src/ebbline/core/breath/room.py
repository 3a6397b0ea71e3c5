"""The first stage of a cycle: room air, until breath is seen; the zero is taken from it."""

import math

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.cycle import Cycle
from ebbline.core.breath.front import Onset
from ebbline.core.breath.response import time_to_share_s
from ebbline.core.breath.samples import Samples, column
from ebbline.core.breath.sensor import variance_of_one
from ebbline.core.breath.trace import Channel
from ebbline.core.breath.zero import Zeroing, ZeroLimits, zero_from

Float = NDArray[np.float64]


class Room:
    """Waits for breath, and keeps only the samples that a zero may still need.

    Parameters
    ----------
    cycle : Cycle
        What the cycle is run with.
    samples : Samples
        Where samples are kept.
    begun_s : float or None
        When a person said that it began; counts only without a marker channel.
    """

    def __init__(self, cycle: Cycle, samples: Samples, begun_s: float | None) -> None:
        self._cycle = cycle
        self._samples = samples
        self._watched = cycle.watched
        self._onset = Onset(cycle.settings.onset_share)
        self.begun_s = begun_s

    def feed(self, rows: Float) -> tuple[int, bool]:
        """Take samples; return how many were taken, and whether breath was seen."""
        hit = self._look(rows)
        used = len(rows) if hit is None else hit + 1
        self._samples.append(rows[:used])
        # Breath may turn out to have been seen a few samples ago. What is older is let go, before a
        # hit too, so that it is the same whether samples come one by one or all at once.
        rows_before = self._samples.rows if hit is None else self._samples.rows[:-1]
        if len(rows_before):
            latest_s = float(rows_before[-1, 0]) - self._cycle.settings.confirm_s
            self._samples.drop_before(self.window_s(latest_s)[0])
        if hit is not None:
            self._samples.drop_before(self.window_s(self.seen_s)[0])
        return used, hit is not None

    def _look(self, rows: Float) -> int | None:
        """Return the row at which breath is certain, or None."""
        if self._watched is not None:
            share = self._watched.share(rows[:, column(self._watched.channel)])
            return self._onset.feed(rows[:, 0], share)
        if self.begun_s is None:
            return None
        begun = np.flatnonzero(rows[:, 0] >= self.begun_s)
        return int(begun[0]) if begun.size else None

    @property
    def seen_s(self) -> float:
        """When breath was seen, s, on the trace's clock."""
        if self._watched is None:
            return math.nan if self.begun_s is None else self.begun_s
        return self._onset.crossing_s

    @property
    def onset_s(self) -> float:
        """When breath came to the inlet, s: what the marker's sensor showed, without its lag."""
        if self._watched is None:
            return self.seen_s
        response = self._watched.sensor.response
        lag_s = time_to_share_s(self._cycle.settings.onset_share, response)
        return self.seen_s - response.delay_s - lag_s

    @property
    def u_onset_s(self) -> float:
        """Standard uncertainty of the onset, s."""
        if self._watched is None:
            return self._cycle.settings.u_begun_s
        # The front came somewhere between two samples.
        apart_s = self._onset.first_s - self._onset.before_s
        return math.hypot(apart_s / 2.0, self._watched.sensor.u_delay_s)

    @property
    def lead_s(self) -> float:
        """Time before breath is seen in which another channel could see it already, s."""
        settings = self._cycle.settings
        if self._watched is None:
            return settings.zero_guard_s + 3.0 * settings.u_begun_s
        response = self._watched.sensor.response
        return settings.zero_guard_s + response.delay_s + response.tau_s + response.tau2_s

    def window_s(self, seen_s: float) -> tuple[float, float]:
        """Return start and end of the room air for the zero, were breath seen at a time, s."""
        end_s = seen_s - self.lead_s
        return end_s - self._cycle.settings.zero_window_s, end_s

    def zeros(self) -> dict[Channel, Zeroing]:
        """Return the zero of each channel, once breath was seen."""
        rows, window_s = self._samples.rows, self.window_s(self.seen_s)
        return {name: zero_of(name, rows, window_s, self._cycle) for name in self._cycle.sensors}


def zero_of(name: Channel, rows: Float, window_s: tuple[float, float], cycle: Cycle) -> Zeroing:
    """Return the zero of one channel from the room air before a breath.

    Parameters
    ----------
    name : str
        The channel.
    rows : ndarray, (n_samples, 6)
        The cycle's samples.
    window_s : tuple of float
        Start and end of the room air, s.
    cycle : Cycle
        What is known, allowed, and assumed of room air.

    Returns
    -------
    Zeroing
    """
    sensor, settings, ambient = cycle.sensors[name], cycle.settings, cycle.ambient(name)
    least_sd = math.sqrt(float(variance_of_one(sensor, np.array(ambient))))
    by_percent = name.endswith("_pct")
    shown = rows[:, column(name)]
    return zero_from(
        rows[:, 0],
        shown,
        window_s=window_s,
        ambient=ambient,
        o2_pct=shown if name == "o2_pct" else None,
        least_sd=least_sd,
        u_drift_per_s=sensor.u_drift_per_h / 3600.0,
        limits=ZeroLimits(
            shortest_s=settings.zero_shortest_s,
            fewest=3,
            ambient_o2_pct=ambient if name == "o2_pct" else 1.0,
            o2_within_pct=settings.zero_o2_within_pct,
            steady_in_u=settings.zero_steady_in_u,
            spread=settings.zero_spread * least_sd,
            remains=settings.zero_o2_within_pct if by_percent else settings.zero_remains_ppm,
        ),
    )
