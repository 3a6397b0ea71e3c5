"""The frame of a chart: which minutes and ppm it spans, and where they fall in pixels."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ebbline.adapters.chart.criteria import Criteria
from ebbline.adapters.chart.place import text_width
from ebbline.adapters.chart.slots import Series, slots_of
from ebbline.adapters.chart.wording import number
from ebbline.core.rules.interpretation import Interpretation

WIDTH = 590
HEIGHT = 165
SIZE = 13
SMALL = 11.5
# The strip above the highest mark, for the label of the window.
HEADROOM = 24
# A test with nothing but a fasting reading still needs an axis.
_LEAST_END_MINUTE = 30.0


@dataclass(frozen=True, slots=True)
class Frame:
    """Minutes on x, ppm from 0 on y; `ticks_ppm` are the labelled levels."""

    start_minute: float
    end_minute: float
    top_ppm: float
    ticks_ppm: tuple[float, ...]

    def x(self, minute: float) -> float:
        """Return the pixel of a minute, from the left."""
        return WIDTH * (minute - self.start_minute) / (self.end_minute - self.start_minute)

    def y(self, value_ppm: float) -> float:
        """Return the pixel of a concentration, from the top."""
        return HEIGHT * (1.0 - value_ppm / self.top_ppm)


def frame_of(
    interpretation: Interpretation, series: Sequence[Series], asked: Criteria | None
) -> Frame:
    """Return a frame that holds everything that is drawn, the whole window included."""
    minutes = [slot.minute for slot in slots_of(interpretation)]
    end = max([*minutes, 0.0])
    if asked is not None and asked.by_minute is not None:
        end = max(end, asked.by_minute)
    end = end if end > 0.0 else _LEAST_END_MINUTE
    start = min([*minutes, 0.0])
    start -= 0.03 * (end - start)
    levels = [1.0]
    for one in series:
        levels += [p.value_ppm + 2.0 * p.u_ppm for p in one.points]
        levels += [p.raw_ppm for p in one.points]
        levels += [c.raw_ppm for c in one.crosses]
    if asked is not None:
        levels += [t.level_ppm for t in asked.thresholds]
    highest = max(levels)
    top = highest * HEIGHT / (HEIGHT - HEADROOM)
    step = _nice_step(top / 5.0)
    return Frame(
        start_minute=start,
        end_minute=end,
        top_ppm=top,
        ticks_ppm=tuple(step * i for i in range(int(top / step + 1e-9) + 1)),
    )


def minute_labels(frame: Frame, minutes: Sequence[float]) -> list[float]:
    """Return the minutes that can be written under the axis without touching; earlier ones win."""
    kept: list[float] = []
    for minute in minutes:
        half = _half_width(minute)
        if all(
            abs(frame.x(minute) - frame.x(other)) >= half + _half_width(other) + 5 for other in kept
        ):
            kept.append(minute)
    return sorted(kept)


def _half_width(minute: float) -> float:
    return text_width(number(minute), SIZE) / 2


def _nice_step(rough: float) -> float:
    """Return the next step of 1, 2 or 5 times a power of ten, whole ppm at least."""
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= rough - 1e-9)
    return max(1.0, step)
