"""Read the rows by which traces are reduced, and the words for the reasons against a breath."""

from collections.abc import Collection, Mapping
from dataclasses import fields
from typing import Any, get_args

from ebbline.core.breath.reasons import Code
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.errors import SettingError, list_allowed
from ebbline.services.library import QualityWords, ReasonWords

REDUCTION = "reduction.toml"
QUALITY = "quality.toml"

Table = Mapping[str, Any]


def parse_reduction(table: Table) -> ReductionSettings:
    """Return the settings that the rows of data/reduction.toml hold.

    Parameters
    ----------
    table : mapping
        What the TOML file holds: for each setting a table of ``value`` and ``source``.

    Returns
    -------
    ReductionSettings

    Raises
    ------
    SettingError
        If a row is missing or not known, has not exactly a value and a source, or holds a value
        that cannot be used.
    """
    names = [row.name for row in fields(ReductionSettings)]
    _check_rows(table, names, REDUCTION)
    values: dict[str, Any] = {}
    for name in names:
        row = _cells(table[name], ("value", "source"), f"{REDUCTION}, row {name}")
        values[name] = _number(row["value"], name, whole=name == "fewest")
        _text(row["source"], f"{REDUCTION}, row {name}, source")
    return ReductionSettings(**values)


def parse_quality(table: Table) -> QualityWords:
    """Return the words that data/quality.toml holds.

    Parameters
    ----------
    table : mapping
        What the TOML file holds: the ``caution``, and for each reason below ``reason`` a table of
        ``means`` and ``do``.

    Returns
    -------
    QualityWords
        Reasons in the order of their codes.

    Raises
    ------
    SettingError
        If a row is missing or not known, or has not exactly the two texts.
    """
    cells = _cells(table, ("caution", "reason"), QUALITY)
    _text(cells["caution"], f"{QUALITY}, caution")
    codes: tuple[Code, ...] = get_args(Code)
    rows = cells["reason"]
    _check_rows(rows, codes, QUALITY)
    words: dict[Code, ReasonWords] = {}
    for code in codes:
        row = _cells(rows[code], ("means", "do"), f"{QUALITY}, row {code}")
        for cell in ("means", "do"):
            _text(row[cell], f"{QUALITY}, row {code}, {cell}")
        words[code] = ReasonWords(means=row["means"], do=row["do"])
    return QualityWords(caution=cells["caution"], reasons=words)


def _check_rows(table: Table, known: Collection[str], file: str) -> None:
    """Refuse a table that has not exactly the known rows."""
    for name in table:
        if name not in known:
            raise SettingError(
                f"{file}, row {name}: not a row of this file; allowed: {list_allowed(known)}; "
                f"came: {name}"
            )
    for name in known:
        if name not in table:
            raise SettingError(
                f"{file}, row {name}: the row is missing; allowed: every row once; came: nothing"
            )


def _cells(row: Any, wanted: tuple[str, ...], place: str) -> Table:
    """Refuse a row that has not exactly the wanted cells."""
    cells = row if isinstance(row, Mapping) else {}
    if set(cells) != set(wanted):
        came = ", ".join(cells) if cells else repr(row)
        raise SettingError(
            f"{place}: cannot be used; allowed: {' and '.join(wanted)}; came: {came}"
        )
    return cells


def _text(value: Any, place: str) -> None:
    """Refuse what says nothing."""
    if not (isinstance(value, str) and value.strip()):
        raise SettingError(f"{place}: cannot be used; allowed: a text; came: {value!r}")


def _number(value: Any, name: str, *, whole: bool) -> float:
    """Return a number, or refuse what is none."""
    kinds = (int,) if whole else (int, float)
    if isinstance(value, bool) or not isinstance(value, kinds):
        allowed = "a whole number" if whole else "a number"
        raise SettingError(
            f"{REDUCTION}, row {name}, value: cannot be used; allowed: {allowed}; came: {value!r}"
        )
    return value if whole else float(value)
