"""The tests of a day by their slots: who sits where, where each test stands, and what is due."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from ebbline.core.clinic.record.visit import Test
from ebbline.core.curve.protocol import Protocol
from ebbline.services.clinic.bench.minutes import clock_of
from ebbline.services.clinic.bench.place_sample import protocol_of
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import DayRow, DayRows, Look

SAMPLING = "sampling"


@dataclass(frozen=True, slots=True)
class DayLine:
    """One test of the day, without a name.

    Parameters
    ----------
    test_id : str
        The test.
    number : int
        Its number.
    slot : datetime
        Start of the appointment, in the clinic's zone.
    chair : str
        Chair or room.
    initials : str
        Of the patient, such as ``B. S.``; empty where the identity was erased.
    substrate, state : str
        What is drunk, and where the test stands.
    minute : float or None
        Minutes from T0 now; None unless samples are taken.
    due_minute : float or None
        Planned minute of the next sample; None unless one is to come.
    due_in_min : float or None
        How long until then, min; negative where it is overdue.
    """

    test_id: str
    number: int
    slot: datetime
    chair: str
    initials: str
    substrate: str
    state: str
    minute: float | None
    due_minute: float | None
    due_in_min: float | None


def day_list(
    clinic: Clinic, who: Actor, *, day: date, now: datetime, rows: DayRows
) -> tuple[DayLine, ...]:
    """Return the tests of a day.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who asks.
    day : date
        A day in the clinic's zone.
    now : datetime
        The time, with its zone.
    rows : DayRows
        Reads them from the record.

    Returns
    -------
    tuple of DayLine
        By slot, then chair.
    """
    begin = datetime.combine(day, time(0), tzinfo=clinic.zone)
    end = datetime.combine(day + timedelta(days=1), time(0), tzinfo=clinic.zone)
    with clinic.look(who) as look:
        return tuple(_line(clinic, look, row, now) for row in rows(look, begin=begin, end=end))


def _line(clinic: Clinic, look: Look, row: DayRow, now: datetime) -> DayLine:
    minute = due = None
    if row.state == SAMPLING:
        test = look.get(Test, row.test_id).entry
        minute = clock_of(look, test).minute(now, seq=None)
        due = _next(protocol_of(clinic, look, test), row.done_minutes)
    return DayLine(
        test_id=row.test_id,
        number=row.number,
        slot=row.slot.astimezone(clinic.zone),
        chair=row.chair,
        initials=" ".join(f"{name[0]}." for name in (row.given_name, row.family_name) if name),
        substrate=row.substrate,
        state=row.state,
        minute=minute,
        due_minute=due,
        due_in_min=None if due is None or minute is None else due - minute,
    )


def _next(protocol: Protocol, done: tuple[float, ...]) -> float | None:
    return next((minute for minute in sorted(protocol.minutes) if minute not in done), None)
