"""Ages, counted by birthdays; held against python-dateutil."""

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from ebbline.core.clinic.age import age_on
from ebbline.core.errors import FieldError


@pytest.mark.parametrize(
    ("born", "on", "years"),
    [
        (date(2017, 3, 2), date(2026, 11, 27), 9.73),  # 9 + 270/365
        (date(2008, 11, 28), date(2026, 11, 27), 17.99),  # the day before the birthday
        (date(2008, 11, 28), date(2026, 11, 28), 18.0),
        (date(2026, 11, 27), date(2026, 11, 27), 0.0),
        (date(2024, 2, 29), date(2025, 2, 28), 0.99),
        (date(2024, 2, 29), date(2025, 3, 1), 1.0),
        (date(2024, 2, 29), date(2028, 2, 29), 4.0),
        (date(1896, 1, 1), date(2026, 1, 1), 130.0),
    ],
)
def test_an_age_is_birthdays_and_a_share_rounded_down(born: date, on: date, years: float) -> None:
    """Worked out by hand."""
    assert age_on(born, on) == years


@given(st.dates(date(1930, 1, 1), date(2026, 1, 1)), st.integers(0, 30_000))
def test_whole_years_are_those_of_dateutil(born: date, days: int) -> None:
    """But for 29 February, where that library has the birthday on 28 February."""
    on = date.fromordinal(born.toordinal() + days)
    if (born.month, born.day) == (2, 29):
        return
    assert int(age_on(born, on)) == relativedelta(on, born).years


@given(st.dates(date(1930, 1, 1), date(2026, 1, 1)), st.integers(0, 30_000))
def test_nobody_grows_younger(born: date, days: int) -> None:
    """From one day to the next an age grows by a hundredth at most."""
    on = born.toordinal() + days
    today, tomorrow = (age_on(born, date.fromordinal(day)) for day in (on, on + 1))
    assert 0 <= tomorrow - today < 0.011


@pytest.mark.parametrize(
    ("born", "text"),
    [
        (
            date(2026, 11, 28),
            "born: not a date of birth; allowed: from 1896 to 2026-11-27; came: 2026-11-28",
        ),
        (
            date(1895, 1, 1),
            "born: not a date of birth; allowed: from 1896 to 2026-11-27; came: 1895-01-01",
        ),
    ],
)
def test_a_date_that_is_no_birth_date_is_refused(born: date, text: str) -> None:
    """In the future, or of nobody alive."""
    with pytest.raises(FieldError) as caught:
        age_on(born, date(2026, 11, 27))
    assert str(caught.value) == text
