"""Checks of single values that a person entered: words, choices and moments."""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TypeVar

from ebbline.core.errors import FieldError, list_allowed

Choice = TypeVar("Choice", bound=str)


def words(field: str, value: str, *, allowed: str) -> str:
    """Return a text without blanks around it, or refuse one that says nothing.

    Parameters
    ----------
    field : str
        The field.
    value : str
        What was entered.
    allowed : str
        What is asked for, for the refusal.

    Returns
    -------
    str

    Raises
    ------
    FieldError
        If it is blank.
    """
    if not value.strip():
        raise FieldError(field=field, wrong="missing", allowed=allowed, came="nothing")
    return value.strip()


def reason(value: str) -> str:
    """Return the reason of an act, or refuse a blank one.

    Parameters
    ----------
    value : str
        What was entered.

    Returns
    -------
    str

    Raises
    ------
    FieldError
        If it is blank.
    """
    return words("why", value, allowed="a reason in words")


def choice(field: str, value: str, choices: Sequence[Choice]) -> Choice:
    """Return one of the texts that a field may be, or refuse another.

    Parameters
    ----------
    field : str
        The field.
    value : str
        What was entered.
    choices : sequence of str
        What it may be.

    Returns
    -------
    str

    Raises
    ------
    FieldError
        If it is none of them.
    """
    for one in choices:
        if one == value:
            return one
    raise FieldError(
        field=field,
        wrong="not one of the choices",
        allowed=list_allowed(choices),
        came=value or "nothing",
    )


def moment(field: str, value: datetime) -> datetime:
    """Return a moment in UTC, or refuse a clock time that names no zone.

    Parameters
    ----------
    field : str
        The field.
    value : datetime
        What was entered.

    Returns
    -------
    datetime

    Raises
    ------
    FieldError
        If it has no zone.
    """
    if value.utcoffset() is None:
        raise FieldError(
            field=field,
            wrong="no time zone",
            allowed="a date and time with its zone",
            came=value.isoformat(),
        )
    return value.astimezone(UTC)


def between(field: str, value: datetime, *, earliest: datetime, latest: datetime) -> datetime:
    """Return a moment that lies between two others, or refuse it.

    Parameters
    ----------
    field : str
        The field.
    value : datetime
        What was entered, with its zone.
    earliest, latest : datetime
        The limits; each of them is still allowed.

    Returns
    -------
    datetime
        In UTC.

    Raises
    ------
    FieldError
        If it has no zone, or lies outside.
    """
    at = moment(field, value)
    if not earliest <= at <= latest:
        raise FieldError(
            field=field,
            wrong="too early" if at < earliest else "too late",
            allowed=f"{_read(earliest)} to {_read(latest)}",
            came=_read(at),
        )
    return at


def _read(at: datetime) -> str:
    return f"{at.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
