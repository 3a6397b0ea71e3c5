from typing import Any

import numpy as np
from numpy.testing import assert_allclose

from ebbline.adapters.chart.theme import PRINT
from ebbline.adapters.chart.trace_step import NamedResponse, step_chart, step_svg
from ebbline.core.breath.response import Response

Spec = dict[str, Any]
TAU_S = 10.0 / np.log(10.0)
ONE = NamedResponse("one pole", Response(delay_s=0.0, tau_s=TAU_S, tau2_s=0.0))
TWO = NamedResponse("two poles", Response(delay_s=2.0, tau_s=3.0, tau2_s=3.0))


def chart() -> Spec:
    """Return the chart of both."""
    return step_chart((ONE, TWO), title="Steps", end_s=24.0, width=640.0, theme=PRINT)


def lines(spec: Spec) -> list[Spec]:
    """Return the layers of lines: curve and bar of each sensor in turn."""
    return [layer for layer in spec["layer"] if layer["mark"]["type"] == "line"]


def test_a_curve_is_the_step_response_in_percent() -> None:
    """1 - exp(-t/tau) for one pole; equal poles by their own formula."""
    one, _, two, _ = (layer["data"]["values"] for layer in lines(chart()))
    at_s = np.array([row["s"] for row in one])
    exact = 100.0 * (1.0 - np.exp(-at_s / TAU_S))
    assert_allclose([row["value"] for row in one], exact, atol=0.02)
    late = np.maximum(np.array([row["s"] for row in two]) - 2.0, 0.0) / 3.0
    exact = 100.0 * (1.0 - (1.0 + late) * np.exp(-late))
    assert_allclose([row["value"] for row in two], exact, atol=0.02)


def test_the_bar_runs_from_10_to_90_percent_and_the_ring_is_at_90() -> None:
    """ln 9 tau for one pole; the delay moves both ends."""
    _, bar, _, late = (layer["data"]["values"] for layer in lines(chart()))
    assert_allclose(bar[1]["s"] - bar[0]["s"], np.log(9.0) * TAU_S, atol=0.002)
    assert_allclose(bar[1]["s"], 10.0, atol=0.001)
    # (1 + x) e^-x is 0.9 at x = 0.531812 and 0.1 at x = 3.889720 (by bisection).
    assert_allclose(
        [row["s"] for row in late], [2.0 + 3.0 * 0.531812, 2.0 + 3.0 * 3.88972], atol=1e-3
    )
    rings = [
        row
        for layer in chart()["layer"]
        if layer["mark"]["type"] == "point"
        for row in layer["data"]["values"]
    ]
    assert_allclose([row["s"] for row in rings], [10.0, 2.0 + 3.0 * 3.88972], atol=1e-3)
    assert_allclose([row["value"] for row in rings], [90.0, 90.0])


def test_sensors_differ_by_their_dashes_and_are_named_at_their_bars() -> None:
    """There is no legend to look up."""
    spec = chart()
    assert [layer["mark"]["strokeDash"] for layer in lines(spec)] == [[1, 0]] * 2 + [[7, 4]] * 2
    labels = [
        row["text"]
        for layer in spec["layer"]
        if layer["mark"]["type"] == "text"
        for row in layer["data"]["values"]
    ]
    assert "one pole: t90 10 s, 10–90 % in 9.5 s" in labels
    assert "two poles: t90 11.7 s, 10–90 % in 10.1 s" in labels


def test_the_description_tells_what_is_computed_and_what_is_counted_from_where() -> None:
    """A t90 with the delay in it would be another number."""
    assert chart()["description"] == (
        "Steps: the share of a step of gas at 0 s that is shown, in percent, against seconds. "
        "Sensors: one pole: t90 10 s, 10–90 % in 9.5 s and two poles: t90 11.7 s, 10–90 % in "
        "10.1 s. t90 is counted from the end of the delay. Computed from the model, not measured."
    )
    assert "<title>Steps</title>" in step_svg(
        (ONE,), title="Steps", end_s=24.0, width=640.0, theme=PRINT
    )
