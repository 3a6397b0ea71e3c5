"""The curve of one test as a Vega-Lite specification: values in, a specification out."""

from collections.abc import Mapping, Sequence
from typing import Any

from ebbline.adapters.chart.criteria import Criteria, criteria
from ebbline.adapters.chart.describe import chart_title, describe_chart
from ebbline.adapters.chart.frame import (
    HEIGHT,
    SIZE,
    SMALL,
    WIDTH,
    Frame,
    frame_of,
)
from ebbline.adapters.chart.labels import Label, axis_labels, caption, labels
from ebbline.adapters.chart.layers import Layer, layer, minute, ppm, texts
from ebbline.adapters.chart.marks import ROW, gas_marks, missed_marks, symptom_rows
from ebbline.adapters.chart.slots import (
    minutes_of,
    missed_minutes,
    series_of,
    symptoms_scored,
)
from ebbline.adapters.chart.theme import FONT, Theme
from ebbline.core.rules.interpretation import Interpretation

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"

_LEFT, _RIGHT, _ABOVE = 84, 46, 22
_CAPTION_LINE = 15


def curve_chart(interpretation: Interpretation, *, theme: Theme) -> dict[str, Any]:
    """Return the chart of one test.

    Actual minutes run on x and ppm on y from 0. A line ends where a slot has no value that counts
    and begins again after it; nothing is interpolated.

    Parameters
    ----------
    interpretation : Interpretation
        The test.
    theme : Theme
        Colours.

    Returns
    -------
    dict
        A Vega-Lite specification; ``usermeta.title`` and ``description`` name and describe it.
    """
    gases = [series_of(interpretation, gas) for gas in ("h2", "ch4")]
    drawn = [one for one in gases if one.points or one.crosses]
    asked = criteria(interpretation)
    frame = frame_of(interpretation, drawn, asked)
    minutes = minutes_of(interpretation)
    layers = [
        _axes(frame, minutes, theme),
        *_window(asked, theme),
        _grid(frame, theme),
        _minute_0(theme),
        *_thresholds(frame, asked, theme),
    ]
    for one in reversed(drawn):
        layers += gas_marks(one, getattr(theme, one.gas), theme)
    layers += missed_marks(interpretation, theme)
    below = HEIGHT + (34 if missed_minutes(interpretation) else 24)
    bars, scores = symptom_rows(interpretation, frame, theme, below)
    below += ROW * len(symptoms_scored(interpretation)) + 14
    lines = caption(interpretation, drawn, width=WIDTH + _LEFT + _RIGHT - 8)
    foot = [
        Label(line, 4 - _LEFT, below + _CAPTION_LINE * i, "left", "quiet", SMALL)
        for i, line in enumerate(lines)
    ]
    layers += bars
    inside = [*axis_labels(frame, minutes), *labels(frame, drawn, asked)]
    layers += texts([*inside, *scores, *foot], theme)
    height_below = below + _CAPTION_LINE * (len(lines) - 1) + 8 - HEIGHT
    return {
        "$schema": SCHEMA,
        "usermeta": {"title": chart_title(interpretation)},
        "description": describe_chart(interpretation),
        "width": WIDTH,
        "height": HEIGHT,
        "padding": {"left": _LEFT, "right": _RIGHT, "top": _ABOVE, "bottom": height_below},
        "autosize": {"type": "none"},
        "background": theme.paper,
        "layer": layers,
        "config": {
            "font": FONT,
            "aria": False,
            "view": {"stroke": None},
            "text": {"color": theme.ink, "fontSize": SIZE},
        },
    }


def aspect(spec: Mapping[str, Any]) -> float:
    """Return width over height of a chart, its padding included."""
    pad = spec["padding"]
    width = float(spec["width"] + pad["left"] + pad["right"])
    return width / float(spec["height"] + pad["top"] + pad["bottom"])


def _axes(frame: Frame, minutes: Sequence[float], theme: Theme) -> Layer:
    """Return the layer that carries both scales, with an unseen mark at every minute.

    The axes' own labels are off: they round, and they are dropped by rules that differ between
    renderers.
    """
    axis = {"title": None, "grid": False, "labels": False}
    x_scale = {"domain": [frame.start_minute, frame.end_minute], "nice": False, "zero": False}
    x_axis = {
        **axis,
        "values": minutes,
        "tickSize": 4,
        "domainColor": theme.quiet,
        "tickColor": theme.quiet,
    }
    return layer(
        [{"minute": minute, "ppm": 0} for minute in minutes],
        {"type": "tick", "opacity": 0},
        {
            "x": {**minute(), "scale": x_scale, "axis": x_axis},
            "y": {
                **ppm(),
                "scale": {"domain": [0, frame.top_ppm], "nice": False},
                "axis": {**axis, "domain": False, "ticks": False},
            },
        },
    )


def _minute_0(theme: Theme) -> Layer:
    mark = {"type": "rule", "color": theme.ink, "strokeWidth": 1}
    return layer(
        [{"minute": 0}], mark, {"x": minute(), "y": {"value": -4}, "y2": {"value": HEIGHT}}
    )


def _grid(frame: Frame, theme: Theme) -> Layer:
    # Rules and not the axis' own grid, which would lie beneath the window.
    mark = {"type": "rule", "color": theme.hairline, "strokeWidth": 1}
    values = [{"ppm": level} for level in frame.ticks_ppm if level > 0.0]
    return layer(values, mark, {"y": ppm()})


def _window(asked: Criteria | None, theme: Theme) -> list[Layer]:
    if asked is None or asked.by_minute is None:
        return []
    values = [{"minute": 0, "by_minute": asked.by_minute}]
    encoding = {
        "x": minute(),
        "x2": {"field": "by_minute"},
        "y": {"value": 0},
        "y2": {"value": HEIGHT},
    }
    return [layer(values, {"type": "rect", "color": theme.field}, encoding)]


def _thresholds(frame: Frame, asked: Criteria | None, theme: Theme) -> list[Layer]:
    if asked is None:
        return []
    layers = []
    for line in asked.thresholds:
        start = frame.start_minute if line.from_minute is None else line.from_minute
        values = [{"minute": start, "end_minute": frame.end_minute, "ppm": line.level_ppm}]
        colour = theme.ink if line.gas == "h2" else theme.ch4
        mark = {"type": "rule", "color": colour, "strokeDash": [1.5, 3.5], "strokeWidth": 1.5}
        encoding = {"x": minute(), "x2": {"field": "end_minute"}, "y": ppm()}
        layers.append(layer(values, mark, encoding))
    return layers
