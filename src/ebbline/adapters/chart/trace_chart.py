"""One trace and what it was reduced to, as a Vega-Lite specification."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from ebbline.adapters.chart.frame import HEADROOM, SIZE, SMALL
from ebbline.adapters.chart.labels import Label
from ebbline.adapters.chart.layers import Layer
from ebbline.adapters.chart.place import text_width
from ebbline.adapters.chart.render import to_svg
from ebbline.adapters.chart.theme import Theme
from ebbline.adapters.chart.trace_axes import (
    axes,
    axis_words,
    caption_words,
    rows_above,
    sheet,
    uprights,
)
from ebbline.adapters.chart.trace_describe import (
    caption_of,
    counts,
    describe_trace,
    title_of,
    two_digits,
)
from ebbline.adapters.chart.trace_frame import LEFT, NARROWEST, RIGHT, TimeFrame, time_frame
from ebbline.adapters.chart.trace_marks import (
    Stretch,
    gas_fitted,
    gas_samples,
    share_marks,
    stretches,
    window,
)
from ebbline.adapters.chart.trace_parts import Gas, TraceParts, parts_of
from ebbline.adapters.chart.wording import gas_label, tenths
from ebbline.core.breath.reading import Dilution
from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.sensor import Sensors
from ebbline.core.breath.trace import Trace
from ebbline.core.errors import ReportError
from ebbline.core.rules.phrases import number

_HEIGHT, _SHARE_HEIGHT, _BETWEEN = 190.0, 84.0, 26.0
_LINE = 16.0


def trace_chart(
    trace: Trace,
    reduction: Reduction,
    *,
    sensors: Sensors,
    dilution: Dilution,
    title: str,
    invented: bool,
    parts_named: Sequence[Stretch],
    width: float,
    theme: Theme,
) -> dict[str, Any]:
    """Return the chart of one trace and what it was reduced to.

    H2 and CH4 stand above, the marker gas as an alveolar share below. Samples are light, with the
    zero taken off and moved back by the transport delay; the lag is left in them. The line through
    the plateau, or the level that held gas settles to, is heavy, in a band of 1.96 standard
    uncertainties of the value.

    Parameters
    ----------
    trace : Trace
        What was reduced.
    reduction : Reduction
        What came of it.
    sensors : mapping of channel name to Sensor
        What it was reduced with.
    dilution : Dilution
        References for room air and alveolar gas.
    title : str
        What the chart is of.
    invented : bool
        Whether the data are invented; then title, description and caption say so.
    parts_named : sequence of Stretch
        Parts of the blow to be named between the two plots; empty as a rule.
    width : float
        Width of the whole chart, pixels, 420 or more.
    theme : Theme
        Colours.

    Returns
    -------
    dict
        A Vega-Lite specification; ``usermeta.title`` and ``description`` name and describe it.

    Raises
    ------
    InputError
        If sensors and dilution are not such as can reduce a trace.
    ReportError
        If there is no room for the labels.
    """
    if not width >= NARROWEST:
        raise ReportError(
            f"the chart has no room for its labels; allowed: {NARROWEST} px or wider; "
            f"came: {width:g} px"
        )
    parts = parts_of(trace, reduction, sensors=sensors, dilution=dilution)
    named = tuple(parts_named)
    frame = _frame(parts, width - LEFT - RIGHT)
    share_frame = _share_frame(frame, named=bool(named))
    foot = frame.height if parts.share is None else share_frame.above + share_frame.height
    plots = [(0.0, frame.height), (share_frame.above, foot)] if named else [(0.0, foot)]
    lines, moments = uprights(parts.moments, frame, plots, theme)
    layers = [*_windows(parts, frame, foot, theme), *axes(frame, foot, theme), *lines]
    words = [*axis_words(frame, foot, "ppm"), *moments, *_window_words(parts, frame)]
    if parts.share is not None:
        layers += share_marks(parts.share, share_frame, theme)
        words += _share_words(parts.marker, share_frame)
    layers += stretches(named, frame.height + _LINE, theme)
    words += [
        Label(
            one.name,
            round((frame.x(one.from_s) + frame.x(one.to_s)) / 2.0, 1),
            frame.height + _LINE + 12,
            "center",
            "ink",
            SMALL,
        )
        for one in named
    ]
    for gas in reversed(parts.gases):
        layers += gas_samples(gas, frame, getattr(theme, gas.gas), theme)
    for gas in reversed(parts.gases):
        layers += gas_fitted(
            gas, frame, getattr(theme, gas.gas), counts=reduction.quality != "refused"
        )
    words += _value_words(parts.gases, reduction, frame)
    words += caption_words(caption_of(parts, reduction, named, invented=invented), frame, foot + 40)
    name = title_of(title, invented=invented)
    return sheet(
        title=name,
        description=describe_trace(parts, reduction, named, name),
        frame=frame,
        layers=layers,
        words=words,
        above=rows_above(moments),
        theme=theme,
    )


def trace_svg(
    trace: Trace,
    reduction: Reduction,
    *,
    sensors: Sensors,
    dilution: Dilution,
    title: str,
    invented: bool,
    width: float,
    theme: Theme,
) -> str:
    """Return the chart of one trace as SVG; the parameters are those of :func:`trace_chart`."""
    return to_svg(
        trace_chart(
            trace,
            reduction,
            sensors=sensors,
            dilution=dilution,
            title=title,
            invented=invented,
            parts_named=(),
            width=width,
            theme=theme,
        )
    )


def _frame(parts: TraceParts, width: float) -> TimeFrame:
    """Return a frame that holds all samples that are shown, and each fitted line with its band."""
    levels = [0.0, 5.0]
    for gas in parts.gases:
        if gas.samples.value.size:
            levels += [float(np.min(gas.samples.value)), float(np.max(gas.samples.value))]
        if gas.fitted is not None:
            ends = (gas.fitted.from_ppm, gas.fitted.to_ppm)
            levels += [min(ends), max(ends) + gas.fitted.half_ppm]
    low, high = min(levels), max(levels)
    top = high + (high - low) * HEADROOM / (_HEIGHT - HEADROOM)
    return time_frame(
        parts.start_s, parts.end_s, low - 0.03 * (top - low), top, width=width, height=_HEIGHT
    )


def _share_frame(frame: TimeFrame, *, named: bool) -> TimeFrame:
    return TimeFrame(
        start_s=frame.start_s,
        end_s=frame.end_s,
        low=-10.0,
        top=118.0,
        width=frame.width,
        height=_SHARE_HEIGHT,
        above=frame.height + _BETWEEN + (_LINE if named else 0.0),
        ticks=(0.0, 50.0, 100.0),
        seconds=frame.seconds,
    )


def _windows(parts: TraceParts, frame: TimeFrame, foot: float, theme: Theme) -> list[Layer]:
    return [
        window(max(limits[0], frame.start_s), limits[1], theme, height=foot)
        for limits in (parts.room_s, parts.plateau_s)
        if limits is not None and limits[1] > frame.start_s
    ]


def _window_words(parts: TraceParts, frame: TimeFrame) -> list[Label]:
    """Return the name of each window, at the top of it and inside where it fits."""
    found = []
    for limits, text in ((parts.room_s, "room air"), (parts.plateau_s, "plateau")):
        if limits is None or limits[1] <= frame.start_s:
            continue
        left, right = frame.x(limits[0]), frame.x(limits[1])
        if text_width(text, SMALL) <= right - left - 4:
            found.append(Label(text, round((left + right) / 2, 1), 10, "center", "quiet", SMALL))
        else:
            found.append(Label(text, round(left + 3, 1), 10, "left", "quiet", SMALL))
    return found


def _share_words(marker: str, frame: TimeFrame) -> list[Label]:
    beside = [
        Label(f"{number(tick)} %", -8, frame.y(tick), "right", "quiet", SMALL)
        for tick in frame.ticks
    ]
    label = {"O2": "O₂", "CO2": "CO₂"}[marker]
    right = frame.width + 12
    return [
        *beside,
        Label(f"{label}: way from room", right, frame.y(100.0), "left", "quiet", SMALL),
        Label("to alveolar air", right, frame.y(100.0) + _LINE, "left", "quiet", SMALL),
    ]


def _value_words(gases: Sequence[Gas], reduction: Reduction, frame: TimeFrame) -> list[Label]:
    """Return each gas with its value at the right of its level, pushed apart where they meet."""
    blocks: list[tuple[float, str, list[str]]] = []
    for gas in gases:
        label = gas_label(gas.gas)
        if gas.value is not None:
            how = "settles here" if gas.value.slope_per_s is None else "end-tidal"
            lines = [f"{label} {tenths(gas.value.raw)} ppm", f"{how}, u {two_digits(gas.value.u)}"]
            blocks.append((gas.value.raw, gas.gas, lines + _counting(gas, reduction)))
        elif gas.samples.value.size:
            blocks.append((float(gas.samples.value[-1]), gas.gas, [label, "no value"]))
    words: list[Label] = []
    free = -16.0
    room = sum(_LINE * len(lines) + 4 for _, _, lines in blocks)
    for value, gas_key, lines in sorted(blocks, key=lambda block: -block[0]):
        # As near to its level as the blocks above it and the foot of the plot allow.
        y = max(free, min(frame.y(value), frame.height + _LINE - room))
        for i, text in enumerate(lines):
            size, role = (SIZE + 1, gas_key) if i == 0 else (SMALL, "ink")
            bold = i == 0 and reduction.quality != "refused"
            place = (frame.width + 12, round(y + _LINE * i, 1))
            words.append(Label(text, *place, "left", role, size, bold=bold))
        free = y + _LINE * len(lines) + 4
        room -= _LINE * len(lines) + 4
    return words


def _counting(gas: Gas, reduction: Reduction) -> list[str]:
    """Return whether and as what a value counts, where that is not the value itself."""
    had = counts(gas.gas, reduction)
    if reduction.quality == "refused":
        return ["does not count"]
    if had is not None and had.value_ppm is not None and reduction.quality == "normalised":
        return [f"scaled {tenths(had.value_ppm)} ppm"]
    return []
