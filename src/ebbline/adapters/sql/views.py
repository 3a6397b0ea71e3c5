"""Screens read from the record in plain SQL, past the entries."""

from datetime import datetime

from sqlalchemy import String, cast, func, select

from ebbline.adapters.sql.look import SqlLook, standing
from ebbline.core.clinic.record.written import read_moment, write_moment
from ebbline.services.clinic.ports import DayRow, Look

_BETWEEN = " "


def day_rows(look: Look, *, begin: datetime, end: datetime) -> tuple[DayRow, ...]:
    """Return the tests of a day by slot and chair, in one query.

    Parameters
    ----------
    look : Look
        The record.
    begin, end : datetime
        From when, and before when, the slot is.

    Returns
    -------
    tuple of DayRow
    """
    assert isinstance(look, SqlLook)
    booking = standing("booking").subquery("booking")
    test = standing("test").subquery("test")
    identity = standing("identity").subquery("identity")
    sample = standing("sample_try").subquery("sample")
    minutes = func.aggregate_strings(cast(sample.c.planned_minute, String), _BETWEEN)
    # Asked for each test of the day: grouping all samples first would read the whole record.
    done = (
        select(minutes)
        .where(
            sample.c.test_id == test.c.id,
            sample.c.status.in_(("ok", "missed")),
            sample.c.planned_minute.is_not(None),
        )
        .scalar_subquery()
    )
    query = (
        select(
            test.c.id,
            test.c.number,
            booking.c.slot,
            booking.c.chair,
            test.c.state,
            test.c.substrate,
            func.coalesce(identity.c.given_name, "").label("given_name"),
            func.coalesce(identity.c.family_name, "").label("family_name"),
            func.coalesce(done, "").label("minutes"),
        )
        .select_from(booking)
        .join(test, test.c.id == booking.c.test_id)
        .join(identity, identity.c.patient_id == test.c.patient_id)
        .where(booking.c.slot >= write_moment(begin), booking.c.slot < write_moment(end))
        .order_by(booking.c.slot, booking.c.chair, test.c.number)
    )
    return tuple(
        DayRow(
            test_id=row["id"],
            number=row["number"],
            slot=read_moment(row["slot"]),
            chair=row["chair"],
            state=row["state"],
            substrate=row["substrate"],
            given_name=row["given_name"],
            family_name=row["family_name"],
            done_minutes=tuple(
                float(minute) for minute in row["minutes"].split(_BETWEEN) if minute
            ),
        )
        for row in look.connection.execute(query).mappings()
    )
