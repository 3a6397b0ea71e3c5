"""Check the keys of a rule file one by one, so that each refusal names line, key and allowance."""

import calendar
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.core.errors import RuleError, list_allowed

_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_DATE = re.compile(r"(\d{4})-(\d{2})-(\d{2})")


@dataclass(frozen=True, slots=True)
class Field:
    """One key that a row may hold.

    ``kind`` is id, text, choice, number, numbers, date or substrates; ``allowed`` holds the
    choices, or the lowest and highest number.
    """

    name: str
    kind: str
    required: bool
    meaning: str
    allowed: tuple[Any, ...] = ()


class Row:
    """One table of a rule file, read key by key."""

    def __init__(
        self,
        table: Mapping[str, Any],
        path: str,
        file: str,
        lines: Mapping[str, int],
        substrates: tuple[str, ...],
    ) -> None:
        self._table = table
        self._path = path
        self._file = file
        self._lines = lines
        self._substrates = substrates

    def error(self, key: str, wrong: str, allowed: str, came: str) -> RuleError:
        """Return the refusal of one key."""
        path = f"{self._path}.{key}" if self._path else key
        line = self._lines.get(path, self._lines.get(self._path))
        return RuleError(
            file=self._file, key=path, wrong=wrong, allowed=allowed, came=came, line=line
        )

    def get(self, key: str) -> Any:
        """Return a key's value, None where it is not given."""
        return self._table.get(key)

    def text(self, key: str) -> str:
        """Return a key that `check_keys` has found to be text."""
        return str(self._table[key])

    def needed(self, key: str, allowed: str) -> Any:
        """Return a key's value; refuse the file where it is not given."""
        if key not in self._table:
            raise self.error(key, "missing", allowed, "nothing")
        return self._table[key]

    def forbid(self, key: str, allowed: str) -> None:
        """Refuse the file where a key is given that does not fit the rest of its row."""
        if key in self._table:
            raise self.error(key, "does not fit this row", allowed, repr(self._table[key]))

    def rows(self, key: str, fields: tuple[Field, ...], *, least: int) -> list["Row"]:
        """Return the tables of an array of tables, each with its keys checked."""
        tables = self._table.get(key, [])
        if not isinstance(tables, list) or not all(isinstance(t, dict) for t in tables):
            raise self.error(key, "not rows", f"[[{key}]] rows", type(tables).__name__)
        if len(tables) < least:
            raise self.error(key, "missing", f"at least {least} [[{key}]] row", "none")
        found = []
        for number, table in enumerate(tables, start=1):
            row = Row(table, f"{key}[{number}]", self._file, self._lines, self._substrates)
            row.check_keys(fields, also=())
            found.append(row)
        return found

    def check_keys(self, fields: tuple[Field, ...], *, also: tuple[str, ...]) -> None:
        """Refuse unknown and missing keys, and values that are not of their kind."""
        names = [field.name for field in fields]
        for key in self._table:
            if key not in names and key not in also:
                raise self.error(key, "unknown key", list_allowed([*names, *also]), key)
        for field in fields:
            if field.name in self._table:
                self._check_value(field, self._table[field.name])
            elif field.required:
                raise self.error(field.name, "missing", field.meaning, "nothing")

    def _check_value(self, field: Field, value: Any) -> None:
        allowed = _phrase(field, self._substrates)
        wrong = self.error(field.name, f"not {_KINDS[field.kind]}", allowed, _came(value))
        is_text = isinstance(value, str) and value.strip()
        if field.kind in ("text", "id", "choice") and not is_text:
            raise wrong
        if field.kind == "id" and not _ID.fullmatch(value):
            raise wrong
        if field.kind == "choice" and value not in field.allowed:
            raise wrong
        if field.kind == "number" and not _is_number(value, field.allowed):
            raise wrong
        if field.kind == "numbers" and not (
            isinstance(value, list) and value and all(_is_number(v, field.allowed) for v in value)
        ):
            raise wrong
        if field.kind == "date" and not _is_day(str(value)):
            raise wrong
        if field.kind == "substrates" and not (
            isinstance(value, list)
            and value
            and all(isinstance(v, str) and v in self._substrates for v in value)
            and len(set(value)) == len(value)
        ):
            raise wrong


_KINDS = {
    "id": "an id",
    "text": "text",
    "choice": "one of the choices",
    "number": "a number in range",
    "numbers": "a list of numbers in range",
    "date": "a date",
    "substrates": "a list of substrates",
}


def _phrase(field: Field, substrates: tuple[str, ...]) -> str:
    """Return what is allowed for a field, in words."""
    if field.kind == "choice":
        return list_allowed([repr(choice) for choice in field.allowed])
    if field.kind == "number":
        return f"{field.allowed[0]:g} to {field.allowed[1]:g}"
    if field.kind == "numbers":
        return f"numbers from {field.allowed[0]:g} to {field.allowed[1]:g}"
    if field.kind == "substrates":
        return f"{list_allowed(substrates)}, each once"
    if field.kind == "date":
        return "a date such as 2026-11-24"
    return field.meaning


def _came(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _is_day(text: str) -> bool:
    """Whether text such as 2026-11-24 is a day of the calendar."""
    found = _DATE.fullmatch(text)
    if found is None:
        return False
    year, month, day = (int(part) for part in found.groups())
    return year >= 1 and 1 <= month <= 12 and 1 <= day <= calendar.monthrange(year, month)[1]


def _is_number(value: Any, limits: tuple[Any, ...]) -> bool:
    """Whether a TOML value is a finite number in range; true and false are not numbers."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return bool(limits[0] <= value <= limits[1])
