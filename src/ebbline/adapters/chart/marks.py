"""The marks of a test: gases with their uncertainty, what does not count, and symptom scores."""

from ebbline.adapters.chart.frame import HEIGHT, SMALL, Frame
from ebbline.adapters.chart.labels import Label
from ebbline.adapters.chart.layers import Layer, layer, minute, pixel, ppm
from ebbline.adapters.chart.slots import Series, missed_minutes, symptoms_scored
from ebbline.adapters.chart.theme import Theme
from ebbline.adapters.chart.wording import number
from ebbline.core.rules.interpretation import Interpretation

ROW = 17
_DASH = {"h2": [1, 0], "ch4": [6, 4]}
_SHAPE = {"h2": "circle", "ch4": "diamond"}
_CROSS = {"h2": "M-1,-1L1,1M1,-1L-1,1", "ch4": "M-1.3,0L1.3,0M0,-1.3L0,1.3"}


def gas_marks(one: Series, colour: str, theme: Theme) -> list[Layer]:
    """Return one gas: bars, line pieces, markers, raw values of what was scaled, and crosses."""
    points = [
        {
            "gas": one.gas,
            "minute": p.minute,
            "ppm": p.value_ppm,
            "low_ppm": max(0.0, p.value_ppm - 2.0 * p.u_ppm),
            "high_ppm": p.value_ppm + 2.0 * p.u_ppm,
            "piece": p.piece,
        }
        for p in one.points
    ]
    scaled = [
        {"gas": one.gas, "minute": p.minute, "ppm": p.value_ppm, "raw_ppm": p.raw_ppm}
        for p in one.points
        if p.normalised
    ]
    crosses = [
        {"gas": one.gas, "minute": c.minute, "ppm": c.raw_ppm, "why": c.why} for c in one.crosses
    ]
    place = {"x": minute(), "y": ppm()}
    bars = {"x": minute(), "y": ppm("low_ppm"), "y2": {"field": "high_ppm"}}
    raw = {"x": minute(), "y": ppm("raw_ppm")}
    layers = [
        layer(
            points,
            {"type": "rule", "color": colour, "opacity": 0.55, "strokeWidth": 1},
            bars,
        )
    ]
    if scaled:
        dots = {"type": "rule", "color": colour, "strokeDash": [1, 2], "strokeWidth": 1}
        tick = {"type": "tick", "orient": "horizontal", "size": 11 if one.gas == "h2" else 7}
        layers += [
            layer(scaled, dots, {**raw, "y2": {"field": "ppm"}}),
            layer(scaled, {**tick, "thickness": 1.6, "color": colour}, raw),
        ]
    layers += [
        layer(
            points,
            {"type": "line", "color": colour, "strokeWidth": 2, "strokeDash": _DASH[one.gas]},
            {**place, "detail": {"field": "piece", "type": "nominal"}},
        ),
        layer(
            points,
            {
                "type": "point",
                "shape": _SHAPE[one.gas],
                "size": 62 if one.gas == "h2" else 70,
                "filled": True,
                "fill": colour if one.gas == "h2" else theme.paper,
                "stroke": colour,
                "strokeWidth": 1.5,
                "opacity": 1,
            },
            place,
        ),
    ]
    if crosses:
        cross = {
            "type": "point",
            "shape": _CROSS[one.gas],
            "size": 22,
            "filled": False,
            "color": colour,
            "strokeWidth": 1.5,
            "opacity": 1,
        }
        layers.append(layer(crosses, cross, place))
    return layers


def missed_marks(interpretation: Interpretation, theme: Theme) -> list[Layer]:
    """Return the marks of missed samples: the axis is cut open, with the word beneath."""
    values = [{"minute": minute} for minute in missed_minutes(interpretation)]
    if not values:
        return []
    x = {"x": minute()}
    strokes = {"type": "point", "shape": "M-2,2L-0.4,-2M0.4,2L2,-2", "size": 16, "filled": False}
    return [
        layer(
            values,
            {"type": "rule", "color": theme.paper, "strokeWidth": 9},
            {**x, "y": {"value": HEIGHT - 1.5}, "y2": {"value": HEIGHT + 2.5}},
        ),
        layer(
            values,
            {**strokes, "color": theme.ink, "strokeWidth": 1.2, "opacity": 1},
            {**x, "y": {"value": HEIGHT + 0.5}},
        ),
        layer(
            values,
            {"type": "text", "text": "missed", "color": theme.quiet, "fontSize": SMALL},
            {**x, "y": {"value": HEIGHT + 27}},
        ),
    ]


def symptom_rows(
    interpretation: Interpretation, frame: Frame, theme: Theme, below: float
) -> tuple[list[Layer], list[Label]]:
    """Return a row of bars for each symptom that was scored, 0 to 10, with its numerals."""
    values = []
    lines = []
    for i, name in enumerate(symptoms_scored(interpretation)):
        foot = below + ROW * (i + 1) - 3
        lines.append(Label(name, -12, foot - 4, "right", "quiet", SMALL))
        for sample in interpretation.samples:
            if name not in sample.symptoms:
                continue
            score = sample.symptoms[name]
            head = foot - max(0.75, (ROW - 4) * score / 10.0)
            values.append(
                {
                    "symptom": name,
                    "minute": sample.minute,
                    "score": score,
                    "foot": foot,
                    "head": head,
                }
            )
            x = frame.x(sample.minute) + 7
            lines.append(Label(number(score), x, foot - 4, "left", "ink", SMALL))
    if not values:
        return [], []
    bar = {"type": "rule", "color": theme.bar, "strokeWidth": 9, "strokeCap": "butt"}
    ends = {"y": pixel("foot"), "y2": {"field": "head"}}
    return [layer(values, bar, {"x": minute(), **ends})], lines
