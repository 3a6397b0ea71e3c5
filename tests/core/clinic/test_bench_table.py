"""The rows of data/bench.toml are read whole or refused whole."""

import copy
from collections.abc import Callable
from typing import Any

import pytest

from ebbline.adapters.files.curve_rows import COLUMNS
from ebbline.adapters.files.library import data_table
from ebbline.core.clinic.bench_table import VALUES, parse_bench
from ebbline.core.errors import SettingError

Table = dict[str, Any]


def test_the_rows_of_this_release_are_read() -> None:
    """Each number stands where it is used."""
    table = parse_bench(data_table("bench"))
    assert table.jumps_ppm == {"h2_ppm": 40.0, "ch4_ppm": 20.0}
    assert table.smoking_wait_minutes == 15.0
    assert (table.oldest_hours, table.clock_tolerance_s) == (24.0, 5.0)
    assert table.scales["faces"].scores == (0.0, 2.0, 4.0, 6.0, 8.0, 10.0)
    assert table.scales["0-10"].scores == tuple(float(score) for score in range(11))


def test_typed_values_have_the_limits_of_a_curve_file() -> None:
    """A value that may be typed may be read from a file as well."""
    table = parse_bench(data_table("bench"))
    for name in VALUES:
        limits = table.values[name]
        assert (limits.low, limits.high) == (COLUMNS[name].low, COLUMNS[name].high)


def _rename(table: Table) -> None:
    table["value"][0]["nmae"] = 1


def _drop_value(table: Table) -> None:
    del table["value"][1]


def _twice(table: Table) -> None:
    table["value"].append(table["value"][0])


def _upside_down(table: Table) -> None:
    table["value"][0]["high"] = -3


def _drop_jump(table: Table) -> None:
    del table["jump"][0]


def _no_scores(table: Table) -> None:
    table["scale"][0]["scores"] = []


def _drop_scale(table: Table) -> None:
    del table["scale"][1]


def _no_source(table: Table) -> None:
    del table["smoking"]["source"]


def _guess(table: Table) -> None:
    table["clock"]["provenance"] = "guess"


@pytest.mark.parametrize(
    ("spoil", "text"),
    [
        (
            _rename,
            (
                "bench.toml, value[1].nmae: unknown key; allowed: name, low, high, source or "
                "provenance; came: nmae"
            ),
        ),
        (
            _drop_value,
            (
                "bench.toml, value: a row is missing; allowed: a row for each of h2_ppm, ch4_ppm, "
                "o2_pct, co2_pct; came: no ch4_ppm"
            ),
        ),
        (
            _twice,
            (
                "bench.toml, value[5].name: given twice; allowed: an id that no other row has; "
                "came: h2_ppm"
            ),
        ),
        (
            _upside_down,
            "bench.toml, value[1].high: out of range; allowed: -2 to 10000; came: -3",
        ),
        (
            _drop_jump,
            (
                "bench.toml, jump: a row is missing; allowed: a row for each of h2_ppm, ch4_ppm; "
                "came: no h2_ppm"
            ),
        ),
        (
            _no_scores,
            "bench.toml, scale[1].scores: no score; allowed: one score or more; came: none",
        ),
        (
            _drop_scale,
            (
                "bench.toml, scale: a row is missing; allowed: a row for each of 0-10, faces; "
                "came: no faces"
            ),
        ),
        (_no_source, "bench.toml, smoking.source: missing; allowed: text; came: nothing"),
        (
            _guess,
            (
                "bench.toml, clock.provenance: not one of the choices; allowed: read, memory or "
                "common practice; came: 'guess'"
            ),
        ),
    ],
)
def test_a_spoilt_file_is_refused(spoil: Callable[[Table], None], text: str) -> None:
    """The refusal names row, key, what was allowed and what came."""
    table = copy.deepcopy(data_table("bench"))
    spoil(table)
    with pytest.raises(SettingError) as caught:
        parse_bench(table)
    assert str(caught.value) == text
