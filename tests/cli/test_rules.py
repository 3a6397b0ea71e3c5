"""``ebbline rules``: list, explain, check."""

from pathlib import Path

from ebbline.adapters.files.library import DATA, load_library
from tests.cli.conftest import Run


def test_every_rule_set_is_listed_with_every_row(run: Run) -> None:
    """And the reporting criterion is marked."""
    text = run("rules").out
    for path in sorted((DATA / "rules").glob("*.toml")):
        assert f"\n{path.stem}  " in f"\n{text}"
    assert "north-american-2017  North American Consensus 2017, version 1  (reporting" in text
    rows = [len(one.statements) + len(one.validity) for one in load_library().rule_sets]
    assert text.count("  - ") == sum(rows) == 26


def test_a_row_from_memory_says_so(run: Run) -> None:
    """In the words that reports use."""
    text = run("rules", "explain", "eisenmann-2008").out
    assert "at least 10 ppm by 60 min" in text
    assert "not checked against the paper" in text
    assert "for comparison only" in text


def test_an_unknown_id_is_refused_with_what_there_is(run: Run) -> None:
    """Exit code 3."""
    answer = run("rules", "explain", "none")
    assert answer.code == 3
    assert "hovde-farup-2009" in answer.err


def test_a_good_file_is_said_to_be_good(run: Run) -> None:
    """With what stands in the way of adopting it."""
    path = DATA / "rules" / "european-2022.toml"
    answer = run("rules", "check", path)
    assert answer.code == 0
    assert f"{path}: European guideline 2022 (european-2022), 3 rows, can be used." in answer.out
    assert "a named person confirms: h2-rise-sugar, ch4-rise-sugar, h2-baseline." in answer.out


def test_a_bad_file_is_refused_with_line_key_and_allowance(run: Run, tmp_path: Path) -> None:
    """Exit code 3."""
    source = (DATA / "rules" / "kerlin-wong-1988.toml").read_text(encoding="utf-8")
    bad = tmp_path / "bad.toml"
    bad.write_text(source.replace('"at least"', '"over"'), encoding="utf-8")
    line = source.splitlines().index('comparison = "at least"') + 1
    answer = run("rules", "check", bad)
    assert answer.code == 3
    assert answer.err == (
        f"ebbline: {bad}, line {line}, key statement[1].comparison: not one of the choices; "
        "allowed: 'at least' or 'more than'; came: 'over'\n"
    )
