"""The keys of a profile, and how each is read or refused."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from ebbline.core.errors import ProfileError, list_allowed

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a profile, with its name for messages."""

    file: str
    name: str
    rows: Mapping[str, Any]

    def refuse(self, key: str, wrong: str, allowed: str, came: str) -> ProfileError:
        """Return the error for one key."""
        path = ".".join(filter(None, (self.name, key)))
        return ProfileError(file=self.file, key=path, wrong=wrong, allowed=allowed, came=came)

    def only(self, known: Sequence[str]) -> None:
        """Refuse keys that are not known: one written wrongly would be left out in silence."""
        for key in self.rows:
            if key not in known:
                raise self.refuse(key, "key is not known", list_allowed(known), key)

    def get(self, key: str, allowed: str, good: Callable[[Any], T | None]) -> T:
        """Return one key that must be there, through ``good``, which gives None to refuse it."""
        if key not in self.rows:
            raise self.refuse(key, "key is missing", allowed, "nothing")
        value = self.rows[key]
        found = good(value)
        if found is None:
            raise self.refuse(key, "value cannot be used", allowed, _came(value))
        return found

    def table(self, key: str) -> "Table":
        """Return a table within this one that must be there."""
        path = f"{self.name}.{key}" if self.name else key
        if key not in self.rows:
            raise self.refuse(key, "table is missing", f"[{path}]", "nothing")
        rows = self.rows[key]
        if not isinstance(rows, dict):
            raise self.refuse(key, "is not a table", f"[{path}]", _came(rows))
        return Table(self.file, path, rows)

    def text(self, key: str) -> str:
        """Return a text that is not empty."""
        return self.get(key, "a text", lambda v: v if isinstance(v, str) and v.strip() else None)

    def flag(self, key: str) -> bool:
        """Return true or false."""
        found = self.get(key, "true or false", lambda v: (v,) if isinstance(v, bool) else None)
        return found[0]

    def one_of(self, key: str, allowed: Sequence[str]) -> str:
        """Return one of some texts."""
        return self.get(
            key, list_allowed(allowed), lambda v: v if isinstance(v, str) and v in allowed else None
        )

    def whole(self, key: str, lowest: int, highest: int) -> int:
        """Return a whole number within limits."""
        return self.get(
            key,
            f"a whole number, {lowest} to {highest}",
            lambda v: v if type(v) is int and lowest <= v <= highest else None,
        )

    def number(self, key: str, lowest: float, highest: float, unit: str) -> float:
        """Return a number within limits."""
        return self.get(
            key,
            f"{lowest:g} to {highest:g}{unit}",
            lambda v: float(v) if _is_number(v) and lowest <= v <= highest else None,
        )

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts; without the key an empty one."""
        if key not in self.rows:
            return ()
        return self.get(
            key,
            "a list of texts",
            lambda v: (
                tuple(v) if isinstance(v, list) and all(isinstance(one, str) for one in v) else None
            ),
        )


def _is_number(value: Any) -> bool:
    return type(value) in (int, float) and math.isfinite(value)


def _came(value: Any) -> str:
    """Return a value as it stands in a message, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    text = value if isinstance(value, str) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
