"""When an analyser sends its lines, and which of them arrive empty."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ebbline.core.errors import SettingError

Float = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sampling:
    """When an analyser sends its lines.

    Parameters
    ----------
    rate_hz : float
        Lines per second, above 0.
    jitter_s : float
        Each line comes up to so much sooner or later, s; below half the interval.
    dropped_share : float
        Share of lines that arrive without values, 0 to 1.

    Raises
    ------
    SettingError
        If lines could overtake each other, or a value is outside its range.
    """

    rate_hz: float
    jitter_s: float
    dropped_share: float

    def __post_init__(self) -> None:
        """Refuse what is no order of lines."""
        fits = (
            self.rate_hz > 0.0
            and 0.0 <= self.jitter_s * self.rate_hz < 0.5
            and 0.0 <= self.dropped_share <= 1.0
        )
        if not fits:
            raise SettingError(
                "virtual sampling cannot be used; allowed: a rate above 0, jitter from 0 to below "
                f"half the interval, a share from 0 to 1; came: {self.rate_hz:g} Hz, "
                f"{self.jitter_s:g} s, {self.dropped_share:g}"
            )


@dataclass(frozen=True, slots=True)
class Lines:
    """When values were taken, (n_samples,) s, and which of the lines arrived without them."""

    time_s: Float
    dropped: NDArray[np.bool_]


def draw_lines(rng: np.random.Generator, sampling: Sampling, end_s: float) -> Lines:
    """Return the lines of one trace.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all chance.
    sampling : Sampling
        Rate, jitter and losses.
    end_s : float
        Length of the trace, s. The first line is due at half an interval.

    Returns
    -------
    Lines
        Moments rising strictly, all within the trace.
    """
    n_samples = int(math.floor(end_s * sampling.rate_hz))
    due = (np.arange(n_samples) + 0.5) / sampling.rate_hz
    return Lines(
        time_s=due + rng.uniform(-sampling.jitter_s, sampling.jitter_s, n_samples),
        dropped=rng.random(n_samples) < sampling.dropped_share,
    )
