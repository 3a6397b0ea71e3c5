"""The frame of a chart over seconds: what it spans, and where that falls in pixels."""

import math
from dataclasses import dataclass

LEFT, RIGHT = 56, 142
"""Margins of a chart over seconds, pixels; the names and values of the gases stand at the right."""

NARROWEST = 420
"""Least width of a chart over seconds, pixels; below it the labels have no room."""


@dataclass(frozen=True, slots=True)
class TimeFrame:
    """Seconds on x, a quantity on y, in a plot of so many pixels that begins ``above`` pixels down.

    ``ticks`` and ``seconds`` are the labelled values on y and on x.
    """

    start_s: float
    end_s: float
    low: float
    top: float
    width: float
    height: float
    above: float
    ticks: tuple[float, ...]
    seconds: tuple[float, ...]

    def x(self, time_s: float) -> float:
        """Return the pixel of a time, from the left; times outside lie on the edge."""
        share = (time_s - self.start_s) / (self.end_s - self.start_s)
        return self.width * min(max(share, 0.0), 1.0)

    def y(self, value: float) -> float:
        """Return the pixel of a value, from the top; values outside lie on the edge."""
        share = (self.top - value) / (self.top - self.low)
        return self.above + self.height * min(max(share, 0.0), 1.0)


def time_frame(
    start_s: float, end_s: float, low: float, top: float, *, width: float, height: float
) -> TimeFrame:
    """Return a frame with whole ticks on both axes, at the top of its chart."""
    return TimeFrame(
        start_s=start_s,
        end_s=end_s,
        low=low,
        top=top,
        width=width,
        height=height,
        above=0.0,
        ticks=ticks(low, top, most=max(2, int(height / 36))),
        seconds=ticks(start_s, end_s, most=max(2, int(width / 56))),
    )


def ticks(low: float, top: float, *, most: int) -> tuple[float, ...]:
    """Return the multiples of a step of 1, 2 or 5 times a power of ten, at most so many."""
    step = _nice_step((top - low) / most)
    first, last = math.ceil(low / step - 1e-9), math.floor(top / step + 1e-9)
    return tuple(step * i for i in range(first, last + 1))


def _nice_step(rough: float) -> float:
    power = 10.0 ** math.floor(math.log10(rough))
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= rough - 1e-12)
