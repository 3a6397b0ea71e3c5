"""A held gas on its way: what a slow sensor shows, and the running estimate of where it settles."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ebbline.adapters.chart.frame import SIZE, SMALL
from ebbline.adapters.chart.labels import Label
from ebbline.adapters.chart.layers import Layer, layer
from ebbline.adapters.chart.render import to_svg
from ebbline.adapters.chart.theme import Theme
from ebbline.adapters.chart.trace_axes import (
    Moment,
    axes,
    axis_words,
    caption_words,
    level,
    rounded,
    rows_above,
    second,
    sheet,
    uprights,
)
from ebbline.adapters.chart.trace_describe import amount, title_of, two_digits
from ebbline.adapters.chart.trace_frame import LEFT, RIGHT, TimeFrame, time_frame
from ebbline.adapters.chart.wording import gas_label, gas_name, tenths
from ebbline.core.rules.phrases import number

Float = NDArray[np.float64]

_HEIGHT = 220.0
# The band of the first estimates is far wider than the gas; so much of it is drawn.
_TOP = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class RunningEstimate:
    """One held gas, sample by sample, arrays (n_samples,); times in s from when it was held.

    Parameters
    ----------
    gas : {"h2", "ch4"}
        Which gas.
    time_s, shown_ppm : ndarray
        What the sensor showed, zero taken off.
    estimate_ppm, u_ppm : ndarray
        Where it settles by what was seen so far, and its standard uncertainty; NaN before there
        is an estimate.
    stop_s : float
        When the estimate was known as well as was asked.
    settled_s : float
        When 99 % of the response are shown.
    read_at_s : float
        When the display would be read by eye.
    true_ppm : float
        What the gas is.
    """

    gas: str
    time_s: Float
    shown_ppm: Float
    estimate_ppm: Float
    u_ppm: Float
    stop_s: float
    settled_s: float
    read_at_s: float
    true_ppm: float

    @property
    def stop(self) -> int:
        """Index of the sample at which the watching may end."""
        return int(np.searchsorted(self.time_s, self.stop_s))

    @property
    def last(self) -> int:
        """Index of the last sample when the display is read by eye."""
        return int(np.searchsorted(self.time_s, self.read_at_s, side="right")) - 1

    @property
    def highest(self) -> int:
        """Index of the highest sample until then."""
        return int(np.argmax(self.shown_ppm[: self.last + 1]))


def running_chart(
    held: RunningEstimate, *, title: str, invented: bool, width: float, theme: Theme
) -> dict[str, Any]:
    """Return the chart of one held gas: shown, estimated with its 95 % band, and read by eye.

    Parameters
    ----------
    held : RunningEstimate
        The gas.
    title : str
        What the chart is of.
    invented : bool
        Whether the data are invented.
    width : float
        Width of the whole chart, pixels.
    theme : Theme
        Colours.

    Returns
    -------
    dict
        A Vega-Lite specification; ``usermeta.title`` and ``description`` name and describe it.
    """
    colour = getattr(theme, held.gas)
    end_s = float(held.time_s[-1])
    frame = time_frame(
        0.0,
        end_s,
        -0.05 * held.true_ppm,
        _TOP * held.true_ppm,
        width=width - LEFT - RIGHT,
        height=_HEIGHT,
    )
    moments = (
        Moment(held.stop_s, f"known as asked: {number(held.stop_s)} s"),
        Moment(held.read_at_s, f"read by eye: {number(held.read_at_s)} s"),
        Moment(held.settled_s, f"99 % shown: {number(held.settled_s)} s"),
    )
    lines, words = uprights(moments, frame, [(0.0, _HEIGHT)], theme)
    above = rows_above(words)
    words += axis_words(frame, _HEIGHT, "ppm")
    words += _words(held, frame)
    caption = ["Invented data"] if invented else []
    caption += [
        "thin: shown, zero taken off",
        "heavy: running estimate, band ± 1.96 u, until it is known as asked",
        "dotted: true value",
        "last shown (ring) and highest shown (triangle) are not results",
    ]
    words += caption_words(caption, frame, _HEIGHT + 40)
    name = title_of(title, invented=invented)
    return sheet(
        title=name,
        description=_describe(held, name),
        frame=frame,
        layers=[
            *axes(frame, _HEIGHT, theme),
            *lines,
            *_estimate(held, frame, colour),
            *_shown(held, frame, colour, theme),
        ],
        words=words,
        above=above,
        theme=theme,
    )


def running_svg(
    held: RunningEstimate, *, title: str, invented: bool, width: float, theme: Theme
) -> str:
    """Return the chart of one held gas as SVG; the parameters are those of running_chart."""
    return to_svg(running_chart(held, title=title, invented=invented, width=width, theme=theme))


def _estimate(held: RunningEstimate, frame: TimeFrame, colour: str) -> list[Layer]:
    """Return the true level, and the estimate in its band until it is known as asked."""
    known = np.flatnonzero(np.isfinite(held.estimate_ppm[: held.stop + 1]))

    def inside(value: float) -> float:
        return rounded(min(max(value, frame.low), frame.top))

    values = [
        {
            "s": rounded(held.time_s[i]),
            "value": inside(held.estimate_ppm[i]),
            "low": inside(held.estimate_ppm[i] - 1.96 * held.u_ppm[i]),
            "high": inside(held.estimate_ppm[i] + 1.96 * held.u_ppm[i]),
        }
        for i in known
    ]
    flat = [{"s": frame.start_s, "value": rounded(held.true_ppm)}]
    truth = {"type": "rule", "color": colour, "strokeDash": [1, 3], "strokeWidth": 1.5}
    band = {"type": "area", "color": colour, "opacity": 0.2}
    line = {"type": "line", "color": colour, "strokeWidth": 2.5}
    return [
        layer(values, band, {"x": second(), "y": level("low"), "y2": {"field": "high"}}),
        layer(flat, truth, {"x": second(), "x2": {"value": frame.width}, "y": level()}),
        layer(values, line, {"x": second(), "y": level()}),
    ]


def _shown(held: RunningEstimate, frame: TimeFrame, colour: str, theme: Theme) -> list[Layer]:
    """Return what was shown, and the two samples that an eye would take."""
    values = [
        {"s": rounded(at_s), "value": rounded(max(value, frame.low))}
        for at_s, value in zip(held.time_s, held.shown_ppm, strict=True)
    ]
    place = {"x": second(), "y": level()}
    line = {"type": "line", "color": colour, "opacity": 0.6, "strokeWidth": 1}
    point = {
        "type": "point",
        "size": 70,
        "filled": True,
        "fill": theme.paper,
        "stroke": theme.ink,
        "strokeWidth": 1.5,
        "opacity": 1,
    }
    return [
        layer(values, line, place),
        layer([values[held.last]], {**point, "shape": "circle"}, place),
        layer([values[held.highest]], {**point, "shape": "triangle-up"}, place),
    ]


def _words(held: RunningEstimate, frame: TimeFrame) -> list[Label]:
    """Return estimate and truth at the right, and beside the curve what an eye would take."""
    right, y = frame.width + 12, frame.y(held.true_ppm)
    estimate = float(held.estimate_ppm[held.stop])
    lines = (
        (f"{gas_label(held.gas)} {tenths(estimate)} ppm", held.gas, SIZE + 1, True),
        (f"settles here, u {two_digits(float(held.u_ppm[held.stop]))}", "ink", SMALL, False),
        (f"true {tenths(held.true_ppm)} ppm", "ink", SMALL, False),
    )
    habits = (
        f"highest shown: {tenths(float(held.shown_ppm[held.highest]))} ppm",
        f"last shown: {tenths(float(held.shown_ppm[held.last]))} ppm",
    )
    # Under the curve, which only rises from there.
    below, read = frame.y(float(held.shown_ppm[held.last])) + 24.0, frame.x(held.read_at_s) + 6.0
    return [
        Label(text, right, round(y + 15 * i, 1), "left", role, size, bold=bold)
        for i, (text, role, size, bold) in enumerate(lines)
    ] + [
        Label(text, round(read, 1), round(below + 15 * i, 1), "left", "ink", SMALL)
        for i, text in enumerate(habits)
    ]


def _describe(held: RunningEstimate, title: str) -> str:
    """Return everything that the chart shows, as sentences."""
    estimate, u = float(held.estimate_ppm[held.stop]), float(held.u_ppm[held.stop])
    return (
        f"{title}, in ppm against seconds from when the gas was held. "
        f"What is shown of {gas_name(held.gas)} creeps up, thin line. The running estimate of "
        "where it settles, heavy line, has a 95 % band that narrows; after "
        f"{number(held.stop_s)} s it is known as well as was asked: {amount(estimate, u)}. "
        f"The true value is {tenths(held.true_ppm)} ppm. 99 % of the response are shown only after "
        f"{number(held.settled_s)} s. Read by eye after {number(held.read_at_s)} s, the last "
        f"shown is {tenths(float(held.shown_ppm[held.last]))} ppm, and the highest shown "
        f"{tenths(float(held.shown_ppm[held.highest]))} ppm; neither is a result."
    )
