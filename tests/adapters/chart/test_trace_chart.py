import json
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.adapters.chart.place import Box, overlap, text_box, text_width
from ebbline.adapters.chart.theme import PRINT
from ebbline.adapters.chart.trace_chart import trace_chart, trace_svg
from ebbline.adapters.chart.trace_marks import Stretch
from ebbline.core.errors import ReportError
from tests.adapters.traced import Traced, reduced, traced

SVG = "{http://www.w3.org/2000/svg}"
Spec = dict[str, Any]


def rows(spec: Spec, kind: str, gas: str | None = None) -> list[Spec]:
    """Return the data of one kind of mark, of one gas where it is named."""
    return [
        row
        for layer in spec["layer"]
        if layer["mark"]["type"] == kind
        for row in layer["data"]["values"]
        if gas is None or row.get("gas") == gas
    ]


def marks(spec: Spec, kind: str, gas: str) -> list[Spec]:
    """Return the marks of one kind that draw a gas."""
    return [
        layer["mark"]
        for layer in spec["layer"]
        if layer["mark"]["type"] == kind and layer["data"]["values"][0].get("gas") == gas
    ]


def texts(spec: Spec) -> list[str]:
    """Return every label."""
    return [row["text"] for row in rows(spec, "text")]


def boxes(spec: Spec) -> list[Box]:
    """Return the box of every label."""
    return [
        text_box(
            row["x"],
            row["y"],
            text_width(row["text"], layer["mark"]["fontSize"]),
            layer["mark"]["fontSize"],
            align=layer["mark"]["align"],
        )
        for layer in spec["layer"]
        if layer["mark"]["type"] == "text"
        for row in layer["data"]["values"]
    ]


def upright(spec: Spec) -> list[Box]:
    """Return the box of every upright line above its plot, where words are."""
    start, end = domain(spec)
    return [
        Box(x - 0.5, row["y"], x + 0.5, 0.0)
        for row in rows(spec, "rule")
        if "words" in row and row["y"] < 0.0
        for x in [spec["width"] * (row["s"] - start) / (end - start)]
    ]


def domain(spec: Spec) -> tuple[float, float]:
    """Return the seconds that a chart spans."""
    scales = [layer["encoding"].get("x", {}).get("scale") for layer in spec["layer"]]
    start, end = next(scale["domain"] for scale in scales if scale)
    return start, end


EXAMPLES = {
    "stream": lambda: traced("stream", 1),
    "breathed in": lambda: traced("stream", 5, ("breathed_in",)),
    "chamber": lambda: traced("chamber", 3),
    "bag": lambda: traced("bag", 2),
    "no breath": lambda: traced("stream", 4, ("stopped_in_dead_space",)),
}


@pytest.fixture(params=EXAMPLES)
def example(request: pytest.FixtureRequest) -> Traced:
    """Return one of each kind of trace."""
    return EXAMPLES[request.param]()


@pytest.mark.parametrize("width", [420.0, 640.0, 1200.0])
def test_no_label_covers_another_or_leaves_the_picture(example: Traced, width: float) -> None:
    """At the narrowest, on a page, and on a wide screen."""
    spec: Spec = example.chart(width=width)
    pad = spec["padding"]
    found = boxes(spec)
    assert spec["width"] + pad["left"] + pad["right"] == width
    for i, box in enumerate(found):
        assert overlap(box, found[i + 1 :]) == 0.0, texts(spec)[i]
        assert box.left >= -pad["left"], texts(spec)[i]
        assert box.right <= spec["width"] + pad["right"], texts(spec)[i]
        assert box.top >= -pad["top"], texts(spec)[i]
        assert box.bottom <= spec["height"] + pad["bottom"], texts(spec)[i]
        assert overlap(box, upright(spec)) == 0.0, texts(spec)[i]


def test_the_gases_differ_by_line_marker_and_filling_and_not_by_colour_alone() -> None:
    """A greyscale print tells them apart, samples and fitted lines alike."""
    spec = traced("stream", 1).chart()
    h2, ch4 = marks(spec, "line", "h2"), marks(spec, "line", "ch4")
    assert [mark["strokeDash"] for mark in h2] == [[1, 0], [1, 0]]
    assert [mark["strokeDash"] for mark in ch4] == [[3, 2], [6, 4]]
    circle, diamond = marks(spec, "point", "h2")[0], marks(spec, "point", "ch4")[0]
    assert (circle["shape"], circle["fill"]) == ("circle", PRINT.h2)
    assert (diamond["shape"], diamond["fill"]) == ("diamond", PRINT.paper)


def test_samples_are_light_and_the_fitted_line_is_heavy() -> None:
    """What counts stands out from what was measured."""
    thin, heavy = marks(traced("stream", 1).chart(), "line", "h2")
    assert (thin["strokeWidth"], thin["opacity"]) == (1, 0.5)
    assert heavy["strokeWidth"] == 2.5


def test_the_line_of_a_refused_breath_is_no_heavier_than_its_samples() -> None:
    """And it is said that its value does not count."""
    spec = traced("stream", 5, ("breathed_in",)).chart()
    assert [mark["strokeWidth"] for mark in marks(spec, "line", "h2")] == [1, 1]
    assert texts(spec).count("does not count") == 2
    assert any(
        "refused  ·  room air came in the middle of the blow" in text for text in texts(spec)
    )


def test_the_band_reaches_1_96_standard_uncertainties() -> None:
    """About the line, from its beginning to its end."""
    one = traced("stream", 1)
    spec = one.chart()
    half = 1.96 * one.reduction.values["h2_ppm"].u
    band = rows(spec, "area", "h2")
    assert len(band) == 2
    for end in band:
        assert_allclose(end["high"] - end["value"], half, atol=0.002)
        assert_allclose(end["value"] - end["low"], half, atol=0.002)


def test_each_gas_is_labelled_with_its_value_and_there_is_no_legend() -> None:
    """The words say what kind of value it is."""
    one = traced("stream", 1)
    labels = texts(one.chart())
    h2 = one.reduction.values["h2_ppm"]
    assert f"H₂ {h2.raw:.1f} ppm".replace(".0 ppm", " ppm") in labels
    assert f"end-tidal, u {h2.u:.2f}" in labels
    assert any(text.startswith("settles here, u ") for text in texts(traced("bag", 2).chart()))
    assert "legend" not in json.dumps(one.chart())


def test_a_scaled_value_stands_beside_the_raw_one() -> None:
    """A sample with room air in it counts with another number than was measured."""
    one = traced("stream", 1)
    reading = one.reduction.reading
    assert reading is not None
    scaled = replace(
        one.reduction,
        quality="normalised",
        reading=replace(reading, h2=replace(reading.h2, value_ppm=55.5)),
    )
    spec = replace(one, reduction=scaled).chart()
    assert "scaled 55.5 ppm" in texts(spec)
    assert "Scaled to alveolar gas it counts as 55.5 ppm." in str(spec["description"])


def test_windows_and_moments_are_where_the_reduction_has_them() -> None:
    """Room air and plateau are shaded; onset, end and done are upright lines."""
    one = traced("stream", 1)
    spec, times = one.chart(), one.reduction.times
    zero = one.reduction.zeros["h2_ppm"].zero
    assert zero is not None
    shaded = [row["to_s"] for row in rows(spec, "rect")]
    assert times.plateau_s is not None
    assert_allclose(shaded, [zero.window_s[1], times.plateau_s[1]], atol=6e-4)
    upright = {row["words"]: row["s"] for row in rows(spec, "rule") if "words" in row}
    assert set(upright) == {"breath begins", "blow ends", "done"}
    assert_allclose(
        [upright["breath begins"], upright["blow ends"], upright["done"]],
        np.array([times.onset_s, times.end_s, times.done_s], dtype=np.float64),
        atol=6e-4,
    )
    assert {"room air", "plateau"} <= set(texts(spec))


def test_the_marker_lies_in_a_plot_of_its_own_below() -> None:
    """Its line begins under the foot of the gases."""
    spec: Spec = traced("stream", 1).chart()
    share = [row for row in rows(spec, "line") if "share" in row]
    assert min(row["y"] for row in share) > spec["height"]
    assert {"0 %", "50 %", "100 %"} <= set(texts(spec))
    highest = max(share, key=lambda row: row["share"])
    assert highest["y"] == min(row["y"] for row in share)


def test_without_a_marker_there_is_no_plot_below() -> None:
    """The picture is as much less high."""
    whole = traced("bag", 2)
    trace = replace(whole.trace, o2_pct=None, co2_pct=None)
    sensors = {name: one for name, one in whole.sensors.items() if name.endswith("_ppm")}
    spec = reduced(trace, sensors, bag=True).chart()
    assert "100 %" not in texts(spec)
    assert [row for row in rows(spec, "line") if "share" in row] == []


def test_named_parts_of_a_blow_are_drawn_and_told() -> None:
    """The name stands in the picture, its meaning in caption and description."""
    one = traced("stream", 1)
    spec = trace_chart(
        one.trace,
        one.reduction,
        sensors=one.sensors,
        dilution=one.dilution,
        title="A breath",
        invented=True,
        parts_named=(Stretch(63.0, 64.0, "II", "transition"),),
        width=640.0,
        theme=PRINT,
    )
    assert "II" in texts(spec)
    assert any("II transition" in text for text in texts(spec))
    assert [(r["s"], r["to_s"]) for r in rows(spec, "rule") if r.get("name") == "II"] == [
        (63.0, 64.0)
    ]
    assert "II, transition: 63 to 64 s." in spec["description"]
    # No upright line goes through the names.
    ends = {row["foot"] for row in rows(spec, "rule") if "words" in row}
    assert spec["height"] in ends


def test_invented_data_say_so_in_title_description_and_caption() -> None:
    """And real ones do not."""
    one = traced("stream", 1)
    spec: Spec = one.chart()
    assert spec["usermeta"]["title"] == "Invented data. A breath"
    assert spec["description"].startswith("Invented data. A breath, in ppm against seconds")
    assert any(text.startswith("Invented data") for text in texts(spec))
    svg = trace_svg(
        one.trace,
        one.reduction,
        sensors=one.sensors,
        dilution=one.dilution,
        title="A breath",
        invented=False,
        width=640.0,
        theme=PRINT,
    )
    assert "nvented" not in svg


def test_the_picture_is_small_and_the_same_each_time() -> None:
    """Even of a trace with 100 samples a second; title and description come first."""
    one = traced("stream", 6, rate_hz=100.0)

    def drawn() -> str:
        return trace_svg(
            one.trace,
            one.reduction,
            sensors=one.sensors,
            dilution=one.dilution,
            title="A breath",
            invented=True,
            width=1200.0,
            theme=PRINT,
        )

    svg = drawn()
    assert svg == drawn()
    assert len(svg.encode()) < 60_000
    root = ET.fromstring(svg)
    assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
    assert root.get("width") == "1200"


def test_every_sign_in_a_picture_is_in_the_vendored_font(example: Traced) -> None:
    """Another font would be another picture on each machine."""
    signs = {sign for text in texts(example.chart()) for sign in text if not sign.isascii()}
    assert signs <= set("₂₄·±−")


def test_a_picture_too_narrow_for_its_labels_is_refused() -> None:
    """The message says what is allowed."""
    with pytest.raises(ReportError) as caught:
        traced("stream", 1).chart(width=300.0)
    assert str(caught.value) == (
        "the chart has no room for its labels; allowed: 420 px or wider; came: 300 px"
    )
