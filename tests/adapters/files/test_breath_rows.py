"""Rows of data/reduction.toml and data/quality.toml: all of them, or a refusal that names one."""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import asdict, fields
from typing import Any, get_args

import pytest

from ebbline.adapters.files.breath_rows import parse_quality, parse_reduction
from ebbline.adapters.files.library import DATA, load_library
from ebbline.core.breath.reasons import Code
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.errors import SettingError, list_allowed
from tests.helpers import without

Parse = Callable[[Mapping[str, Any]], object]

REDUCTION = tomllib.loads((DATA / "reduction.toml").read_text(encoding="utf-8"))
NAMES = [row.name for row in fields(ReductionSettings)]
QUALITY = tomllib.loads((DATA / "quality.toml").read_text(encoding="utf-8"))


def refusal(parse: Parse, table: Mapping[str, Any]) -> str:
    """Return what is said of a table that is refused."""
    with pytest.raises(SettingError) as caught:
        parse(table)
    return str(caught.value)


def test_every_setting_of_the_reduction_is_the_value_of_its_row() -> None:
    """And each row says where its value comes from."""
    settings = asdict(load_library().reduction)
    assert settings == {name: row["value"] for name, row in REDUCTION.items()}
    assert all(row["source"] for row in REDUCTION.values())


def test_every_reason_has_words_that_end_as_sentences() -> None:
    """What it means and what to do, for every code that the reduction can give."""
    reasons = load_library().quality.reasons
    assert list(reasons) == list(get_args(Code))
    for words in reasons.values():
        for text in (words.means, words.do):
            assert text[0].isupper()
            assert text.endswith(".")


def test_no_refused_breath_is_offered_as_a_value() -> None:
    """What to do asks for another breath, or for a look at the numbers."""
    for code, words in load_library().quality.reasons.items():
        assert "repeat" in words.do.lower() or code == "over_range"


def test_a_row_that_is_not_known_is_refused_by_its_name() -> None:
    """A slip of the pen does not pass as a setting of its own."""
    said = refusal(parse_reduction, {**REDUCTION, "warm_up": {"value": 1, "source": "x"}})
    assert said == (
        "reduction.toml, row warm_up: not a row of this file; allowed: "
        f"{list_allowed(NAMES)}; came: warm_up"
    )


def test_a_missing_row_is_refused_by_its_name() -> None:
    """There is no value behind it that nobody wrote."""
    said = "the row is missing; allowed: every row once; came: nothing"
    assert refusal(parse_reduction, without(REDUCTION, "wash_s")) == (
        f"reduction.toml, row wash_s: {said}"
    )
    rows = without(QUALITY["reason"], "gaps")
    assert refusal(parse_quality, {**QUALITY, "reason": rows}) == f"quality.toml, row gaps: {said}"


def test_the_words_have_a_caution_and_the_reasons() -> None:
    """Nothing beside them."""
    assert refusal(parse_quality, without(QUALITY, "caution")) == (
        "quality.toml: cannot be used; allowed: caution and reason; came: reason"
    )
    assert refusal(parse_quality, {**QUALITY, "caution": ""}) == (
        "quality.toml, caution: cannot be used; allowed: a text; came: ''"
    )


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (
            {"value": 1.0},
            "reduction.toml, row wash_s: cannot be used; allowed: value and source; came: value",
        ),
        (1.0, "reduction.toml, row wash_s: cannot be used; allowed: value and source; came: 1.0"),
        (
            {"value": "1", "source": "x"},
            ("reduction.toml, row wash_s, value: cannot be used; allowed: a number; came: '1'"),
        ),
        (
            {"value": True, "source": "x"},
            ("reduction.toml, row wash_s, value: cannot be used; allowed: a number; came: True"),
        ),
        (
            {"value": 1.0, "source": " "},
            "reduction.toml, row wash_s, source: cannot be used; allowed: a text; came: ' '",
        ),
        (
            {"value": -1.0, "source": "x"},
            "reduction setting wash_s cannot be used; allowed: 0 or more; came: -1",
        ),
    ],
)
def test_a_row_of_the_reduction_that_cannot_be_used_is_refused(row: object, said: str) -> None:
    """Each has a number and its source."""
    assert refusal(parse_reduction, {**REDUCTION, "wash_s": row}) == said


def test_a_number_of_samples_is_whole() -> None:
    """Half a sample is a slip of the pen."""
    row = {"value": 3.5, "source": "x"}
    assert refusal(parse_reduction, {**REDUCTION, "fewest": row}) == (
        "reduction.toml, row fewest, value: cannot be used; allowed: a whole number; came: 3.5"
    )


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (
            {"means": "x.", "do": "y.", "note": "z"},
            "quality.toml, row gaps: cannot be used; allowed: means and do; came: means, do, note",
        ),
        (
            {"means": "x.", "do": 3},
            "quality.toml, row gaps, do: cannot be used; allowed: a text; came: 3",
        ),
    ],
)
def test_a_row_of_words_that_cannot_be_used_is_refused(row: object, said: str) -> None:
    """Each has two texts."""
    assert refusal(parse_quality, {**QUALITY, "reason": {**QUALITY["reason"], "gaps": row}}) == said
