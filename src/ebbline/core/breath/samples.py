"""The samples of one cycle, kept only as long as they can still matter."""

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.trace import PHYSICAL, Channel, Trace

Float = NDArray[np.float64]

COLUMNS: tuple[Channel, ...] = tuple(PHYSICAL)
"""Channels in the order of a row's columns, after its time."""


def rows_of(trace: Trace) -> Float:
    """Return a trace as rows.

    Parameters
    ----------
    trace : Trace
        The trace.

    Returns
    -------
    ndarray, (n_samples, 6)
        Time, s, then the channels in the order of `COLUMNS`; NaN where there is nothing.
    """
    rows = np.full((trace.time_s.size, len(COLUMNS) + 1), np.nan)
    rows[:, 0] = trace.time_s
    for name in trace.channels:
        rows[:, column(name)] = trace.channel(name)
    return rows


def column(name: Channel) -> int:
    """Return a channel's column in a row.

    Parameters
    ----------
    name : str
        The channel.

    Returns
    -------
    int
    """
    return COLUMNS.index(name) + 1


class Samples:
    """Rows in the order of time, appended at one end and let go at the other."""

    def __init__(self) -> None:
        self._rows = np.empty((256, len(COLUMNS) + 1))
        self._start = self._end = 0

    @property
    def rows(self) -> Float:
        """All rows that are kept, (n_samples, 6); a view."""
        return self._rows[self._start : self._end]

    def append(self, rows: Float) -> None:
        """Add rows at the end."""
        if self._end + len(rows) > len(self._rows):
            kept = self.rows.copy()
            # Twice what is needed, so that moving is rare; no more than that, so that it is flat.
            self._rows = np.empty((max(2 * (len(kept) + len(rows)), 256), kept.shape[1]))
            self._rows[: len(kept)] = kept
            self._start, self._end = 0, len(kept)
        self._rows[self._end : self._end + len(rows)] = rows
        self._end += len(rows)

    def drop_before(self, time_s: float) -> None:
        """Let go of rows before a time."""
        self._start += int(np.searchsorted(self.rows[:, 0], time_s))
