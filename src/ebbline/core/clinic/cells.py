"""Check the rows of a table key by key, so that each refusal names what was allowed."""

from collections.abc import Iterable, Mapping
from typing import Any

from ebbline.core.errors import SettingError, list_allowed

PROVENANCES = ("read", "memory", "common practice")
"""Where a row comes from: its paper was read, it was recalled, or it is a custom of the trade."""


class Cells:
    """One table of a TOML file, read key by key.

    Parameters
    ----------
    table : mapping
        What the file holds there.
    file : str
        Name of the file, such as ``safety.toml``.
    path : str
        Where in the file, such as ``bar[3]``; empty for the whole file.
    """

    def __init__(self, table: Mapping[str, Any], *, file: str, path: str) -> None:
        self._table = table
        self.file = file
        self.path = path

    def error(self, key: str, wrong: str, allowed: str, came: object) -> SettingError:
        """Return the refusal of one key."""
        place = f"{self.path}.{key}" if self.path else key
        return SettingError(f"{self.file}, {place}: {wrong}; allowed: {allowed}; came: {came}")

    def only(self, keys: Iterable[str]) -> None:
        """Refuse a key that is not one of these."""
        allowed = list(keys)
        for key in self._table:
            if key not in allowed:
                raise self.error(key, "unknown key", list_allowed(allowed), key)

    def has(self, key: str) -> bool:
        """Return whether the key is given."""
        return key in self._table

    def names(self) -> tuple[str, ...]:
        """Return the keys, in the order of the file."""
        return tuple(self._table)

    def text(self, key: str) -> str:
        """Return a text that is not empty."""
        value = self._get(key, "text")
        if not isinstance(value, str) or not value.strip():
            raise self.error(key, "not text", "text", repr(value))
        return value

    def choice(self, key: str, allowed: Iterable[str]) -> str:
        """Return one of the allowed texts."""
        choices = list(allowed)
        value = self._get(key, list_allowed(choices))
        if value not in choices:
            raise self.error(key, "not one of the choices", list_allowed(choices), repr(value))
        return str(value)

    def choices(self, key: str, allowed: Iterable[str]) -> tuple[str, ...]:
        """Return a list of allowed texts, each once and at least one."""
        known = list(allowed)
        phrase = f"a list of {list_allowed(known)}, each once"
        value = self._get(key, phrase)
        if (
            not isinstance(value, list)
            or not value
            or any(item not in known for item in value)
            or len(set(value)) != len(value)
        ):
            raise self.error(key, "not a list of the choices", phrase, repr(value))
        return tuple(value)

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts that are not empty, each once and at least one."""
        phrase = "a list of texts, each once"
        value = self._get(key, phrase)
        if (
            not isinstance(value, list)
            or not value
            or any(not isinstance(item, str) or not item.strip() for item in value)
            or len(set(value)) != len(value)
        ):
            raise self.error(key, "not a list of texts", phrase, repr(value))
        return tuple(value)

    def number(self, key: str, least: float, most: float) -> float:
        """Return a number from ``least`` to ``most``; true and false are none."""
        phrase = f"{least:g} to {most:g}"
        value = self._get(key, phrase)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.error(key, "not a number", phrase, repr(value))
        if not least <= value <= most:
            raise self.error(key, "out of range", phrase, value)
        return float(value)

    def numbers(self, key: str, least: float, most: float) -> tuple[float, ...]:
        """Return a list of numbers in range."""
        phrase = f"a list of numbers from {least:g} to {most:g}"
        value = self._get(key, phrase)
        if not isinstance(value, list) or not all(
            isinstance(item, int | float) and not isinstance(item, bool) and least <= item <= most
            for item in value
        ):
            raise self.error(key, "not a list of numbers", phrase, repr(value))
        return tuple(float(item) for item in value)

    def flag(self, key: str) -> bool:
        """Return true or false."""
        value = self._get(key, "true or false")
        if not isinstance(value, bool):
            raise self.error(key, "not a yes or no", "true or false", repr(value))
        return value

    def table(self, key: str) -> "Cells":
        """Return a table inside this one."""
        value = self._get(key, f"a table [{key}]")
        if not isinstance(value, Mapping):
            raise self.error(key, "not a table", f"a table [{key}]", repr(value))
        return Cells(value, file=self.file, path=f"{self.path}.{key}" if self.path else key)

    def rows(self, key: str) -> tuple["Cells", ...]:
        """Return the rows of an array of tables; an array that is not given is refused."""
        value = self._get(key, f"[[{key}]] rows")
        if not isinstance(value, list) or not all(isinstance(row, Mapping) for row in value):
            raise self.error(key, "not rows", f"[[{key}]] rows", type(value).__name__)
        return tuple(
            Cells(row, file=self.file, path=f"{key}[{number}]")
            for number, row in enumerate(value, start=1)
        )

    def _get(self, key: str, allowed: str) -> Any:
        if key not in self._table:
            raise self.error(key, "missing", allowed, "nothing")
        return self._table[key]
