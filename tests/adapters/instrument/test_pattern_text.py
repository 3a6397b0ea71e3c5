"""Texts for patterns: what is written fits the pattern, with the given texts in its groups."""

import re

import pytest

from ebbline.adapters.instrument.pattern_text import pattern_text


@pytest.mark.parametrize(
    ("pattern", "text"),
    [
        (r"H2=\s*(?P<h2>\S+) ppm", "H2=1.5 ppm"),
        (r"^(?P<h2>[-+]?\d+\.\d+)$", "1.5"),
        (r"\[(?P<h2>.*?)\]\t\d{3}", "[1.5]\t000"),
        (r"(?:A|B)+;(?P<h2>[^;]*);x{2,4}", "A;1.5;xx"),
        (r"(?P<h2>\S+) (?P<ok>OK|no)?", "1.5 OK"),
        (r"[0-9]{2}:[ab]\s(?P<h2>\d+\.?\d*)\b", "00:a 1.5"),
        (r"([\]x]|y)(?P<h2>[\d.]+)[^a0]{,3}?", "]1.5"),
        (r"[^a](?P<h2>[\d.]+)", "01.5"),
        (r"(?P<h2>[\d.]+)\W\D\\", "1.5 a\\"),
        (r"(?P<h2>[\d.]+).", "1.5a"),
    ],
)
def test_a_text_fits_its_pattern_with_the_value_in_its_group(pattern: str, text: str) -> None:
    """The first way of each either-or, and as little as may be."""
    assert pattern_text(pattern, {"h2": "1.5"}) == text
    found = re.fullmatch(pattern, text)
    assert found is not None
    assert found.group("h2") == "1.5"
