"""Entries of every kind with any values that the record takes, and none that means anything."""

import typing
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any, Literal

from hypothesis import strategies as st

from ebbline.core.clinic.record.entry import Column, Entry, Form, columns_of
from ebbline.core.clinic.record.kinds import KINDS

# Any character but NUL and halves of surrogate pairs, which the record refuses.
_TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
_NUMBERS = (
    st.floats(allow_nan=False, allow_infinity=False)
    | st.integers(-(2**53), 2**53)
    # Where databases and JSON go wrong: signed zero, whole floats, the smallest and the largest.
    | st.sampled_from([-0.0, 5.0, 5e-324, 1e-320, 2.2250738585072014e-308, 1e16, 1e21, 1e22])
    | st.sampled_from([0.1, 1e23, 9007199254740993.0, 1.7976931348623157e308])
)
_ZONES = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
_JSON: st.SearchStrategy[Any] = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | _TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_TEXTS, inner, max_size=3),
    max_leaves=5,
)
# The zone is drawn; these are bounds.
_FIRST = datetime(2, 1, 1, tzinfo=UTC).replace(tzinfo=None)
_LAST = datetime(9998, 12, 31, tzinfo=UTC).replace(tzinfo=None)
_VALUES: Mapping[Form, st.SearchStrategy[Any]] = {
    "text": _TEXTS,
    "whole": st.integers(-(2**31) + 1, 2**31 - 1),
    "number": _NUMBERS,
    "yes-no": st.booleans(),
    "day": st.dates(),
    "moment": st.datetimes(_FIRST, _LAST, timezones=_ZONES),
    "list": st.lists(_JSON, max_size=3).map(tuple),
    "map": st.dictionaries(_TEXTS, _JSON, max_size=3),
    "bytes": st.binary(max_size=40),
}


_PLAIN: Mapping[Form, Any] = {
    "text": "invented",
    "whole": 3,
    "number": 12.5,
    "yes-no": True,
    "day": date(2026, 11, 27),
    "moment": datetime(2026, 11, 27, 8, 30, tzinfo=UTC),
    "list": ("one", 2),
    "map": {"one": 2.5},
    "bytes": b"invented",
}


def entries(kind: type[Entry], *, there: str) -> st.SearchStrategy[Entry]:
    """Entries of a kind; each id that they hold, their own too, is the one that is there."""
    hints = typing.get_type_hints(kind)
    return st.builds(
        kind, **{one.name: _values(one, hints[one.name], there) for one in columns_of(kind)}
    )


def one_of_each(*, there: str) -> st.SearchStrategy[tuple[Entry, ...]]:
    """One entry of every kind."""
    return st.tuples(*(entries(kind, there=there) for kind in KINDS.values()))


def plain(kind: type[Entry], entry_id: str, *, there: str) -> Entry:
    """An entry of a kind in which no field is empty."""
    hints = typing.get_type_hints(kind)
    values: dict[str, Any] = {}
    for one in columns_of(kind):
        if typing.get_origin(hints[one.name]) is Literal:
            values[one.name] = typing.get_args(hints[one.name])[0]
        elif one.refers is not None:
            values[one.name] = there
        else:
            values[one.name] = _PLAIN[one.form]
    return kind(**{**values, "id": entry_id})


def in_utc(entry: Entry) -> Entry:
    """The same entry with its moments in UTC, as they are read back."""
    moments: dict[str, Any] = {
        one.name: value.astimezone(UTC)
        for one in columns_of(type(entry))
        if isinstance(value := getattr(entry, one.name), datetime)
    }
    return replace(entry, **moments)


def _values(column: Column, hint: Any, there: str) -> st.SearchStrategy[Any]:
    if column.name == "id" or column.refers is not None:
        values: st.SearchStrategy[Any] = st.just(there)
    elif typing.get_origin(hint) is Literal:
        values = st.sampled_from(typing.get_args(hint))
    else:
        values = _VALUES[column.form]
    return st.none() | values if column.optional else values
