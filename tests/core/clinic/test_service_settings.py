"""Rows of settings: which there are, and what each may be."""

import copy
import math
import tomllib
from typing import Any

import pytest

from ebbline.adapters.files.curve_keys import KEYS
from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.service_settings import check_setting, parse_service_settings
from ebbline.core.errors import FieldError, SettingError

SHIPPED = tomllib.loads((DATA / "service_settings.toml").read_text(encoding="utf-8"))
ROWS = parse_service_settings(SHIPPED)

ONE: dict[str, Any] = {
    "id": "depth_m",
    "says": "depth of the harbour, m",
    "kind": "number",
    "least": 1,
    "most": 20,
    "source": "invented",
    "provenance": "memory",
}


def table(*, without: tuple[str, ...] = (), **changes: Any) -> dict[str, Any]:
    """Return a table of one row, with keys replaced or left out."""
    row = copy.deepcopy(ONE) | changes
    return {"setting": [{key: value for key, value in row.items() if key not in without}]}


def test_a_number_has_the_limits_of_the_head_key_of_its_name() -> None:
    """A setting and the head of a curve file say the same; so do their choices."""
    shared = [name for name in ROWS if name in KEYS and ROWS[name].kind in ("number", "choice")]
    numbers = [name for name in shared if ROWS[name].kind == "number"]
    assert len(numbers) == 7
    for name in numbers:
        assert (ROWS[name].least, ROWS[name].most) == (KEYS[name].low, KEYS[name].high)
    assert ROWS["baseline"].choices == KEYS["baseline"].choices


def test_a_stop_rule_is_one_of_the_rules_or_none() -> None:
    """The rows of data/test_life.toml name them."""
    life = tomllib.loads((DATA / "test_life.toml").read_text(encoding="utf-8"))
    assert ROWS["stop_rule"].choices == ("none", *(row["id"] for row in life["stop_rule"]))


@pytest.mark.parametrize(
    ("name", "value", "kept"),
    [
        ("service", " Harbour Clinic ", "Harbour Clinic"),
        ("address", (" quay 1", "Harbour"), ["quay 1", "Harbour"]),
        ("gain_fraction", 0, 0.0),
        ("gain_fraction", 0.15, 0.15),
        ("reference", "co2", "co2"),
    ],
)
def test_a_value_is_kept_as_its_row_asks(name: str, value: object, kept: object) -> None:
    """Blanks around a text go, and a number is a number."""
    found = check_setting(ROWS, name=name, value=value)
    assert (found, type(found)) == (kept, type(kept))


@pytest.mark.parametrize(
    ("name", "value", "text"),
    [
        ("service", " ", "service: not text; allowed: text; came: ' '"),
        ("service", 3, "service: not text; allowed: text; came: 3"),
        ("address", [], "address: not lines; allowed: 1 to 8 lines of text; came: []"),
        (
            "address",
            ["a", ""],
            "address: not lines; allowed: 1 to 8 lines of text; came: ['a', '']",
        ),
        ("address", "quay 1", "address: not lines; allowed: 1 to 8 lines of text; came: 'quay 1'"),
        (
            "baseline",
            "best",
            "baseline: not one of the choices; allowed: mean, last or lowest; came: 'best'",
        ),
        (
            "ambient_o2_pct",
            18.9,
            "ambient_o2_pct: out of range; allowed: 19 to 21.5; came: 18.9",
        ),
        (
            "ambient_o2_pct",
            math.nan,
            "ambient_o2_pct: out of range; allowed: 19 to 21.5; came: nan",
        ),
        ("noise_ppm", True, "noise_ppm: not a number; allowed: 0 to 100; came: True"),
        ("noise_ppm", "1", "noise_ppm: not a number; allowed: 0 to 100; came: '1'"),
    ],
)
def test_a_value_that_cannot_be_is_refused(name: str, value: object, text: str) -> None:
    """The refusal names the setting."""
    with pytest.raises(FieldError) as caught:
        check_setting(ROWS, name=name, value=value)
    assert str(caught.value) == text


def test_a_setting_that_is_none_is_refused() -> None:
    """The refusal lists those that are."""
    with pytest.raises(FieldError) as caught:
        check_setting(parse_service_settings(table()), name="", value=1)
    assert str(caught.value) == "name: no such setting; allowed: depth_m; came: nothing"


@pytest.mark.parametrize(
    ("rows", "text"),
    [
        (
            {"setting": [], "colour": 1},
            "service_settings.toml, colour: unknown key; allowed: setting; came: colour",
        ),
        (
            {"setting": [ONE, ONE]},
            (
                "service_settings.toml, setting[2].id: given twice; allowed: an id that no other "
                "row has; came: depth_m"
            ),
        ),
        (
            table(kind="colour"),
            (
                "service_settings.toml, setting[1].kind: not one of the choices; allowed: text, "
                "lines, number or choice; came: 'colour'"
            ),
        ),
        (
            table(kind="text"),
            (
                "service_settings.toml, setting[1].least: unknown key; allowed: id, says, kind, "
                "source or provenance; came: least"
            ),
        ),
        (
            table(most=0.5),
            "service_settings.toml, setting[1].most: out of range; allowed: 1 to 1e+06; came: 0.5",
        ),
        (
            table(kind="choice", choices=["mud"], without=("least", "most")),
            (
                "service_settings.toml, setting[1].choices: nothing to choose from; allowed: two "
                "texts or more; came: 1"
            ),
        ),
        (
            table(kind="choice", choices=["mud", "mud"], without=("least", "most")),
            (
                "service_settings.toml, setting[1].choices: not a list of texts; allowed: a list "
                "of texts, each once; came: ['mud', 'mud']"
            ),
        ),
    ],
)
def test_a_row_that_cannot_be_used_is_refused(rows: dict[str, Any], text: str) -> None:
    """With its place, what was allowed and what came."""
    with pytest.raises(SettingError) as caught:
        parse_service_settings(rows)
    assert str(caught.value) == text
