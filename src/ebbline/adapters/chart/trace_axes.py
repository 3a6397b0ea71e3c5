"""What all charts over seconds share: the sheet, its axes, upright lines with words."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ebbline.adapters.chart.frame import SIZE, SMALL
from ebbline.adapters.chart.labels import Label
from ebbline.adapters.chart.layers import Layer, layer, pixel, texts
from ebbline.adapters.chart.place import text_width, wrap
from ebbline.adapters.chart.theme import FONT, Theme
from ebbline.adapters.chart.trace_frame import LEFT, RIGHT, TimeFrame
from ebbline.adapters.chart.wording import number

# The same version that the curve is specified in.
_SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
_LINE = 15
_GAP = 8


@dataclass(frozen=True, slots=True)
class Moment:
    """Something that happened at a time, s, in a word or two."""

    at_s: float
    words: str


def second(field: str = "s") -> Layer:
    """Return a place along the axis of seconds, by a field of the data."""
    return {"field": field, "type": "quantitative"}


def level(field: str = "value") -> Layer:
    """Return a place along the upper axis of y, by a field of the data."""
    return {"field": field, "type": "quantitative"}


def rounded(value: float) -> float:
    """Return a datum to a thousandth, so that a picture does not hang on a processor's last bit."""
    return round(float(value), 3) + 0.0


def axes(frame: TimeFrame, foot: float, theme: Theme) -> list[Layer]:
    """Return the scales, with a level line at each tick and a short stroke at each second's label.

    The axes' own labels and ticks are off: renderers round and drop them by rules of their own.
    """
    x_scale = {"domain": [frame.start_s, frame.end_s], "nice": False, "zero": False}
    y_scale = {
        "domain": [frame.low, frame.top],
        "range": [frame.height, 0],
        "nice": False,
        "zero": False,
    }
    bare = {"title": None, "grid": False, "labels": False, "ticks": False, "domain": False}
    grid = [{"s": frame.start_s, "value": rounded(value)} for value in frame.ticks]
    strokes = [{"s": rounded(value)} for value in frame.seconds]
    hairline = {"type": "rule", "color": theme.hairline, "strokeWidth": 1}
    quiet = {"type": "rule", "color": theme.quiet, "strokeWidth": 1}
    return [
        layer(
            grid,
            hairline,
            {
                "x": {**second(), "scale": x_scale, "axis": bare},
                "x2": {"value": frame.width},
                "y": {**level(), "scale": y_scale, "axis": bare},
            },
        ),
        layer([{"s": frame.start_s}], quiet, {"x": second(), **_flat(foot, frame.width)}),
        layer(strokes, quiet, {"x": second(), "y": {"value": foot}, "y2": {"value": foot + 4}}),
    ]


def _flat(y: float, width: float) -> Layer:
    return {"x2": {"value": width}, "y": {"value": y}}


def axis_words(frame: TimeFrame, foot: float, unit: str) -> list[Label]:
    """Return the labels of both axes, and their units."""
    below = [
        Label(number(value), frame.x(value), foot + 14, "center", "quiet", SIZE)
        for value in frame.seconds
    ]
    beside = [
        Label(number(value), -8, frame.y(value), "right", "quiet", SIZE) for value in frame.ticks
    ]
    return [
        *below,
        *beside,
        Label("s", frame.width + 14, foot + 14, "left", "quiet", SIZE),
        Label(unit, -8, frame.above - 14, "right", "quiet", SIZE),
    ]


def uprights(
    moments: Sequence[Moment], frame: TimeFrame, plots: Sequence[tuple[float, float]], theme: Theme
) -> tuple[list[Layer], list[Label]]:
    """Return an upright line for each moment, with its words above the plot in rows of their own.

    The line goes through each plot, given by its top and foot in pixels. Words that would meet a
    later line, or its words, stand in the row above them.
    """
    later: list[tuple[float, int]] = []
    values, words = [], []
    for moment in sorted(moments, key=lambda one: one.at_s, reverse=True):
        x = frame.x(moment.at_s)
        width = text_width(moment.words, SMALL)
        # Words to the right of the line, unless they would leave the plot and its margin.
        left = min(x + 4, frame.width + RIGHT - 10 - width)
        row = max((1 + other for start, other in later if start < left + width + _GAP), default=0)
        later.append((min(x, left), row))
        y = -10.0 - _LINE * row
        values += [
            {"s": rounded(moment.at_s), "words": moment.words, "y": top, "foot": foot}
            for top, foot in ((y, plots[0][1]), *plots[1:])
        ]
        words.append(Label(moment.words, round(left, 1), y, "left", "ink", SMALL))
    mark = {"type": "rule", "color": theme.ink, "strokeWidth": 1}
    lines = layer(values, mark, {"x": second(), "y": pixel("y"), "y2": {"field": "foot"}})
    return ([lines] if values else []), words


def rows_above(words: Sequence[Label]) -> float:
    """Return how many pixels the words above a plot need."""
    return max([26.0, *(12.0 - label.y for label in words)])


def caption_words(phrases: Sequence[str], frame: TimeFrame, top: float) -> list[Label]:
    """Return the lines under a chart; a phrase is broken only where no line would hold it."""
    width = frame.width + LEFT + RIGHT - 16
    pieces = [
        piece
        for phrase in phrases
        for piece in wrap(phrase.split(" "), joint=" ", width=width, size=SMALL)
    ]
    lines = wrap(pieces, joint="  ·  ", width=width, size=SMALL)
    return [
        Label(line, 8 - LEFT, top + _LINE * i, "left", "quiet", SMALL)
        for i, line in enumerate(lines)
    ]


def sheet(
    *,
    title: str,
    description: str,
    frame: TimeFrame,
    layers: Sequence[Layer],
    words: Sequence[Label],
    above: float,
    theme: Theme,
) -> dict[str, Any]:
    """Return a specification of layers and words, with margins that hold them all."""
    lowest = max(label.y for label in words)
    return {
        "$schema": _SCHEMA,
        "usermeta": {"title": title},
        "description": description,
        "width": frame.width,
        "height": frame.height,
        "padding": {
            "left": LEFT,
            "right": RIGHT,
            "top": above,
            "bottom": lowest + 12 - frame.height,
        },
        "autosize": {"type": "none"},
        "background": theme.paper,
        "layer": [*layers, *texts(words, theme)],
        "config": {
            # A browser that has no such font then takes one of the same kind.
            "font": f"{FONT}, sans-serif",
            "aria": False,
            "view": {"stroke": None},
            "text": {"color": theme.ink, "fontSize": SIZE},
        },
    }
