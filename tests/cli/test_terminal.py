"""The answer on the terminal, at the widths that terminals have."""

from pathlib import Path

import pytest

from tests.cli.conftest import Run


@pytest.mark.parametrize("width", [80, 100, 200])
def test_no_line_is_wider_than_the_terminal(
    run: Run, lactose: Path, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    """And never wider than can be read: 110 columns, however wide the terminal is."""
    monkeypatch.setenv("COLUMNS", str(width))
    lines = run("interpret", lactose).out.splitlines()
    assert max(len(line.rstrip()) for line in lines) <= min(width, 110)


@pytest.mark.parametrize(("width", "told"), [(80, False), (100, True)])
def test_a_narrow_terminal_keeps_the_measures_on_one_line_each(
    run: Run, lactose: Path, monkeypatch: pytest.MonkeyPatch, width: int, told: bool
) -> None:
    """What does not fit is left to the JSON, and nothing is cut."""
    monkeypatch.setenv("COLUMNS", str(width))
    text = run("interpret", lactose).out
    (line,) = [line for line in text.splitlines() if line.startswith(" H2   ")]
    assert "96 at 150 min" in line
    assert "91 at 150 min" in line
    assert ("over lowest" in text) is told


def test_each_question_is_a_table_with_its_rule_sets_side_by_side(
    run: Run, lactose: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The adopted one first, with result, arithmetic and chance; disagreement has its own line."""
    monkeypatch.setenv("COLUMNS", "110")
    text = run("interpret", lactose).out
    assert "(adopted)" in text
    assert text.index("North American Consensus 2017") < text.index("Rome consensus 2009")
    assert "27 − 5 = 22 ppm at 60 min; at least 20 asked" in text
    assert text.index("carbohydrate malabsorption") < text.index("methanogen overgrowth")
    assert "not checked against the paper" in text
    assert "Cautions" in text


def test_lines_of_the_head_that_are_not_known_are_told(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that a typing error does not pass in silence, in a protocol's name as well."""
    monkeypatch.setenv("COLUMNS", "110")
    file = tmp_path / "typo.csv"
    file.write_text(
        "# substrate: lactose\n# protocol: lactose-18\n# dosis: 25\nminute,h2_ppm\n0,5\n180,6\n",
        encoding="utf-8",
    )
    text = run("interpret", file).out
    assert "not used: dosis: 25, protocol: lactose-18" in text
