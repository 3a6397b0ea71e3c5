"""Which values a field of the record can hold: those that every database gives back as they were.

Databases differ in what they take: one refuses a NUL character in a text and the other keeps it,
one takes a text for a number and the other does not. What is let through here is the same in each.
"""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

import rfc8785

from ebbline.core.clinic.record.entry import Column, Form
from ebbline.core.errors import FieldError

_ALLOWED: dict[Form, str] = {
    "text": "text without NUL characters and without half surrogate pairs",
    "whole": "a whole number from -2147483647 to 2147483647",
    "number": "a finite number that a float holds",
    "yes-no": "True or False",
    "day": "a day",
    "moment": "a moment with its zone, after the year 1 and before 9999",
    "list": "a list of JSON values (RFC 8785)",
    "map": "a mapping of text to JSON values (RFC 8785)",
    "bytes": "bytes",
}


def check_text(text: str, *, field: str, at_most: int | None = None) -> str:
    """Return a text that every database can keep; refuse any other.

    Parameters
    ----------
    text : str
        The text.
    field : str
        What it is, for the error.
    at_most : int or None
        Most characters; None for any number.

    Returns
    -------
    str

    Raises
    ------
    FieldError
        If it holds a NUL character or half a surrogate pair, or is too long.
    """
    if not _fits(text, "text"):
        raise _refused(field, _ALLOWED["text"], text)
    if at_most is not None and len(text) > at_most:
        raise _refused(field, f"at most {at_most} characters", text)
    return text


def check_value(value: Any, column: Column) -> None:
    """Refuse a value that a field cannot hold.

    Parameters
    ----------
    value : any
        The value in the entry.
    column : Column
        Its column.

    Raises
    ------
    FieldError
        It names the field, and says what it holds.
    """
    if value is None and column.optional:
        return
    if not _fits(value, column.form):
        raise _refused(column.name, _ALLOWED[column.form], value)


def _fits(value: Any, form: Form) -> bool:
    """Whether a field of a form holds a value, and gives it back as it is."""
    # By their very type where a subtype would come back as something else: True as 1.
    match form:
        case "text":
            return isinstance(value, str) and "\0" not in value and _is_json(value)
        case "whole":
            return type(value) is int and abs(value) < 2**31
        case "number":
            # Not so for NaN; an int may be too large for a float.
            within = isinstance(value, int | float) and abs(value) <= 1.7976931348623157e308
            # Written as a float: a whole number that has none would come back as another.
            return within and not isinstance(value, bool) and float(value) == value
        case "yes-no":
            return type(value) is bool
        case "day":
            return type(value) is date
        case "moment":
            return isinstance(value, datetime) and bool(value.tzinfo) and 1 < value.year < 9999
        case "list":
            return isinstance(value, tuple | list) and _is_json(list(value))
        case "map":
            return isinstance(value, Mapping) and _is_json(dict(value))
        case "bytes":
            return isinstance(value, bytes)


def _is_json(value: Any) -> bool:
    try:
        rfc8785.dumps(value)
    except ValueError:
        return False
    return True


def _refused(field: str, allowed: str, came: object) -> FieldError:
    return FieldError(
        field=field,
        wrong="this cannot be kept in the record",
        allowed=allowed,
        came=f"{came!r:.80}" if came is not None else "nothing",
    )
