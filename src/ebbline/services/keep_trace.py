"""What is kept of a live breath, and what keeps it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ebbline.core.breath.cycle import Method
from ebbline.core.breath.samples import COLUMNS, column
from ebbline.core.breath.trace import PHYSICAL, Channel, Float, Trace


@dataclass(frozen=True, slots=True, eq=False)
class KeptTrace:
    """A trace to be kept, on the link's clock.

    Parameters
    ----------
    trace : Trace
        The samples; numbers that no gas can have are gaps here, and stand in the raw log.
    kind : {"blow", "bag"}
        Whether a patient blew or a bag was emptied.
    begun_s : float or None
        When a person said that it began, s.
    on_for_min : float or None
        How long the analyser had been on at time 0, min.
    profile : str
        Name of the profile.
    invented : bool
        Whether the profile is invented.
    """

    trace: Trace
    kind: Method
    begun_s: float | None
    on_for_min: float | None
    profile: str
    invented: bool


class TraceKeeper(Protocol):
    """Keeps a trace for good."""

    def __call__(self, kept: KeptTrace) -> str:
        """Return the name of the file that it was kept in."""
        ...


def row_of(at_s: float, values: Mapping[Channel, float]) -> Float:
    """Return one sample as a row, with gaps for numbers that no gas can have.

    Parameters
    ----------
    at_s : float
        Its time, s.
    values : mapping of channel name to float
        NaN for what is missing.

    Returns
    -------
    ndarray, (1, 6)
        As in `ebbline.core.breath.samples`.
    """
    row = np.full((1, len(COLUMNS) + 1), np.nan)
    row[0, 0] = at_s
    for name, value in values.items():
        low, high = PHYSICAL[name]
        if low <= value <= high:
            row[0, column(name)] = value
    return row


def trace_of(rows: Float) -> Trace:
    """Return rows as a trace of the channels that had any value.

    Parameters
    ----------
    rows : ndarray, (n_samples, 6)
        As in `ebbline.core.breath.samples`.

    Returns
    -------
    Trace

    Raises
    ------
    InputError
        If it is no trace, such as of fewer than two samples.
    """

    def part(name: Channel) -> Float | None:
        values = rows[:, column(name)]
        return values if np.isfinite(values).any() else None

    return Trace(
        time_s=rows[:, 0],
        h2_ppm=part("h2_ppm"),
        ch4_ppm=part("ch4_ppm"),
        o2_pct=part("o2_pct"),
        co2_pct=part("co2_pct"),
        flow_l_per_s=part("flow_l_per_s"),
    )
