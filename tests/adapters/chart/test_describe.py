from ebbline.adapters.chart.describe import describe_chart
from ebbline.core.rules.interpretation import Interpretation


def test_every_value_is_told_with_its_actual_minute(lactose: Interpretation) -> None:
    """A reader who does not see the chart has the same numbers."""
    text = describe_chart(lactose)
    assert "Hydrogen, solid line with filled circles: 6 at 0 min, 5 at 15 min, 7 at 31 min" in text
    assert "Methane, dashed line with open diamonds: 3 at 0 min" in text
    assert "Dotted line: H₂ baseline 6 + 20 = 26 ppm." in text
    assert "Dotted line: 10 ppm CH₄." in text
    assert "Pain, 0 to 10: 0 at 0 min" in text
    assert text.startswith("Invented data. Breath gases after lactose 25 g in 250 ml")


def test_what_was_scaled_and_what_does_not_count_is_told(glucose: Interpretation) -> None:
    """Raw values stand beside what was made of them."""
    text = describe_chart(glucose)
    assert "Raw hydrogen before normalising: 7 at 15 min, 11 at 46 min and 17 at 105 min." in text
    assert "Hydrogen that does not count: 5 at 28 min (repeat) and 3 at 60 min (refused)." in text
    assert "The window of North American Consensus 2017 is shaded, 0 to 90 min." in text


def test_gaps_are_told(with_a_missed_sample: Interpretation, hydrogen_only: Interpretation) -> None:
    """Neither a missed sample nor a gas that was not measured is passed over."""
    assert "Missed: 60 min; the line is open there." in describe_chart(with_a_missed_sample)
    assert "Methane was not measured." in describe_chart(hydrogen_only)
