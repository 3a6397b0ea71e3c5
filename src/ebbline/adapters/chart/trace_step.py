"""The answer of a sensor to a step of gas: delay, t90 and 10 to 90 %."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ebbline.adapters.chart.frame import SMALL
from ebbline.adapters.chart.labels import Label
from ebbline.adapters.chart.layers import Layer, layer
from ebbline.adapters.chart.render import to_svg
from ebbline.adapters.chart.theme import Theme
from ebbline.adapters.chart.trace_axes import (
    axes,
    axis_words,
    caption_words,
    level,
    rounded,
    second,
    sheet,
)
from ebbline.adapters.chart.trace_frame import LEFT, RIGHT, TimeFrame, time_frame
from ebbline.adapters.chart.wording import number, sentence_list
from ebbline.core.breath.response import (
    Response,
    rise_10_90_s,
    step_response,
    t90_s,
    time_to_share_s,
)

_HEIGHT = 200.0
# Where the bars of 10 to 90 % lie, in percent of the step, and how far apart.
_LOWEST_BAR, _BARS = 14.0, 18.0
_DASHES = ([1, 0], [7, 4], [2, 3])


@dataclass(frozen=True, slots=True)
class NamedResponse:
    """A response and what it is called, in a word or two."""

    words: str
    response: Response


def step_chart(
    sensors: Sequence[NamedResponse], *, title: str, end_s: float, width: float, theme: Theme
) -> dict[str, Any]:
    """Return the chart of up to three sensors that see the same step at 0 s.

    Parameters
    ----------
    sensors : sequence of NamedResponse
        One to three.
    title : str
        What the chart is of.
    end_s : float
        Where the chart ends, s.
    width : float
        Width of the whole chart, pixels.
    theme : Theme
        Colours.

    Returns
    -------
    dict
        A Vega-Lite specification; ``usermeta.title`` and ``description`` name and describe it.
    """
    frame = time_frame(
        -0.06 * end_s, end_s, -4.0, 108.0, width=width - LEFT - RIGHT, height=_HEIGHT
    )
    layers = axes(frame, _HEIGHT, theme)
    words = axis_words(frame, _HEIGHT, "%")
    for i, one in enumerate(sensors):
        rise = _rise(one, _LOWEST_BAR + _BARS * (len(sensors) - 1 - i))
        layers += _marks(one, rise, end_s, _DASHES[i], theme)
        words.append(_word(one, rise, frame))
    caption = [
        "share shown of a step of gas at 0 s",
        "circle: 90 %",
        "bar: from 10 to 90 %",
        "computed from the model, not measured",
    ]
    words += caption_words(caption, frame, _HEIGHT + 40)
    return sheet(
        title=title,
        description=_describe(sensors, title),
        frame=frame,
        layers=layers,
        words=words,
        above=26.0,
        theme=theme,
    )


def step_svg(
    sensors: Sequence[NamedResponse], *, title: str, end_s: float, width: float, theme: Theme
) -> str:
    """Return the chart of a step as SVG; the parameters are those of step_chart."""
    return to_svg(step_chart(sensors, title=title, end_s=end_s, width=width, theme=theme))


@dataclass(frozen=True, slots=True)
class _Rise:
    """From when to when 10 to 90 % of a step are shown, s, and the height of its bar, percent."""

    from_s: float
    to_s: float
    height: float


def _rise(one: NamedResponse, height: float) -> _Rise:
    from_s, to_s = (
        one.response.delay_s + time_to_share_s(share, one.response) for share in (0.1, 0.9)
    )
    return _Rise(from_s, to_s, height)


def _marks(
    one: NamedResponse, rise: _Rise, end_s: float, dash: Sequence[float], theme: Theme
) -> list[Layer]:
    """Return the curve, a circle where 90 % are shown, and the bar from 10 to 90 %."""
    # The delay's end is a corner, so it is a point of its own.
    times = np.unique([0.0, one.response.delay_s, *np.linspace(0.0, end_s, 161)])
    curve = [
        {"s": rounded(at_s), "value": rounded(100.0 * share)}
        for at_s, share in zip(times, step_response(one.response, times), strict=True)
    ]
    bar = [{"s": rounded(at_s), "value": rise.height} for at_s in (rise.from_s, rise.to_s)]
    ends = [{**end, "low": rise.height - 3.0, "high": rise.height + 3.0} for end in bar]
    place = {"x": second(), "y": level()}
    line = {"type": "line", "color": theme.ink, "strokeWidth": 2, "strokeDash": list(dash)}
    stroke = {"type": "rule", "color": theme.ink, "strokeWidth": 1.5}
    circle = {
        "type": "point",
        "shape": "circle",
        "size": 60,
        "filled": True,
        "fill": theme.paper,
        "stroke": theme.ink,
        "strokeWidth": 1.5,
        "opacity": 1,
    }
    return [
        layer(curve, line, place),
        layer(bar, line, place),
        layer(ends, stroke, {"x": second(), "y": level("low"), "y2": {"field": "high"}}),
        layer([{"s": rounded(rise.to_s), "value": 90.0}], circle, place),
    ]


def _word(one: NamedResponse, rise: _Rise, frame: TimeFrame) -> Label:
    """Return what a sensor is called and its two times, to the right of its bar."""
    x = round(frame.x(rise.to_s) + 8.0, 1)
    return Label(_sentence(one), x, round(frame.y(rise.height), 1), "left", "ink", SMALL)


def _sentence(one: NamedResponse) -> str:
    t90 = number(round(t90_s(one.response), 1))
    rise = number(round(rise_10_90_s(one.response), 1))
    return f"{one.words}: t90 {t90} s, 10–90 % in {rise} s"


def _describe(sensors: Sequence[NamedResponse], title: str) -> str:
    """Return everything that the chart shows, as sentences."""
    each = sentence_list([_sentence(one) for one in sensors])
    return (
        f"{title}: the share of a step of gas at 0 s that is shown, in percent, against seconds. "
        f"Sensors: {each}. t90 is counted from the end of the delay. "
        "Computed from the model, not measured."
    )
