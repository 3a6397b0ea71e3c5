"""The marks of a trace: light samples, fitted lines in bands, windows, the marker."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ebbline.adapters.chart.layers import Layer, layer, pixel
from ebbline.adapters.chart.theme import Theme
from ebbline.adapters.chart.trace_axes import level, rounded, second
from ebbline.adapters.chart.trace_frame import TimeFrame
from ebbline.adapters.chart.trace_parts import Gas, Samples

DASH = {"h2": [1, 0], "ch4": [6, 4]}
_LIGHT_DASH = {"h2": [1, 0], "ch4": [3, 2]}
_SHAPE = {"h2": "circle", "ch4": "diamond"}
# A line needs no more points than this; of more the lowest and highest of each part are drawn.
_PARTS = 130
_MARKERS = 16


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a blow, s, with a short name and what that means."""

    from_s: float
    to_s: float
    name: str
    meaning: str


def window(from_s: float, to_s: float, theme: Theme, *, height: float) -> Layer:
    """Return a shaded window over the whole height of a plot."""
    encoding = {
        "x": second(),
        "x2": {"field": "to_s"},
        "y": {"value": 0},
        "y2": {"value": height},
    }
    mark = {"type": "rect", "color": theme.field, "opacity": 1}
    return layer([{"s": rounded(from_s), "to_s": rounded(to_s)}], mark, encoding)


def gas_samples(gas: Gas, frame: TimeFrame, colour: str, theme: Theme) -> list[Layer]:
    """Return the samples of a gas, light: a thin line, and its marker at some of them."""
    chosen = thinned(gas.samples)
    points = [
        {
            "gas": gas.gas,
            "s": rounded(at_s),
            "value": rounded(min(max(value, frame.low), frame.top)),
            "piece": int(piece),
        }
        for at_s, value, piece in zip(chosen.time_s, chosen.value, chosen.piece, strict=True)
    ]
    if not points:
        return []
    place = {"x": second(), "y": level()}
    line = {
        "type": "line",
        "color": colour,
        "opacity": 0.5,
        "strokeWidth": 1,
        "strokeDash": _LIGHT_DASH[gas.gas],
    }
    marker = {
        "type": "point",
        "shape": _SHAPE[gas.gas],
        "size": 26,
        "filled": True,
        "fill": colour if gas.gas == "h2" else theme.paper,
        "stroke": colour,
        "strokeWidth": 1,
        "opacity": 0.65,
    }
    every = max(1, -(-len(points) // _MARKERS))
    # CH4 begins half a step later, so that two gases at one level do not hide each other.
    first = every // 2 if gas.gas == "ch4" else 0
    return [
        layer(points, line, {**place, "detail": {"field": "piece", "type": "nominal"}}),
        layer(points[first::every], marker, place),
    ]


def gas_fitted(gas: Gas, frame: TimeFrame, colour: str, *, counts: bool) -> list[Layer]:
    """Return the fitted line with its band, and a dotted level from its end to the right edge.

    The line of a breath that does not count is as thin as its samples.
    """
    fitted = gas.fitted
    if fitted is None:
        return []
    ends = [
        {
            "gas": gas.gas,
            "s": rounded(at_s),
            "value": rounded(value),
            "low": rounded(max(value - fitted.half_ppm, frame.low)),
            "high": rounded(min(value + fitted.half_ppm, frame.top)),
        }
        for at_s, value in (
            (fitted.from_s, fitted.from_ppm),
            (fitted.to_s, fitted.to_ppm),
        )
    ]
    band = {"type": "area", "color": colour, "opacity": 0.2}
    line = {
        "type": "line",
        "color": colour,
        "strokeWidth": 2.5 if counts else 1,
        "strokeDash": DASH[gas.gas],
    }
    dots = {"type": "rule", "color": colour, "strokeDash": [1, 3], "strokeWidth": 1}
    return [
        layer(ends, band, {"x": second(), "y": level("low"), "y2": {"field": "high"}}),
        layer(ends, line, {"x": second(), "y": level()}),
        layer(ends[1:], dots, {"x": second(), "x2": {"value": frame.width}, "y": level()}),
    ]


def share_marks(share: Samples, frame: TimeFrame, theme: Theme) -> list[Layer]:
    """Return the marker gas as a share, in a plot of its own below; grey and dotted."""
    chosen = thinned(share)
    points = [
        {
            "s": rounded(at_s),
            "share": rounded(value),
            "y": round(frame.y(100.0 * value), 1),
            "piece": int(piece),
        }
        for at_s, value, piece in zip(chosen.time_s, chosen.value, chosen.piece, strict=True)
    ]
    levels = [{"s": frame.start_s, "y": round(frame.y(tick), 1)} for tick in frame.ticks]
    grid = {"type": "rule", "color": theme.hairline, "strokeWidth": 1}
    line = {"type": "line", "color": theme.quiet, "strokeWidth": 1.8, "strokeDash": [2, 2]}
    place = {"x": second(), "y": pixel("y")}
    return [
        layer(levels, grid, {**place, "x2": {"value": frame.width}}),
        layer(points, line, {**place, "detail": {"field": "piece", "type": "nominal"}}),
    ]


def stretches(some: tuple[Stretch, ...], y: float, theme: Theme) -> list[Layer]:
    """Return a bracket for each named part of a blow, at a height in pixels."""
    if not some:
        return []
    values = [
        {"s": rounded(one.from_s), "to_s": rounded(one.to_s), "name": one.name} for one in some
    ]
    ends = [{"s": rounded(at_s)} for one in some for at_s in (one.from_s, one.to_s)]
    mark = {"type": "rule", "color": theme.ink, "strokeWidth": 1}
    return [
        layer(values, mark, {"x": second(), "x2": {"field": "to_s"}, "y": {"value": y}}),
        layer(ends, mark, {"x": second(), "y": {"value": y - 4}, "y2": {"value": y + 4}}),
    ]


def thinned(samples: Samples) -> Samples:
    """Return a record with no more points than are drawn: of each part its lowest and highest."""
    count = samples.time_s.size
    if count <= 2 * _PARTS:
        return samples
    edges = np.linspace(0, count, _PARTS + 1).round().astype(np.intp)
    kept = {0, count - 1}
    for start, end in pairwise(edges):
        part = samples.value[start:end]
        kept |= {int(start + np.argmin(part)), int(start + np.argmax(part))}
    chosen = np.array(sorted(kept))
    return Samples(samples.time_s[chosen], samples.value[chosen], samples.piece[chosen])
