"""The curve in characters."""

from pathlib import Path

import pytest

from ebbline.bootstrap import build, demo_files
from ebbline.cli.plot import plot
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.overrides import Overrides


def interpreted(part: str) -> Interpretation:
    """Return one test of the invented clinic."""
    (name,) = [file for file in demo_files() if part in Path(file).name]
    return build().interpret_tests([name], overrides=Overrides(), rules=())[0]


@pytest.mark.parametrize("width", [40, 80, 110])
def test_no_line_is_wider_than_asked_but_for_the_last_label(width: int) -> None:
    """Each sample has its mark, and the axis its minutes."""
    text = plot(interpreted("01-lactose"), width=width)
    assert max(len(line) for line in text.splitlines()[:-1]) <= width
    assert text.count("●") + text.count("◈") == 7 + 1
    assert "180 min" in text


def test_a_refused_sample_is_a_cross_and_the_threshold_is_named() -> None:
    """Marks differ by shape, not by colour."""
    text = plot(interpreted("09-lactose"), width=80)
    assert "× refused, raw H2" in text
    assert text.count("×") == 2
    assert "┄ threshold for H2, 24 ppm" in text
