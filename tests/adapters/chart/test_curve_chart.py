import itertools
import json
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from numpy.testing import assert_allclose

from ebbline.adapters.chart.curve_chart import aspect, curve_chart
from ebbline.adapters.chart.theme import PRINT, SCREEN
from ebbline.core.curve.breath_test import Setback
from ebbline.core.rules.interpretation import Interpretation
from tests.adapters.invented import Row, interpreted

Spec = dict[str, Any]


def chart(interpretation: Interpretation) -> Spec:
    """Return the printed chart."""
    return curve_chart(interpretation, theme=PRINT)


def layers(spec: Spec, kind: str, gas: str | None = None) -> list[Spec]:
    """Return the layers of one kind of mark, of one gas where it is named."""
    found = []
    for layer in spec["layer"]:
        values = layer["data"]["values"]
        if layer["mark"]["type"] == kind and (gas is None or values[0].get("gas") == gas):
            found.append(layer)
    return found


def rows(spec: Spec, kind: str, gas: str | None = None) -> list[Spec]:
    """Return the data behind those layers."""
    return [row for layer in layers(spec, kind, gas) for row in layer["data"]["values"]]


def texts(spec: Spec) -> list[str]:
    """Return every label."""
    return [row["text"] for row in rows(spec, "text") if "text" in row]


def joined(spec: Spec, gas: str) -> Iterator[tuple[float, float]]:
    """Yield each pair of minutes that a line joins."""
    points = rows(spec, "line", gas)
    for before, after in itertools.pairwise(points):
        if before["piece"] == after["piece"]:
            yield before["minute"], after["minute"]


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour (W3C, WCAG 2.1)."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours (W3C, WCAG 2.1)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_each_gas_is_drawn_at_its_actual_minutes(lactose: Interpretation) -> None:
    """Uneven minutes stay uneven: the planned minute places nothing."""
    spec = chart(lactose)
    minutes = [0, 15, 31, 45, 62, 75, 90, 121, 150, 180]
    for gas, values in (
        ("h2", [6, 5, 7, 9, 14, 21, 28, 37, 44, 41]),
        ("ch4", [3, 3, 3, 4, 4, 5, 4, 6, 6, 5]),
    ):
        points = rows(spec, "line", gas)
        assert_allclose([point["minute"] for point in points], minutes)
        assert_allclose([point["ppm"] for point in points], values)
    assert {"31", "62", "121"} <= set(texts(spec))


def test_the_gases_differ_by_line_marker_and_filling_and_not_by_colour_alone(
    lactose: Interpretation,
) -> None:
    """A greyscale print tells them apart."""
    spec = chart(lactose)
    lines = {gas: layers(spec, "line", gas)[0]["mark"] for gas in ("h2", "ch4")}
    points = {gas: layers(spec, "point", gas)[0]["mark"] for gas in ("h2", "ch4")}
    assert lines["h2"]["strokeDash"] == [1, 0]
    assert lines["ch4"]["strokeDash"] == [6, 4]
    assert (points["h2"]["shape"], points["ch4"]["shape"]) == ("circle", "diamond")
    assert points["h2"]["fill"] == lines["h2"]["color"] == "#332288"
    assert points["ch4"]["fill"] == PRINT.paper
    assert points["ch4"]["stroke"] == lines["ch4"]["color"] == "#117733"


def test_marks_and_text_stand_out_from_the_paper() -> None:
    """Text has 4.5 : 1 and marks have 3 : 1 at least, on screen and in print."""
    for theme in (PRINT, SCREEN):
        for text in (theme.ink, theme.quiet, theme.h2, theme.ch4):
            assert contrast(text, theme.paper) >= 4.5
            assert contrast(text, theme.field) >= 4.5
        assert contrast(theme.bar, theme.paper) >= 3.0


def test_a_line_is_labelled_at_its_end(lactose: Interpretation) -> None:
    """There is no legend to look up."""
    spec = chart(lactose)
    assert {"H₂", "CH₄"} <= set(texts(spec))
    assert "legend" not in json.dumps(spec)


def test_labels_of_lines_that_end_together_do_not_touch(lactose: Interpretation) -> None:
    """Both gases end at 20 ppm; their labels are pushed apart."""
    same = interpreted(Row(200, 20, 20, 14.0))
    spec = chart(replace(lactose, samples=(*lactose.samples, same)))
    ends = [row["y"] for row in rows(spec, "text") if row.get("text") in {"H₂", "CH₄"}]
    assert len(ends) == 2
    assert abs(ends[0] - ends[1]) >= 16.0


def test_no_line_passes_over_a_missed_sample(with_a_missed_sample: Interpretation) -> None:
    """The line ends at 46 min and begins again at 75 min; the axis says why."""
    spec = chart(with_a_missed_sample)
    for gas in ("h2", "ch4"):
        pairs = list(joined(spec, gas))
        assert (30, 46) in pairs
        assert (75, 92) in pairs
        assert [pair for pair in pairs if pair[0] < 60 < pair[1]] == []
    missed = [layer for layer in layers(spec, "text") if layer["mark"].get("text") == "missed"]
    assert [layer["data"]["values"] for layer in missed] == [[{"minute": 60.0}]]


def test_a_refused_reading_is_a_cross_at_its_raw_value_and_joins_nothing(
    glucose: Interpretation,
) -> None:
    """The reading at 60 min is shown, and no line goes through it or over it."""
    spec = chart(glucose)
    crosses = [row for row in rows(spec, "point", "h2") if row.get("why") == "refused"]
    assert [(row["minute"], row["ppm"]) for row in crosses] == [(60, 3)]
    assert [pair for pair in joined(spec, "h2") if pair[0] <= 60 <= pair[1]] == []
    shapes = {
        gas: layer["mark"]["shape"]
        for gas in ("h2", "ch4")
        for layer in layers(spec, "point", gas)
        if "why" in layer["data"]["values"][0]
    }
    assert shapes["h2"] != shapes["ch4"]


def test_a_repeated_try_does_not_open_the_line_when_its_slot_has_a_reading(
    glucose: Interpretation,
) -> None:
    """The try at 28 min is a cross; the reading at 30 min counts in its place."""
    spec = chart(glucose)
    tries = [row for row in rows(spec, "point", "h2") if row.get("why") == "repeat"]
    assert [(row["minute"], row["ppm"]) for row in tries] == [(28, 5)]
    assert (15, 30) in list(joined(spec, "h2"))


def test_a_repeated_try_without_a_reading_in_its_slot_opens_the_line(
    lactose: Interpretation,
) -> None:
    """A slot with nothing but a try that does not count has no value to draw a line through."""
    for planned in (105.0, None):
        lost = Setback(105.0, planned, "repeat", 30.0, 5.0, "", {})
        spec = chart(replace(lactose, not_counted=(lost,)))
        assert [pair for pair in joined(spec, "h2") if pair[0] < 105 < pair[1]] == []


def test_methane_that_was_not_measured_once_opens_its_line_only(lactose: Interpretation) -> None:
    """A missing value is missing, never joined over."""
    samples = [
        replace(sample, ch4_ppm=None) if sample.minute == 75 else sample
        for sample in lactose.samples
    ]
    spec = chart(replace(lactose, samples=tuple(samples)))
    assert [pair for pair in joined(spec, "ch4") if pair[0] < 75 < pair[1]] == []
    assert (62, 75) in list(joined(spec, "h2"))


def test_a_scaled_reading_shows_its_raw_value_beside_it(glucose: Interpretation) -> None:
    """A level stroke at the raw value, tied to the normalised one."""
    spec = chart(glucose)
    strokes = rows(spec, "tick", "h2")
    assert_allclose([row["minute"] for row in strokes], [15, 46, 105])
    assert_allclose([row["raw_ppm"] for row in strokes], [7, 11, 17])
    assert_allclose([row["ppm"] for row in strokes], [7 * 7 / 4.5, 11 * 7 / 4, 17 * 7 / 5])


def test_bars_reach_two_standard_uncertainties_and_not_below_zero(
    lactose: Interpretation,
) -> None:
    """The caption says what the bars are."""
    spec = chart(lactose)
    bars = [row for row in rows(spec, "rule", "h2") if "high_ppm" in row]
    for bar, sample in zip(bars, lactose.samples, strict=True):
        value, u = sample.h2_ppm.value_ppm, sample.h2_ppm.u_ppm
        assert value is not None
        assert u is not None
        assert_allclose(bar["high_ppm"], value + 2 * u)
        assert_allclose(bar["low_ppm"], max(0.0, value - 2 * u))
    assert any("bars: ± 2 standard uncertainties" in text for text in texts(spec))


def test_the_caption_says_where_bars_are_cut_at_zero(lactose: Interpretation) -> None:
    """A reading near zero cannot be shown with a bar that goes below the axis."""
    low = interpreted(Row(200, 0.5, 3, 14.0))
    spec = chart(replace(lactose, samples=(*lactose.samples, low)))
    bars = [row for row in rows(spec, "rule", "h2") if row.get("minute") == 200]
    assert bars[0]["low_ppm"] == 0.0
    assert any("cut at 0" in text for text in texts(spec))


def test_thresholds_carry_their_arithmetic(lactose: Interpretation) -> None:
    """A rise counts from the baseline; a level stands for itself."""
    spec = chart(lactose)
    assert {"H₂ baseline 6 + 20 = 26 ppm", "10 ppm CH₄"} <= set(texts(spec))
    lines = [row for row in rows(spec, "rule") if "end_minute" in row]
    assert_allclose([row["ppm"] for row in lines], [26, 10])


def test_a_rise_over_the_lowest_earlier_value_counts_from_where_it_was_met(
    lactose: Interpretation,
) -> None:
    """Lowest 5 at 15 min: the line begins there."""
    row = replace(lactose.statements[0], measure="rise over lowest earlier")
    spec = chart(replace(lactose, statements=(row,)))
    assert "H₂ lowest earlier 5 + 20 = 25 ppm" in texts(spec)
    lines = [row for row in rows(spec, "rule") if "end_minute" in row]
    assert [(line["minute"], line["ppm"]) for line in lines] == [(15, 25)]


def test_the_window_of_the_adopted_rule_set_is_a_field(glucose: Interpretation) -> None:
    """It runs from the drink to the by-minute, and its label says whose it is."""
    spec = chart(glucose)
    assert rows(spec, "rect") == [{"minute": 0, "by_minute": 90.0}]
    assert "window of North American Consensus 2017, 0 to 90 min" in texts(spec)


def test_a_window_beyond_the_last_sample_is_shown_whole(glucose: Interpretation) -> None:
    """A test that stopped early shows how much of the window it lacks."""
    early = replace(glucose, samples=glucose.samples[:4])
    spec = chart(early)
    assert spec["layer"][0]["encoding"]["x"]["scale"]["domain"][1] == 90.0


def test_without_an_adopted_rule_set_there_is_no_window_and_no_threshold(
    glucose: Interpretation,
) -> None:
    """Nothing that is only for comparison looks like the criterion."""
    sets = tuple(replace(used, adopted=False) for used in glucose.rule_sets)
    spec = chart(replace(glucose, rule_sets=sets))
    assert rows(spec, "rect") == []
    assert [row for row in rows(spec, "rule") if "end_minute" in row] == []


def test_everything_drawn_lies_inside_the_frame(
    lactose: Interpretation, glucose: Interpretation
) -> None:
    """The highest bar and the threshold leave room for the label of the window."""
    for interpretation in (lactose, glucose):
        spec = chart(interpretation)
        top = spec["layer"][0]["encoding"]["y"]["scale"]["domain"][1]
        bars = [row["high_ppm"] for row in rows(spec, "rule") if "high_ppm" in row]
        lines = [row["ppm"] for row in rows(spec, "rule") if "end_minute" in row]
        assert max(bars + lines) <= top * (spec["height"] - 23) / spec["height"]


def test_symptoms_stand_beneath_on_the_same_axis(glucose: Interpretation) -> None:
    """Each score keeps its minute, and a higher score has a higher bar."""
    spec = chart(glucose)
    bars = [row for row in rows(spec, "rule") if row.get("symptom") == "bloating"]
    assert_allclose([bar["minute"] for bar in bars], [s.minute for s in glucose.samples])
    assert_allclose([bar["score"] for bar in bars], [1, 1, 1, 2, 3, 4, 6, 7, 6, 4])
    assert all(bar["foot"] > spec["height"] for bar in bars)
    highs = [bar["foot"] - bar["head"] for bar in bars]
    assert max(highs) == highs[7]
    assert {"bloating", "pain", "nausea"} <= set(texts(spec))


def test_the_drink_is_marked_at_minute_0(glucose: Interpretation) -> None:
    """Fasting readings stand left of it."""
    spec = chart(glucose)
    assert "drink finished" in texts(spec)
    assert [{"minute": 0}] in [layer["data"]["values"] for layer in layers(spec, "rule")]
    assert spec["layer"][0]["encoding"]["x"]["scale"]["domain"][0] < -10


def test_a_test_without_methane_has_one_line(hydrogen_only: Interpretation) -> None:
    """Nothing stands for a gas that was not measured."""
    spec = chart(hydrogen_only)
    assert layers(spec, "line", "ch4") == []
    assert "CH₄" not in json.dumps(spec["layer"], ensure_ascii=False)


def test_a_test_with_one_fasting_reading_can_be_drawn(lactose: Interpretation) -> None:
    """A test that was broken off at once still has its chart."""
    spec = chart(replace(lactose, samples=lactose.samples[:1], statements=()))
    assert spec["layer"][0]["encoding"]["x"]["scale"]["domain"][1] == 30.0


def test_a_chart_of_invented_data_says_so(lactose: Interpretation) -> None:
    """The mark is in the picture, so that it stays when the picture is cut out of a page."""
    assert any(text.startswith("Invented data") for text in texts(chart(lactose)))
    facts = {key: value for key, value in lactose.test.facts.items() if key != "invented"}
    real = replace(lactose, test=replace(lactose.test, facts=facts))
    assert "nvented" not in json.dumps(chart(real))


def test_aspect_is_width_over_height_of_the_whole_picture(lactose: Interpretation) -> None:
    """A page that leaves room for the chart must know its shape."""
    spec = {"width": 70, "height": 30, "padding": {"left": 20, "right": 10, "top": 5, "bottom": 15}}
    assert aspect(spec) == 2.0
    assert 1.5 < aspect(chart(lactose)) < 3.0


def test_the_caption_speaks_of_an_open_line_only_where_there_is_one(
    lactose: Interpretation, with_a_missed_sample: Interpretation
) -> None:
    """A try before the first reading that counts opens nothing."""
    early = Setback(-14.0, None, "repeat", 31.0, 2.0, "", {})
    whole = chart(replace(lactose, not_counted=(early,)))
    assert not any("open line" in text for text in texts(whole))
    assert any("open line" in text for text in texts(chart(with_a_missed_sample)))
