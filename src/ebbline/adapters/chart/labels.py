"""Labels on the curve and the caption under it, placed so that none covers another or a mark."""

from collections.abc import Sequence
from dataclasses import dataclass

from ebbline.adapters.chart.criteria import Criteria
from ebbline.adapters.chart.frame import HEIGHT, SIZE, SMALL, WIDTH, Frame, minute_labels
from ebbline.adapters.chart.place import (
    Box,
    along,
    best,
    text_box,
    text_width,
    wrap,
)
from ebbline.adapters.chart.slots import Series
from ebbline.adapters.chart.wording import gas_label, number
from ebbline.core.rules.interpretation import Interpretation


@dataclass(frozen=True, slots=True)
class Label:
    """A line of text at pixel x, y (middle), aligned left, center or right, in a theme's role."""

    text: str
    x: float
    y: float
    align: str
    role: str
    size: float
    bold: bool = False


def axis_labels(frame: Frame, minutes: Sequence[float]) -> list[Label]:
    """Return the labels of the ticks: minutes as far as they fit, and the levels."""
    below = [
        Label(number(minute), frame.x(minute), HEIGHT + 13, "center", "quiet", SIZE)
        for minute in minute_labels(frame, minutes)
    ]
    beside = [
        Label(number(level), -8, frame.y(level), "right", "quiet", SIZE)
        for level in frame.ticks_ppm
    ]
    return below + beside


def labels(frame: Frame, series: Sequence[Series], asked: Criteria | None) -> list[Label]:
    """Return the labels inside the frame: units, minute 0, gases, window and thresholds."""
    ends = _gas_labels(frame, series)
    placed = [
        Label("ppm", -8, -12, "right", "quiet", SIZE),
        Label("min", WIDTH + 16, HEIGHT + 13, "left", "quiet", SIZE),
        Label("drink finished", frame.x(0.0) + 3, -12, "left", "quiet", SMALL),
        *ends,
    ]
    if asked is None:
        return placed
    obstacles = _obstacles(frame, series, asked)
    obstacles += [_box(label) for label in placed]
    window = _window_label(frame, asked)
    if window is not None:
        placed.append(window)
        obstacles.append(_box(window))
    for line in asked.thresholds:
        label = _threshold_label(frame, line.arithmetic, line.level_ppm, line.gas, obstacles)
        placed.append(label)
        obstacles.append(_box(label))
    return placed


def caption(interpretation: Interpretation, series: Sequence[Series], *, width: float) -> list[str]:
    """Return the lines under the chart: how to read its marks, and whether the data are real."""
    phrases = ["Invented data"] if interpretation.test.invented else []
    points = [p for one in series for p in one.points]
    if any(p.u_ppm > 0.0 for p in points):
        cut = any(p.value_ppm < 2.0 * p.u_ppm for p in points)
        phrases.append(f"bars: ± 2 standard uncertainties{', cut at 0' if cut else ''}")
    if any(p.normalised for p in points):
        phrases.append("short level stroke: raw value before normalising")
    if any(one.crosses for one in series):
        phrases.append("× H₂, + CH₄: raw value that does not count")
    if any(len({p.piece for p in one.points}) > 1 for one in series):
        phrases.append("open line: no value there")
    return wrap(phrases, joint="  ·  ", width=width, size=SMALL)


def _gas_labels(frame: Frame, series: Sequence[Series]) -> list[Label]:
    """Return ``H₂`` and ``CH₄`` at the line ends, pushed apart where the ends meet."""
    found = [
        Label(
            gas_label(one.gas),
            frame.x(one.points[-1].minute) + 9,
            frame.y(one.points[-1].value_ppm),
            "left",
            one.gas,
            SIZE + 1,
            bold=True,
        )
        for one in series
        if one.points
    ]
    if len(found) < 2:
        return found
    upper, lower = sorted(found, key=lambda label: label.y)
    gap = SIZE + 3.0
    short = gap - (lower.y - upper.y)
    if short <= 0.0:
        return found
    low = min(lower.y + short / 2, HEIGHT - 4.0)
    return [_moved(upper, low - gap), _moved(lower, low)]


def _moved(label: Label, y: float) -> Label:
    return Label(label.text, label.x, y, label.align, label.role, label.size, label.bold)


def _window_label(frame: Frame, asked: Criteria) -> Label | None:
    if asked.by_minute is None:
        return None
    by_minute = number(asked.by_minute)
    left, right = frame.x(0.0), frame.x(asked.by_minute)
    text = f"window of {asked.title}, 0 to {by_minute} min"
    if text_width(text, SMALL) > right - left - 8:
        text = f"window, 0 to {by_minute} min"
    fits = text_width(text, SMALL) <= right - left - 8
    x, align = ((left + right) / 2, "center") if fits else (left + 4, "left")
    return Label(text, x, 11, align, "quiet", SMALL)


def _threshold_label(
    frame: Frame, text: str, level_ppm: float, gas: str, obstacles: Sequence[Box]
) -> Label:
    """Return the arithmetic beside its line: right end first, above first."""
    y = frame.y(level_ppm)
    width = text_width(text, SMALL)
    spots = [
        (x, y + shift)
        for x in range(WIDTH - 8, int(width), -34)
        for shift in (-0.75 * SMALL - 1, 0.75 * SMALL + 2)
    ]
    boxes = [text_box(x, spot_y, width, SMALL, align="right") for x, spot_y in spots]
    near = [o for o in obstacles if o.bottom > y - 2 * SMALL and o.top < y + 2 * SMALL]
    x, spot_y = spots[best(boxes, near)]
    return Label(text, x, spot_y, "right", "ink" if gas == "h2" else "ch4", SMALL)


def _box(label: Label) -> Box:
    width = text_width(label.text, label.size)
    return text_box(label.x, label.y, width, label.size, align=label.align)


def _obstacles(frame: Frame, series: Sequence[Series], asked: Criteria) -> list[Box]:
    """Return boxes over every mark that a label must not cover."""
    boxes: list[Box] = []
    for one in series:
        places = [(frame.x(p.minute), frame.y(p.value_ppm)) for p in one.points]
        for point, (x, y) in zip(one.points, places, strict=True):
            boxes.append(Box(x - 6, y - 6, x + 6, y + 6))
            high = frame.y(point.value_ppm + 2.0 * point.u_ppm)
            low = frame.y(max(0.0, point.value_ppm - 2.0 * point.u_ppm))
            boxes.append(Box(x - 2, high, x + 2, low))
            if point.normalised:
                raw = frame.y(point.raw_ppm)
                boxes += [Box(x - 7, raw - 2, x + 7, raw + 2), *along(x, raw, x, y, thick=4)]
        for i in range(len(places) - 1):
            if one.points[i].piece == one.points[i + 1].piece:
                boxes += along(*places[i], *places[i + 1], thick=4)
        for cross in one.crosses:
            x, y = frame.x(cross.minute), frame.y(cross.raw_ppm)
            boxes.append(Box(x - 5, y - 5, x + 5, y + 5))
    for level in frame.ticks_ppm:
        boxes.append(Box(0.0, frame.y(level) - 0.5, WIDTH, frame.y(level) + 0.5))
    for line in asked.thresholds:
        y = frame.y(line.level_ppm)
        boxes.append(Box(0.0, y - 1, WIDTH, y + 1))
    return boxes
