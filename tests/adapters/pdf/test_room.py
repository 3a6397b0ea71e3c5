import pytest

from ebbline.adapters.chart.curve_chart import aspect, curve_chart
from ebbline.adapters.chart.theme import PRINT
from ebbline.adapters.pdf.content import report_content
from ebbline.adapters.pdf.room import height_without_chart, layout
from tests.adapters.invented import EXAMPLES


@pytest.mark.parametrize(
    ("name", "paper", "fit"),
    [
        ("hydrogen_only", "a4", "easy"),
        ("lactose", "us-letter", "easy"),
        ("glucose", "a4", "tight"),
        ("long", "a4", "long"),
    ],
)
def test_the_layout_follows_what_there_is_to_say(name: str, paper: str, fit: str) -> None:
    """Little text leaves the chart its full size; much text puts the samples on a new page."""
    interpretation = EXAMPLES[name]()
    shape = aspect(curve_chart(interpretation, theme=PRINT))
    assert layout(report_content(interpretation), aspect=shape, paper=paper)["fit"] == fit


def test_a_longer_text_needs_more_room() -> None:
    """A note that wraps makes its row higher."""
    content = report_content(EXAMPLES["glucose"]())
    rows = [[*row[:-1], row[-1] + " and a longer note" * 10] for row in content["samples"]["rows"]]
    longer = {**content, "samples": {**content["samples"], "rows": rows}}
    assert height_without_chart(longer, 510.0) > height_without_chart(content, 510.0) + 100.0
