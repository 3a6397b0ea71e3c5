from typing import Any

import numpy as np
from numpy.testing import assert_allclose

from ebbline.adapters.chart.theme import PRINT
from ebbline.adapters.chart.trace_running import RunningEstimate, running_chart, running_svg

Spec = dict[str, Any]


def held() -> RunningEstimate:
    """Return an invented gas of 40 ppm: shown rises, the estimate is 40 + 100 / (s + 1)."""
    time_s = np.arange(0.0, 60.0, 1.0)
    shown = 40.0 * (1.0 - np.exp(-time_s / 15.0))
    shown[40] += 3.0
    estimate = np.where(time_s < 3.0, np.nan, 40.0 + 100.0 / (time_s + 1.0))
    u = np.where(time_s < 3.0, np.nan, 20.0 / (time_s + 1.0))
    return RunningEstimate(
        gas="h2",
        time_s=time_s,
        shown_ppm=shown,
        estimate_ppm=estimate,
        u_ppm=u,
        stop_s=19.0,
        settled_s=55.0,
        read_at_s=45.0,
        true_ppm=40.0,
    )


def chart() -> Spec:
    """Return its chart."""
    return running_chart(held(), title="Held", invented=True, width=640.0, theme=PRINT)


def rows(spec: Spec, kind: str) -> list[Spec]:
    """Return the data of one kind of mark."""
    return [r for la in spec["layer"] if la["mark"]["type"] == kind for r in la["data"]["values"]]


def texts(spec: Spec) -> list[str]:
    """Return every label."""
    return [row["text"] for row in rows(spec, "text")]


def test_the_band_is_drawn_until_it_is_known_as_asked_and_stays_in_the_plot() -> None:
    """It reaches 1.96 standard uncertainties, cut at the top of the plot."""
    band = rows(chart(), "area")
    assert_allclose([row["s"] for row in band], np.arange(3.0, 20.0))
    assert_allclose(band[-1]["high"] - band[-1]["value"], 1.96, atol=0.002)
    assert_allclose(band[-1]["value"] - band[-1]["low"], 1.96, atol=0.002)
    assert max(row["high"] for row in band) <= 1.5 * 40.0


def test_last_and_highest_shown_are_those_until_the_display_is_read() -> None:
    """The highest is the sample with the luckiest noise."""
    ring, triangle = (r for r in rows(chart(), "point"))
    assert (ring["s"], triangle["s"]) == (45.0, 40.0)
    assert_allclose([ring["value"], triangle["value"]], held().shown_ppm[[45, 40]], atol=6e-4)
    assert {"last shown: 38 ppm", "highest shown: 40.2 ppm"} <= set(texts(chart()))


def test_three_times_are_told_apart_in_words() -> None:
    """When it was known, when it is read by eye, and when 99 % are shown."""
    upright = {row["words"]: row["s"] for row in rows(chart(), "rule") if "words" in row}
    assert upright == {
        "known as asked: 19 s": 19.0,
        "read by eye: 45 s": 45.0,
        "99 % shown: 55 s": 55.0,
    }


def test_the_estimate_stands_with_its_uncertainty_and_the_truth() -> None:
    """At the sample at which the watching may end."""
    assert {"H₂ 45 ppm", "settles here, u 1.0", "true 40 ppm"} <= set(texts(chart()))


def test_the_description_says_that_the_habits_are_no_results() -> None:
    """And tells every number."""
    assert chart()["description"] == (
        "Invented data. Held, in ppm against seconds from when the gas was held. What is shown of "
        "hydrogen creeps up, thin line. The running estimate of where it settles, heavy line, has "
        "a 95 % band that narrows; after 19 s it is known as well as was asked: 45 ppm, u 1.0 ppm. "
        "The true value is 40 ppm. 99 % of the response are shown only after 55 s. Read by eye "
        "after 45 s, the last shown is 38 ppm, and the highest shown 40.2 ppm; neither is a result."
    )


def test_the_picture_is_drawn_with_signs_of_the_vendored_font_only() -> None:
    """Another font would be another picture on each machine."""
    signs = {sign for text in texts(chart()) for sign in text if not sign.isascii()}
    assert signs <= set("₂₄·±−")
    svg = running_svg(held(), title="Held", invented=True, width=640.0, theme=PRINT)
    assert svg.startswith("<svg")
    assert "<title>Invented data. Held</title>" in svg
