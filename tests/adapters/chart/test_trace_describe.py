from dataclasses import replace

from ebbline.adapters.chart.trace_describe import (
    amount,
    caption_of,
    counts,
    describe_trace,
    two_digits,
)
from ebbline.adapters.chart.trace_parts import parts_of
from ebbline.core.breath.reasons import Reason
from ebbline.core.breath.reduction import Reduction
from tests.adapters.traced import Traced, traced


def described(one: Traced, reduction: Reduction | None = None) -> str:
    """Return the description of a trace."""
    parts = parts_of(one.trace, one.reduction, sensors=one.sensors, dilution=one.dilution)
    return describe_trace(parts, reduction or one.reduction, (), "A breath")


def captioned(one: Traced, reduction: Reduction) -> list[str]:
    """Return the caption's phrases."""
    parts = parts_of(one.trace, one.reduction, sensors=one.sensors, dilution=one.dilution)
    return caption_of(parts, reduction, (), invented=False)


def test_a_description_tells_times_values_marks_and_quality() -> None:
    """Everything that the picture shows can be heard."""
    one = traced("stream", 1)
    text = described(one)
    h2, ch4 = one.reduction.values["h2_ppm"], one.reduction.values["ch4_ppm"]
    for part in (
        "A breath, in ppm against seconds on the trace's clock. Room air for the zero is shaded, ",
        "is not shown.",
        "Breath begins at ",
        "Blow ends at ",
        "The plateau window is shaded, ",
        f"Hydrogen, solid line with filled circles: end-tidal {amount(h2.raw, h2.u)}.",
        f"Methane, dashed line with open diamonds: end-tidal {amount(ch4.raw, ch4.u)}.",
        "O2 below, dotted, from room air, 0 %, to the alveolar reference, 100 %: at its highest ",
    ):
        assert part in text
    assert text.endswith("Accepted.")


def test_every_reason_is_told_and_that_nothing_counts() -> None:
    """The caption has room for two, the description for all."""
    one = traced("stream", 5, ("breathed_in",))
    text = described(one)
    assert len(one.reduction.reasons) > 2
    assert text.lower().endswith("; ".join(r.seen for r in one.reduction.reasons).lower() + ".")
    assert text.count("It does not count.") == 2
    phrases = captioned(one, one.reduction)
    more = len(one.reduction.reasons) - 2
    assert f"and {more} more reason{'s' if more > 1 else ''}" in phrases


def test_a_trace_without_a_value_says_so() -> None:
    """There is no zero to take off either."""
    one = traced("stream", 4, ("stopped_in_dead_space",))
    text = described(one)
    assert "Hydrogen, solid line with filled circles: no value was found." in text
    assert text.endswith("Refused. No breath was seen.")
    assert captioned(one, one.reduction) == [
        "refused",
        "no breath was seen",
        "thin: samples, delay taken off",
    ]
    assert counts("h2", one.reduction) is None


def test_a_caption_writes_gases_with_their_subscripts() -> None:
    """As the labels do."""
    one = traced("stream", 1)
    reason = Reason("unsteady", "CO2 moves by 20 % over the plateau, H2 by 5 % and CH4 by 4 %")
    refused = replace(one.reduction, quality="refused", reasons=(reason,))
    assert captioned(one, refused)[1] == (
        "CO₂ moves by 20 % over the plateau, H₂ by 5 % and CH₄ by 4 %"
    )


def test_an_uncertainty_has_two_digits() -> None:
    """Two decimals at most."""
    assert [two_digits(u) for u in (0.356, 0.7, 0.996, 1.33, 12.34)] == [
        "0.36",
        "0.70",
        "1.0",
        "1.3",
        "12.3",
    ]
