"""The settings that a service keeps on record: which there are, and what each may be."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args

from ebbline.core.clinic.cells import PROVENANCES, Cells
from ebbline.core.errors import FieldError, list_allowed

FILE = "service_settings.toml"

Kind = Literal["text", "lines", "number", "choice"]

_MOST_LINES = 8
_KEYS = {
    "text": (),
    "lines": (),
    "number": ("least", "most"),
    "choice": ("choices",),
}


@dataclass(frozen=True, slots=True)
class SettingRow:
    """One setting: ``least`` and ``most`` are of a number, ``choices`` of a choice."""

    id: str
    says: str
    kind: Kind
    least: float
    most: float
    choices: tuple[str, ...]
    source: str
    provenance: str


def parse_service_settings(table: Mapping[str, Any]) -> Mapping[str, SettingRow]:
    """Return the settings by their names, in the order of the file.

    Parameters
    ----------
    table : mapping
        What data/service_settings.toml holds.

    Returns
    -------
    mapping of str to SettingRow

    Raises
    ------
    SettingError
        If a row cannot be used.
    """
    top = Cells(table, file=FILE, path="")
    top.only(("setting",))
    found: dict[str, SettingRow] = {}
    for row in top.rows("setting"):
        name = row.text("id")
        if name in found:
            raise row.error("id", "given twice", "an id that no other row has", name)
        chosen = row.choice("kind", get_args(Kind))
        row.only(("id", "says", "kind", "source", "provenance", *_KEYS[chosen]))
        least = row.number("least", -1e6, 1e6) if chosen == "number" else math.nan
        found[name] = SettingRow(
            id=name,
            says=row.text("says"),
            kind=next(kind for kind in get_args(Kind) if kind == chosen),
            least=least,
            most=row.number("most", least, 1e6) if chosen == "number" else math.nan,
            choices=_choices(row) if chosen == "choice" else (),
            source=row.text("source"),
            provenance=row.choice("provenance", PROVENANCES),
        )
    return found


def check_setting(rows: Mapping[str, SettingRow], *, name: str, value: object) -> Any:
    """Return a value as it is kept: a text, a list of texts or a number.

    Parameters
    ----------
    rows : mapping of str to SettingRow
        All settings.
    name : str
        Which of them.
    value : object
        The value.

    Returns
    -------
    str, list of str or float

    Raises
    ------
    FieldError
        If there is no such setting, or it cannot be that.
    """
    if name not in rows:
        raise FieldError(
            field="name",
            wrong="no such setting",
            allowed=list_allowed(rows),
            came=name or "nothing",
        )
    row = rows[name]
    if row.kind == "number":
        return _number(row, value)
    if row.kind == "lines":
        return _lines(row, value)
    text = value.strip() if isinstance(value, str) else ""
    if row.kind == "choice" and text not in row.choices:
        raise _wrong(row, "not one of the choices", list_allowed(row.choices), value)
    if not text:
        raise _wrong(row, "not text", "text", value)
    return text


def _number(row: SettingRow, value: object) -> float:
    allowed = f"{row.least:g} to {row.most:g}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _wrong(row, "not a number", allowed, value)
    # What is not a number is refused too: no comparison with it holds.
    if not row.least <= value <= row.most:
        raise _wrong(row, "out of range", allowed, value)
    return float(value)


def _lines(row: SettingRow, value: object) -> list[str]:
    lines = list(value) if isinstance(value, list | tuple) else []
    if not 1 <= len(lines) <= _MOST_LINES or not all(
        isinstance(line, str) and line.strip() for line in lines
    ):
        raise _wrong(row, "not lines", f"1 to {_MOST_LINES} lines of text", value)
    return [line.strip() for line in lines]


def _wrong(row: SettingRow, wrong: str, allowed: str, value: object) -> FieldError:
    return FieldError(field=row.id, wrong=wrong, allowed=allowed, came=repr(value))


def _choices(row: Cells) -> tuple[str, ...]:
    """Return the texts of a choice, each once and at least two."""
    choices = row.texts("choices")
    if len(choices) < 2:
        raise row.error("choices", "nothing to choose from", "two texts or more", len(choices))
    return choices
