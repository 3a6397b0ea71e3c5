from dataclasses import replace

import pytest

from ebbline.adapters.chart.curve_chart import aspect, curve_chart
from ebbline.adapters.chart.theme import PRINT
from ebbline.adapters.pdf.content import report_content
from ebbline.adapters.pdf.room import height_without_chart, layout
from tests.adapters.invented import EXAMPLES
from tests.adapters.pdf import issues


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
    assert (
        layout(report_content(interpretation, issue=None), aspect=shape, paper=paper)["fit"] == fit
    )


def test_a_longer_text_needs_more_room() -> None:
    """A note that wraps makes its row higher."""
    content = report_content(EXAMPLES["glucose"](), issue=None)
    rows = [[*row[:-1], row[-1] + " and a longer note" * 10] for row in content["samples"]["rows"]]
    longer = {**content, "samples": {**content["samples"], "rows": rows}}
    assert height_without_chart(longer, 510.0) > height_without_chart(content, 510.0) + 100.0


def test_a_report_of_the_record_needs_more_room() -> None:
    """By preparation, conduct and versions; its pages give lines of their foot to the status."""
    shape = aspect(curve_chart(issues.adult(), theme=PRINT))
    plain = report_content(EXAMPLES["lactose"](), issue=None)
    assert layout(plain, aspect=shape, paper="a4")["footer_lines"] == 0
    content = report_content(issues.adult(), issue=issues.SIGNED)
    assert height_without_chart(content, 510.0) > height_without_chart(plain, 510.0) + 60.0
    assert layout(content, aspect=shape, paper="a4")["footer_lines"] == 1
    amended = replace(issues.AMENDED, reason="a reason that goes on " * 20)
    wordy = report_content(issues.adult(), issue=amended)
    assert layout(wordy, aspect=shape, paper="a4")["footer_lines"] > 3
