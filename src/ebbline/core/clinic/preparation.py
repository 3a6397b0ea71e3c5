"""Preparation counted back from the appointment, and what the answers on the day say of it.

Weeks and days count on the calendar: the same time on the wall, so many days earlier, whatever a
change of the clocks did meanwhile. Hours count as they pass: 8 h of fasting are 8 h, also in the
night when the clocks change. The zone is that of the appointment.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Literal, get_args

from ebbline.core.clinic.dates_in_words import words_of_date, words_of_time
from ebbline.core.clinic.preparation_item import SERVICE, Item
from ebbline.core.clinic.preparation_table import PreparationTable
from ebbline.core.errors import FieldError, list_allowed

Word = Literal["yes", "no", "unknown"]
State = Literal["kept", "not kept", "unknown", "unanswered"]


@dataclass(frozen=True, slots=True)
class PlannedItem:
    """One item for one appointment.

    ``starts`` is from when it must be kept, ``earliest`` not before when it should begin; both are
    None where the row says so. ``asks`` and ``tells`` are filled with them.
    """

    item: Item
    appointment: datetime
    starts: datetime | None
    earliest: datetime | None
    asks: str | None
    tells: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What the patient said, and on which day or when it last was."""

    word: Word
    on: date | None


@dataclass(frozen=True, slots=True)
class JudgedItem:
    """How one item was kept, with the arithmetic in words."""

    id: str
    state: State
    words: str

    @property
    def needs_decision(self) -> bool:
        """Whether a named person must say why the test goes ahead all the same."""
        return self.state != "kept"


def plan_preparation(
    *,
    appointment: datetime,
    substrate: str,
    guidance: str,
    age_years: float | None,
    table: PreparationTable,
) -> tuple[PlannedItem, ...]:
    """Return what the patient is asked to do before one appointment, with real dates.

    Each item comes from the row of the guidance that fits the patient, or from the service's own
    row where the guidance has none.

    Parameters
    ----------
    appointment : datetime
        With its zone.
    substrate : str
        Id of the substrate.
    guidance : str
        Id of a rule set, or ``service``.
    age_years : float or None
        Age at the appointment; None where it is not known.
    table : PreparationTable
        Rows.

    Returns
    -------
    tuple of PlannedItem
        In the order of the rows.

    Raises
    ------
    FieldError
        If the appointment has no zone, the substrate or the guidance is not known, or an age that
        an item depends on is missing or cannot be.
    """
    if appointment.utcoffset() is None:
        raise FieldError(
            field="appointment",
            wrong="no time zone",
            allowed="a date and time with its zone",
            came=appointment.isoformat(),
        )
    _check_known("substrate", substrate, table.substrates)
    _check_known("guidance", guidance, table.guidances)
    if age_years is not None and not 0 <= age_years <= 150:
        raise FieldError(
            field="age_years",
            wrong="not an age",
            allowed="0 to 150",
            came=f"{age_years:g}",
        )
    rows = [row for row in table.items if substrate in row.substrates]
    chosen = (
        _choose([row for row in rows if row.id == name], guidance, age_years)
        for name in dict.fromkeys(row.id for row in rows)
    )
    return tuple(_plan(row, appointment) for row in chosen)


def judge_preparation(
    planned: tuple[PlannedItem, ...], answers: Mapping[str, Answer]
) -> tuple[JudgedItem, ...]:
    """Return how each item was kept; an unknown or missing answer never counts as kept.

    Where a date or time was given it is counted, and an item is kept only if the word and the
    arithmetic both say so.

    Parameters
    ----------
    planned : tuple of PlannedItem
        What was asked of the patient.
    answers : mapping
        Answer by id of the item.

    Returns
    -------
    tuple of JudgedItem
        One for each item that is asked about, in order; what is only told has none.

    Raises
    ------
    FieldError
        If an answer is to no item of the plan, is no answer, or carries a date or time that cannot
        be.
    """
    asked = tuple(one for one in planned if one.item.answer != "told")
    for name in answers:
        _check_known("preparation", name, tuple(one.item.id for one in asked))
    return tuple(_judge(one, answers.get(one.item.id)) for one in asked)


def _check_known(field: str, came: str, allowed: tuple[str, ...]) -> None:
    if came not in allowed:
        raise FieldError(field=field, wrong="not known", allowed=list_allowed(allowed), came=came)


def _choose(rows: list[Item], guidance: str, age_years: float | None) -> Item:
    """Return the row of one item for one patient; every age has a row of the service."""
    own = [row for row in rows if guidance in row.guidance]
    usable = own + [row for row in rows if SERVICE in row.guidance and row not in own]
    if age_years is None:
        if any(row.by_age for row in usable):
            raise FieldError(
                field="age_years",
                wrong=f"the age is missing, and {rows[0].id} depends on it",
                allowed="0 to 150",
                came="nothing",
            )
        return usable[0]
    return next(row for row in usable if row.fits_age(age_years))


def _plan(item: Item, appointment: datetime) -> PlannedItem:
    starts, earliest = _start(item, appointment)
    values = {
        "date": "" if starts is None else words_of_date(starts),
        "time": "" if starts is None else words_of_time(starts),
        "earliest_time": "" if earliest is None else words_of_time(earliest),
    }
    return PlannedItem(
        item=item,
        appointment=appointment,
        starts=starts,
        earliest=earliest,
        asks=None if item.asks is None else item.asks.format_map(values),
        tells=item.tells.format_map(values),
    )


def _start(item: Item, appointment: datetime) -> tuple[datetime | None, datetime | None]:
    before = item.before
    if before.unit == "on receipt":
        return None, None
    if before.unit == "hours":
        most = None if before.most is None else _hours_before(appointment, before.most)
        return _hours_before(appointment, before.least), most
    if before.unit == "on the day":
        midnight = appointment.replace(hour=0, minute=0, second=0, microsecond=0, fold=0)
        return _real(midnight), None
    return _real(appointment - timedelta(days=before.days)), None


def _hours_before(appointment: datetime, hours: float) -> datetime:
    """Return the time so many hours earlier, counted as they pass."""
    return (appointment.astimezone(UTC) - timedelta(hours=hours)).astimezone(appointment.tzinfo)


def _real(moment: datetime) -> datetime:
    """Move a time that the clocks skipped to the one they showed instead."""
    return moment.astimezone(UTC).astimezone(moment.tzinfo)


def _judge(one: PlannedItem, answer: Answer | None) -> JudgedItem:
    item = one.item
    if answer is None:
        return JudgedItem(item.id, "unanswered", "not answered")
    if answer.word not in get_args(Word):
        raise FieldError(
            field=item.id,
            wrong="not an answer",
            allowed=list_allowed(get_args(Word)),
            came=answer.word,
        )
    enough, counted = _count(one, answer.on)
    said = f"answered {answer.word}"
    if answer.word == "unknown":
        return JudgedItem(item.id, "unknown", said if counted is None else f"{counted}; {said}")
    kept = answer.word == item.kept_when
    if counted is None:
        if kept and item.answer == "time":
            return JudgedItem(item.id, "unknown", f"{said}; no time was given")
        return JudgedItem(item.id, "kept" if kept else "not kept", said)
    if kept != enough:
        # One of the two is wrong, and which is for a person to say.
        return JudgedItem(item.id, "not kept", f"{counted}; but {said}")
    return JudgedItem(item.id, "kept" if kept else "not kept", counted)


def _count(one: PlannedItem, on: date | None) -> tuple[bool, str | None]:
    """Return whether a date or time is long enough before, and the arithmetic; None without one."""
    if on is None:
        return False, None
    item = one.item
    if item.answer == "word":
        raise _wrong_on(item.id, "a date cannot be counted here", "an answer without one", on)
    if isinstance(on, datetime) and on.utcoffset() is None:
        raise _wrong_on(item.id, "no time zone", "a date, or a time with its zone", on)
    if item.answer == "date":
        return _count_days(one, on)
    if not isinstance(on, datetime):
        raise _wrong_on(item.id, "no time of day", "a date and time with its zone", on)
    return _count_hours(one, on)


def _count_days(one: PlannedItem, on: date) -> tuple[bool, str]:
    day = on.astimezone(one.appointment.tzinfo).date() if isinstance(on, datetime) else on
    days = (one.appointment.date() - day).days
    if days < 0:
        raise _wrong_on(one.item.id, "after the appointment", "a day before it", on)
    asked = one.item.before.days
    unit = "day" if days == 1 else "days"
    are = "is" if asked == 1 else "are"
    return days >= asked, (
        f"{one.item.last} {words_of_date(day)}, {days} {unit} before; {asked} {are} asked"
    )


def _count_hours(one: PlannedItem, on: datetime) -> tuple[bool, str]:
    passed = one.appointment.astimezone(UTC) - on.astimezone(UTC)
    if passed < timedelta(0):
        raise _wrong_on(one.item.id, "after the appointment", "a time before it", on)
    before = one.item.before
    hours = passed / timedelta(hours=1)
    whole, minutes = divmod(math.floor(passed / timedelta(minutes=1)), 60)
    asked = f"at least {before.least:g} h" if before.most is None else (
        f"{before.least:g} to {before.most:g} h"
    )  # fmt: skip
    local = on.astimezone(one.appointment.tzinfo)
    enough = before.least <= hours and (before.most is None or hours <= before.most)
    return enough, (
        f"{one.item.last} {words_of_time(local)}, {whole} h {minutes} min before; {asked} are asked"
    )


def _wrong_on(name: str, wrong: str, allowed: str, on: date) -> FieldError:
    return FieldError(field=name, wrong=wrong, allowed=allowed, came=on.isoformat())
