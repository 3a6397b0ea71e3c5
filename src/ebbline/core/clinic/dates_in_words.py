"""Dates and times as a patient reads them, whatever the language of the machine."""

from datetime import date, datetime

_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def words_of_date(day: date) -> str:
    """Return a date as a patient reads it.

    Parameters
    ----------
    day : date
        Date, or date and time.

    Returns
    -------
    str
        Such as ``Friday 30 October``.
    """
    return f"{_DAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]}"


def words_of_time(moment: datetime) -> str:
    """Return a time as a patient reads it.

    Parameters
    ----------
    moment : datetime
        In the zone of the reader.

    Returns
    -------
    str
        Such as ``21:00 on Thursday 26 November``.
    """
    return f"{moment:%H:%M} on {words_of_date(moment)}"
