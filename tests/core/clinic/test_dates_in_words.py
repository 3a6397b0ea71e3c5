from datetime import date, datetime
from zoneinfo import ZoneInfo

from ebbline.core.clinic.dates_in_words import words_of_date, words_of_time

LONDON = ZoneInfo("Europe/London")


def test_dates_and_times_read_as_a_patient_says_them() -> None:
    """Days and months are our own words, so no locale of the machine can change them."""
    assert words_of_date(date(2024, 2, 29)) == "Thursday 29 February"
    assert words_of_time(datetime(2026, 11, 26, 21, 5, tzinfo=LONDON)) == (
        "21:05 on Thursday 26 November"
    )


def test_every_day_and_month_has_its_name() -> None:
    """Against the C locale of strftime, for each day of a leap year."""
    for ordinal in range(date(2024, 1, 1).toordinal(), date(2025, 1, 1).toordinal()):
        day = date.fromordinal(ordinal)
        assert words_of_date(day) == f"{day:%A} {day.day} {day:%B}"
