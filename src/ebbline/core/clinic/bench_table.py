"""The rows of data/bench.toml: limits of what is entered while a test runs."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.core.clinic.cells import PROVENANCES, Cells

FILE = "bench.toml"
"""The file of the rows, for messages."""

VALUES = ("h2_ppm", "ch4_ppm", "o2_pct", "co2_pct")
"""What may be typed of a breath."""

SCALES = ("0-10", "faces")
"""How complaints may be scored."""

_GASES = ("h2_ppm", "ch4_ppm")
_ORIGIN = ("source", "provenance")


@dataclass(frozen=True, slots=True)
class Limits:
    """The lowest and highest value that may be typed, in the unit of its name."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale of complaints: the scores that may be given, and what they mean."""

    scores: tuple[float, ...]
    says: str


@dataclass(frozen=True, slots=True)
class BenchTable:
    """All rows.

    Parameters
    ----------
    values : mapping of str to Limits
        Limits of each typed value, by its name in `VALUES`.
    jumps_ppm : mapping of str to float
        For hydrogen and methane, how far a typed value may be from the reading before it without
        being typed twice, ppm.
    smoking_wait_minutes : float
        A sample sooner after smoking is warned of, minutes.
    oldest_hours : float
        How long ago something may have happened that is entered now, h.
    clock_tolerance_s : float
        By how much two clocks may drift apart without a jump, s.
    scales : mapping of str to Scale
        By their names in `SCALES`.
    """

    values: Mapping[str, Limits]
    jumps_ppm: Mapping[str, float]
    smoking_wait_minutes: float
    oldest_hours: float
    clock_tolerance_s: float
    scales: Mapping[str, Scale]


def parse_bench(table: Mapping[str, Any]) -> BenchTable:
    """Return the rows that a table holds, or refuse it whole.

    Parameters
    ----------
    table : mapping
        What data/bench.toml holds.

    Returns
    -------
    BenchTable

    Raises
    ------
    SettingError
        With row, key, what was allowed and what came; also if a value, gas or scale has no row.
    """
    top = Cells(table, file=FILE, path="")
    top.only(("value", "jump", "smoking", "moment", "clock", "scale"))
    values: dict[str, Limits] = {}
    for row in top.rows("value"):
        row.only(("name", "low", "high", *_ORIGIN))
        name = _name(row, "name", VALUES, values)
        low = row.number("low", -100.0, 10_000.0)
        values[name] = Limits(low, row.number("high", low, 10_000.0))
    jumps: dict[str, float] = {}
    for row in top.rows("jump"):
        row.only(("name", "more_than_ppm", *_ORIGIN))
        name = _name(row, "name", _GASES, jumps)
        jumps[name] = row.number("more_than_ppm", 0.0, 10_000.0)
    scales: dict[str, Scale] = {}
    for row in top.rows("scale"):
        row.only(("id", "scores", "says", *_ORIGIN))
        name = _name(row, "id", SCALES, scales)
        scores = row.numbers("scores", 0.0, 10.0)
        if not scores:
            raise row.error("scores", "no score", "one score or more", "none")
        scales[name] = Scale(scores, row.text("says"))
    _all_there(top, "value", VALUES, values)
    _all_there(top, "jump", _GASES, jumps)
    _all_there(top, "scale", SCALES, scales)
    return BenchTable(
        values=values,
        jumps_ppm=jumps,
        smoking_wait_minutes=_one(top, "smoking", "wait_minutes", 240.0),
        oldest_hours=_one(top, "moment", "oldest_hours", 240.0),
        clock_tolerance_s=_one(top, "clock", "tolerance_s", 600.0),
        scales=scales,
    )


def _name(row: Cells, key: str, allowed: Collection[str], earlier: Collection[str]) -> str:
    _check_origin(row)
    name = row.choice(key, allowed)
    if name in earlier:
        raise row.error(key, "given twice", "an id that no other row has", name)
    return name


def _one(top: Cells, table: str, key: str, most: float) -> float:
    """Return the one number of a table."""
    row = top.table(table)
    row.only((key, *_ORIGIN))
    _check_origin(row)
    return row.number(key, 0.0, most)


def _check_origin(row: Cells) -> None:
    row.text("source")
    row.choice("provenance", PROVENANCES)


def _all_there(top: Cells, key: str, wanted: Collection[str], found: Collection[str]) -> None:
    missing = [name for name in wanted if name not in found]
    if missing:
        raise top.error(
            key, "a row is missing", f"a row for each of {', '.join(wanted)}", f"no {missing[0]}"
        )
