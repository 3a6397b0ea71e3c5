"""Entries written down as plain values and back, and the digest of one.

The digest covers all fields. Those that may tell who somebody is (see `Column.apart`) go into it
through a digest of their own that is salted, so that they can be erased: the salted digest stays
and the rest of the entry still verifies, but nobody can guess a name and try it.
"""

import hashlib
import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any, TypeVar

import rfc8785

from ebbline.core.clinic.record.entry import Column, Entry, columns_of
from ebbline.core.clinic.record.held import check_value
from ebbline.core.errors import FieldError

E = TypeVar("E", bound=Entry)

_MOMENT = "%Y-%m-%dT%H:%M:%S.%fZ"


def canonical(value: Any) -> str:
    """Return a value as canonical JSON: one text for one value, whatever the machine.

    Parameters
    ----------
    value : any
        None, bool, int, float, str, and lists and mappings of these.

    Returns
    -------
    str
        JSON by RFC 8785 (JSON Canonicalization Scheme).
    """
    return rfc8785.dumps(value).decode()


def write_moment(moment: datetime) -> str:
    """Return a moment in UTC to the microsecond, ``2026-11-27T08:30:00.000000Z``.

    Parameters
    ----------
    moment : datetime
        With its zone.

    Returns
    -------
    str

    Raises
    ------
    FieldError
        If it has no zone.
    """
    if moment.tzinfo is None:
        raise FieldError(
            field="moment",
            wrong="a clock time alone is not a moment",
            allowed="one with its zone",
            came=moment.isoformat(),
        )
    # Not by strftime, which pads early years differently from machine to machine.
    return moment.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def read_moment(text: str) -> datetime:
    """Return the moment that `write_moment` wrote.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    datetime
        In UTC.
    """
    return datetime.strptime(text, _MOMENT).replace(tzinfo=UTC)


def write_value(value: Any, column: Column) -> Any:
    """Return a field's value as it is written down: text, int, float, bool, bytes or None.

    Every value that is let through here comes back from each database as it went in.

    Parameters
    ----------
    value : any
        The value in the entry.
    column : Column
        Its column.

    Returns
    -------
    any

    Raises
    ------
    FieldError
        If the field cannot hold it.
    """
    check_value(value, column)
    if value is None:
        return None
    if column.form == "moment":
        return write_moment(value)
    if column.form == "day":
        return value.isoformat()
    if column.form == "list":
        return canonical(list(value))
    if column.form == "map":
        return canonical(dict(value))
    if column.form == "number":
        return float(value)
    return value


def read_value(value: Any, column: Column) -> Any:
    """Return a field's value from what `write_value` wrote.

    Parameters
    ----------
    value : any
        As it is written down.
    column : Column
        Its column.

    Returns
    -------
    any
    """
    if value is None:
        return _ERASED.get(column.form) if column.apart and not column.optional else None
    if column.form == "moment":
        return read_moment(value)
    if column.form == "day":
        return date.fromisoformat(value)
    if column.form == "list":
        return tuple(json.loads(value, parse_int=_read_number))
    if column.form == "map":
        return json.loads(value, parse_int=_read_number)
    if column.form == "yes-no":
        return bool(value)
    if column.form == "bytes":
        return bytes(value)
    return value


_ERASED: dict[str, Any] = {"text": "", "bytes": b"", "map": {}, "list": ()}
"""What an erased field that had to have a value reads as."""


def write_entry(entry: Entry) -> dict[str, Any]:
    """Return an entry as plain values by column.

    Parameters
    ----------
    entry : Entry
        The entry.

    Returns
    -------
    dict
    """
    return {
        column.name: write_value(getattr(entry, column.name), column)
        for column in columns_of(type(entry))
    }


def read_entry(kind: type[E], row: Mapping[str, Any]) -> E:
    """Return the entry that a row of plain values holds.

    Parameters
    ----------
    kind : type of Entry
        Its kind.
    row : mapping
        At least the columns of the kind.

    Returns
    -------
    Entry
    """
    return kind(
        **{column.name: read_value(row[column.name], column) for column in columns_of(kind)}
    )


def digest_apart(kind: type[Entry], row: Mapping[str, Any], salt: str) -> str | None:
    """Return the salted digest of the fields that may tell who somebody is.

    Parameters
    ----------
    kind : type of Entry
        The kind.
    row : mapping
        The entry as plain values.
    salt : str
        Random text that is erased together with the fields.

    Returns
    -------
    str or None
        SHA-256 in hexadecimal; None for a kind without such fields.
    """
    apart = {c.name: _hashable(row[c.name]) for c in columns_of(kind) if c.apart}
    if not apart:
        return None
    return sha256(canonical({"apart": apart, "salt": salt}))


def digest_row(kind: type[Entry], row: Mapping[str, Any], apart_digest: str | None) -> str:
    """Return the digest of an entry.

    Parameters
    ----------
    kind : type of Entry
        The kind.
    row : mapping
        The entry as plain values; fields held apart are not read.
    apart_digest : str or None
        From `digest_apart`.

    Returns
    -------
    str
        SHA-256 in hexadecimal.
    """
    plain = {c.name: _hashable(row[c.name]) for c in columns_of(kind) if not c.apart}
    return sha256(canonical({"apart": apart_digest, "plain": plain}))


def sha256(content: str | bytes) -> str:
    """Return the SHA-256 of a text in UTF-8, or of bytes, in hexadecimal.

    Parameters
    ----------
    content : str or bytes
        The content.

    Returns
    -------
    str
    """
    return hashlib.sha256(content.encode() if isinstance(content, str) else content).hexdigest()


def _read_number(digits: str) -> int | float:
    """Read digits without point or exponent: a large float is written so too (RFC 8785)."""
    whole = int(digits)
    return whole if abs(whole) < 2**53 else float(digits)


def _hashable(value: Any) -> Any:
    return sha256(bytes(value)) if isinstance(value, bytes | memoryview) else value
