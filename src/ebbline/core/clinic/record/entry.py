"""How a kind of entry is declared: its fields, what each means, and which hold identity.

An entry is an immutable value. A change is a new version of it under the same id, so nothing that
was recorded is ever overwritten. One declaration here makes the table, the data dictionary, the
export and the digest of an entry.
"""

import dataclasses
import types
import typing
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Generic, Literal, TypeVar

from ebbline.core.errors import RecordError

Form = Literal["text", "whole", "number", "yes-no", "day", "moment", "list", "map", "bytes"]
"""How a field is written down; docs/reference/record.md explains each."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that was recorded. ``id`` is unique in the whole record."""

    id: str


E = TypeVar("E", bound=Entry)


def field(says: str, *, apart: bool = False, refers: str | None = None) -> Any:
    """Declare a field of an entry.

    Parameters
    ----------
    says : str
        What it holds, for the data dictionary.
    apart : bool
        Whether it may tell who somebody is: then it can be erased by itself, and the rest of the
        entry still verifies.
    refers : str or None
        Name of the kind of entry whose id it holds.

    Returns
    -------
    dataclasses.Field
    """
    return dataclasses.field(metadata={"says": says, "apart": apart, "refers": refers})


@dataclass(frozen=True, slots=True)
class Column:
    """One field as it is written down."""

    name: str
    form: Form
    optional: bool
    says: str
    apart: bool
    refers: str | None


@dataclass(frozen=True, slots=True)
class Kept(Generic[E]):
    """An entry as it stands in the record: which version, and the act that wrote it."""

    entry: E
    version: int
    seq: int


def columns_of(kind: type[Entry]) -> tuple[Column, ...]:
    """Return the columns of a kind of entry, the id first.

    Parameters
    ----------
    kind : type of Entry
        The kind.

    Returns
    -------
    tuple of Column

    Raises
    ------
    RecordError
        If a field has a type that cannot be written down.
    """
    if kind in _COLUMNS:
        return _COLUMNS[kind]
    hints = typing.get_type_hints(kind)
    columns = []
    for one in dataclasses.fields(kind):
        form, optional = _form(hints[one.name])
        told = one.metadata
        columns.append(
            Column(
                name=one.name,
                form=form,
                optional=optional,
                says=told.get("says", "unique id"),
                apart=told.get("apart", False),
                refers=told.get("refers"),
            )
        )
    _COLUMNS[kind] = tuple(columns)
    return _COLUMNS[kind]


# Worked out once for each kind: the same types always have the same columns.
_COLUMNS: dict[type[Entry], tuple[Column, ...]] = {}


def kind_name(kind: type[Entry]) -> str:
    """Return the name of a kind as tables and files use it: ``SampleTry`` is ``sample_try``.

    Parameters
    ----------
    kind : type of Entry
        The kind.

    Returns
    -------
    str
    """
    letters = [f"_{c.lower()}" if c.isupper() else c for c in kind.__name__]
    return "".join(letters).lstrip("_")


_FORMS: dict[Any, Form] = {
    str: "text",
    int: "whole",
    float: "number",
    bool: "yes-no",
    datetime: "moment",
    date: "day",
    bytes: "bytes",
}


def _form(hint: Any) -> tuple[Form, bool]:
    """Return how a type is written down, and whether it may be missing."""
    options = [one for one in typing.get_args(hint) if one is not type(None)]
    if isinstance(hint, types.UnionType) or typing.get_origin(hint) is typing.Union:
        if len(options) == 1:
            return _form(options[0])[0], True
        raise _unknown(hint)
    origin = typing.get_origin(hint)
    if origin is Literal:
        return "text", False
    if origin is tuple:
        return "list", False
    if origin is not None and issubclass(origin, typing.Mapping):
        return "map", False
    if hint in _FORMS:
        return _FORMS[hint], False
    raise _unknown(hint)


def _unknown(hint: Any) -> RecordError:
    return RecordError(
        "entry: a field has a type that cannot be written down; allowed: those of Form, and None "
        f"beside one; came: {hint}"
    )
