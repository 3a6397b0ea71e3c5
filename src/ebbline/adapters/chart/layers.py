"""The smallest parts of a chart: a layer of marks, places by data or by pixel, lines of text."""

from collections.abc import Sequence
from typing import Any

from ebbline.adapters.chart.labels import Label
from ebbline.adapters.chart.theme import Theme

Layer = dict[str, Any]


def layer(values: Sequence[dict[str, Any]], mark: dict[str, Any], encoding: Layer) -> Layer:
    """Return one layer: its rows of data, how they are drawn, and what places them."""
    return {"data": {"values": list(values)}, "mark": mark, "encoding": encoding}


def minute(field: str = "minute") -> Layer:
    """Return a place along the axis of minutes, by a field of the data."""
    return {"field": field, "type": "quantitative"}


def ppm(field: str = "ppm") -> Layer:
    """Return a place along the axis of ppm, by a field of the data."""
    return {"field": field, "type": "quantitative"}


def pixel(field: str) -> Layer:
    """Return a place in pixels, by a field of the data."""
    return {"field": field, "type": "quantitative", "scale": None}


def texts(lines: Sequence[Label], theme: Theme) -> list[Layer]:
    """Return lines of text at their pixels; few layers draw faster than one for each line."""
    layers = []
    for (align, size, bold), group in _grouped(lines).items():
        values = [
            {"text": one.text, "x": one.x, "y": one.y, "colour": getattr(theme, one.role)}
            for one in group
        ]
        mark = {
            "type": "text",
            "align": align,
            "baseline": "middle",
            "fontSize": size,
            "fontWeight": "bold" if bold else "normal",
        }
        encoding = {
            "x": pixel("x"),
            "y": pixel("y"),
            "text": {"field": "text", "type": "nominal"},
            "color": {"field": "colour", "type": "nominal", "scale": None},
        }
        layers.append(layer(values, mark, encoding))
    return layers


def _grouped(lines: Sequence[Label]) -> dict[tuple[str, float, bool], list[Label]]:
    groups: dict[tuple[str, float, bool], list[Label]] = {}
    for one in lines:
        groups.setdefault((one.align, one.size, one.bold), []).append(one)
    return groups
