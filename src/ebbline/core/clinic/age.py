"""Age in years, from the date of birth to a day."""

import math
from datetime import date

from ebbline.core.errors import FieldError

OLDEST_YEARS = 130
"""Nobody older is taken for real: common practice, no source."""


def age_on(born: date, on: date) -> float:
    """Return the age on a day, in years and hundredths, rounded down.

    Whole years are birthdays passed; the rest is the share of the way to the next birthday. Who was
    born on 29 February has the birthday on 1 March in other years. Rounding down never makes a
    child an adult a day too early.

    Parameters
    ----------
    born : date
        Date of birth.
    on : date
        The day.

    Returns
    -------
    float
        Years.

    Raises
    ------
    FieldError
        If the day lies before the birth, or too long after it.
    """
    if not 0 <= on.year - born.year <= OLDEST_YEARS or born > on:
        raise FieldError(
            field="born",
            wrong="not a date of birth",
            allowed=f"from {on.year - OLDEST_YEARS} to {on.isoformat()}",
            came=born.isoformat(),
        )
    years = on.year - born.year
    if _birthday(born, on.year) > on:
        years -= 1
    last, following = (_birthday(born, born.year + years + more) for more in (0, 1))
    share = (on - last).days / (following - last).days
    return math.floor((years + share) * 100) / 100


def _birthday(born: date, year: int) -> date:
    if (born.month, born.day) == (2, 29) and not _leap(year):
        return date(year, 3, 1)
    return born.replace(year=year)


def _leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
