"""Dates of a preparation against general-purpose libraries for dates and zones.

Calendar steps are those of dateutil.relativedelta, with times that the clocks skipped moved by
dateutil.tz.resolve_imaginary; hours are counted in UTC. Zones are those of the IANA database.
"""

import random
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.relativedelta import relativedelta
from dateutil.tz import resolve_imaginary

from ebbline.core.clinic.preparation import Answer, PlannedItem, judge_preparation, plan_preparation
from tests.core.clinic.prepared_rows import PREPARATION

ZONES = (
    "Europe/London", "America/New_York", "Australia/Lord_Howe", "America/Sao_Paulo", "Asia/Kolkata",
    "Asia/Beirut", "Pacific/Chatham", "Africa/Casablanca", "UTC",
)  # fmt: skip


def plan_at(appointment: datetime, guidance: str) -> tuple[PlannedItem, ...]:
    """Return the plan of one adult."""
    return plan_preparation(
        appointment=appointment,
        substrate="lactose",
        guidance=guidance,
        age_years=40.0,
        table=PREPARATION,
    )


def random_appointments(count: int) -> list[datetime]:
    """Return appointments in 1995 to 2039 at every time of the day, each existing on the clocks."""
    draw = random.Random(20261127)
    found = []
    for _ in range(count):
        zone = ZoneInfo(draw.choice(ZONES))
        minutes = draw.randrange(45 * 365 * 24 * 60)
        found.append(
            (datetime(1995, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes)).astimezone(zone)
        )
    return found


def near_changes() -> list[datetime]:
    """Return appointments every 3 h for 30 days around both changes of 2026, and a leap day."""
    starts = [
        datetime(2026, 3, 25, 9, 0, tzinfo=ZoneInfo("Europe/London")),
        datetime(2026, 10, 24, 9, 0, tzinfo=ZoneInfo("Europe/London")),
        datetime(2026, 3, 7, 8, 30, tzinfo=ZoneInfo("America/New_York")),
        datetime(2026, 10, 31, 8, 30, tzinfo=ZoneInfo("America/New_York")),
        datetime(2028, 2, 28, 8, 30, tzinfo=ZoneInfo("Europe/London")),
    ]
    return [
        (start.astimezone(UTC) + timedelta(hours=3 * step)).astimezone(start.tzinfo)
        for start in starts
        for step in range(240)
    ]


def in_utc(moment: datetime | None) -> datetime | None:
    """Return the same moment in UTC."""
    return None if moment is None else moment.astimezone(UTC)


def expected(one: PlannedItem) -> tuple[datetime | None, datetime | None]:
    """Return the same by the libraries."""
    at, before = one.appointment, one.item.before
    if before.unit == "on receipt":
        return None, None
    if before.unit == "hours":
        utc = at.astimezone(UTC)
        most = before.most
        return utc - relativedelta(minutes=round(60 * before.least)), (
            None if most is None else utc - relativedelta(minutes=round(60 * most))
        )
    if before.unit == "on the day":
        midnight = at.replace(fold=0) + relativedelta(hour=0, minute=0, second=0, microsecond=0)
        return resolve_imaginary(midnight), None
    step = relativedelta(weeks=int(before.least))
    if before.unit == "days":
        step = relativedelta(days=int(before.least))
    return resolve_imaginary(at - step), None


@pytest.mark.parametrize("guidance", ["north-american-2017", "european-2022", "service"])
def test_every_start_is_that_of_the_libraries(guidance: str) -> None:
    """1500 random appointments and 1200 near changes of the clocks and a leap day."""
    appointments = random_appointments(1500) + near_changes()
    for appointment in appointments:
        for one in plan_at(appointment, guidance):
            # In UTC, since a time that the clocks show twice equals none of another zone.
            found = (in_utc(one.starts), in_utc(one.earliest))
            starts, earliest = expected(one)
            assert found == (in_utc(starts), in_utc(earliest)), (appointment, one.item.id)
            if one.starts is not None:
                assert one.starts.tzinfo is appointment.tzinfo


def test_weeks_keep_the_time_on_the_wall_across_both_changes() -> None:
    """Source: changes of 2026 in the IANA database, 29 March and 25 October in London."""
    zone = ZoneInfo("Europe/London")
    for at, start in (
        (datetime(2026, 4, 10, 9, 0, tzinfo=zone), datetime(2026, 3, 13, 9, 0, tzinfo=zone)),
        (datetime(2026, 11, 6, 9, 0, tzinfo=zone), datetime(2026, 10, 9, 9, 0, tzinfo=zone)),
    ):
        (one,) = [one for one in plan_at(at, "service") if one.item.id == "antibiotics"]
        assert one.starts is not None
        assert one.starts.replace(tzinfo=None) == start.replace(tzinfo=None)
        assert abs(at.astimezone(UTC) - one.starts.astimezone(UTC) - timedelta(weeks=4)) == (
            timedelta(hours=1)
        )


@pytest.mark.parametrize(
    ("day", "hours_least", "hours_most"),
    [
        # Clocks go forward at 1:00: eight hours before 9:00 summer time is midnight.
        (date(2026, 3, 29), datetime(2026, 3, 29, 0, 0), datetime(2026, 3, 28, 20, 0)),  # noqa: DTZ001
        # Clocks go back from 2:00 to 1:00: it is the second 1:00, and 22:00 of summer time.
        (date(2026, 10, 25), datetime(2026, 10, 25, 1, 0), datetime(2026, 10, 24, 22, 0)),  # noqa: DTZ001
        (date(2026, 7, 1), datetime(2026, 7, 1, 1, 0), datetime(2026, 6, 30, 21, 0)),  # noqa: DTZ001
    ],
)
def test_a_fast_is_as_long_in_the_night_of_a_change(
    day: date, hours_least: datetime, hours_most: datetime
) -> None:
    """8 and 12 hours as they pass, by hand, for an appointment at 9:00 in London."""
    at = datetime(day.year, day.month, day.day, 9, 0, tzinfo=ZoneInfo("Europe/London"))
    (one,) = [one for one in plan_at(at, "north-american-2017") if one.item.id == "fast"]
    assert one.starts is not None
    assert one.earliest is not None
    assert one.starts.replace(tzinfo=None, fold=0) == hours_least
    assert one.earliest.replace(tzinfo=None) == hours_most
    assert at.astimezone(UTC) - one.starts.astimezone(UTC) == timedelta(hours=8)
    assert at.astimezone(UTC) - one.earliest.astimezone(UTC) == timedelta(hours=12)


def test_days_between_two_dates_are_those_of_the_calendar() -> None:
    """400 random pairs: 28 days and more keep the item; ordinals count the days."""
    draw = random.Random(7)
    for appointment in random_appointments(400):
        back = draw.randrange(60)
        last = appointment.date() - relativedelta(days=back)
        answer = Answer("no" if back >= 28 else "yes", last)
        found = judge_preparation(plan_at(appointment, "service"), {"antibiotics": answer})
        (one,) = [one for one in found if one.id == "antibiotics"]
        assert one.state == ("kept" if back >= 28 else "not kept")
        days = appointment.date().toordinal() - last.toordinal()
        unit = "day" if days == 1 else "days"
        assert one.words.endswith(f", {days} {unit} before; 28 are asked")


def test_a_leap_day_counts() -> None:
    """28 days before 28 March: 29 February in 2028, 28 February in 2027."""
    zone = ZoneInfo("Europe/London")
    for year, start in ((2028, date(2028, 2, 29)), (2027, date(2027, 2, 28))):
        at = datetime(year, 3, 28, 9, 0, tzinfo=zone)
        (one,) = [one for one in plan_at(at, "service") if one.item.id == "antibiotics"]
        assert one.starts is not None
        assert one.starts.date() == start
