from datetime import datetime

import pytest

from ebbline.core.clinic.preparation import plan_preparation
from ebbline.core.errors import FieldError
from tests.core.clinic.prepared_rows import (
    AT,
    CONSENSUS,
    GUIDANCES,
    LONDON,
    PREPARATION,
    item_of,
    planned,
    preparation_of,
    rows_of,
)


def test_weeks_are_counted_back_on_the_calendar() -> None:
    """Four weeks before 9:00 on Friday 27 November is 9:00 on Friday 30 October."""
    one = item_of(planned(), "antibiotics")
    assert one.starts == datetime(2026, 10, 30, 9, 0, tzinfo=LONDON)
    assert one.earliest is None
    assert one.asks == "Have you had an antibiotic since Friday 30 October?"
    assert one.tells.startswith("From Friday 30 October: no antibiotics.")


def test_a_fast_has_a_latest_and_an_earliest_start() -> None:
    """8 to 12 h before 9:00: from 21:00 the evening before to 1:00."""
    one = item_of(planned(), "fast")
    assert one.starts == datetime(2026, 11, 27, 1, 0, tzinfo=LONDON)
    assert one.earliest == datetime(2026, 11, 26, 21, 0, tzinfo=LONDON)
    assert "after 21:00 on Thursday 26 November" in one.tells
    assert "by 01:00 on Friday 27 November" in one.tells


def test_the_day_of_the_test_begins_at_midnight() -> None:
    """No smoking from 0:00 in the zone of the appointment."""
    assert item_of(planned(), "smoking").starts == datetime(2026, 11, 27, tzinfo=LONDON)


def test_what_is_to_be_done_at_once_has_no_time() -> None:
    """It stands on the sheet and is not counted."""
    one = item_of(planned(), "diabetes")
    assert (one.starts, one.earliest, one.asks) == (None, None, None)


@pytest.mark.parametrize(
    ("guidance", "weeks"), [("european-2022", 2), ("service", 4), (CONSENSUS, 4)]
)
def test_the_guidance_decides_and_the_service_fills_what_it_leaves_out(
    guidance: str, weeks: float
) -> None:
    """Bowel cleansing: 2 weeks by the European report, 4 by the service where no rule speaks."""
    one = item_of(planned(guidance=guidance), "bowel-cleansing")
    assert one.item.before.least == weeks
    assert (guidance in one.item.guidance) == (guidance != CONSENSUS)


@pytest.mark.parametrize(
    ("age", "hours"), [(0.5, (4, 6)), (1, (6, 12)), (15.9, (6, 12)), (16, (8, 12)), (80, (8, 12))]
)
def test_the_fast_follows_the_age(age: float, hours: tuple[float, float]) -> None:
    """The consensus speaks of no children, so the service's rows do."""
    before = item_of(planned(age=age), "fast").item.before
    assert (before.least, before.most) == hours


def test_every_item_is_planned_once_for_every_patient() -> None:
    """No guidance, substrate or age leaves an item out."""
    names = list(dict.fromkeys(row.id for row in PREPARATION.items))
    for guidance in (*GUIDANCES, "service"):
        for substrate in PREPARATION.substrates:
            for age in (0.0, 0.99, 1.0, 7.0, 16.0, 99.0):
                plan = planned(substrate=substrate, guidance=guidance, age=age)
                assert [one.item.id for one in plan] == names


def test_a_row_for_one_substrate_is_left_out_for_another() -> None:
    """Only the shipped rows are for all."""
    rows = rows_of("preparation")
    rows["item"] = [{**rows["item"][0], "substrates": ["glucose"]}]
    table = preparation_of(rows)
    for substrate, count in (("glucose", 1), ("lactose", 0)):
        plan = plan_preparation(
            appointment=AT, substrate=substrate, guidance="service", age_years=40.0, table=table
        )
        assert len(plan) == count


def test_an_unknown_age_passes_where_nothing_depends_on_it() -> None:
    """Without the rows of the fast the age is not needed."""
    rows = rows_of("preparation")
    rows["item"] = [row for row in rows["item"] if row["id"] != "fast"]
    plan = plan_preparation(
        appointment=AT,
        substrate="lactose",
        guidance=CONSENSUS,
        age_years=None,
        table=preparation_of(rows),
    )
    assert item_of(plan, "acid-suppression").item.guidance == (CONSENSUS,)


def test_an_unknown_age_is_refused_where_an_item_depends_on_it() -> None:
    """An infant must not be told to fast as an adult."""
    with pytest.raises(FieldError) as caught:
        planned(age=None)
    assert str(caught.value) == (
        "age_years: the age is missing, and fast depends on it; allowed: 0 to 150; came: nothing"
    )


@pytest.mark.parametrize("age", [-0.1, 151.0, float("nan")])
def test_an_age_that_cannot_be_is_refused(age: float) -> None:
    """What is not a number is no age either."""
    with pytest.raises(FieldError) as caught:
        planned(age=age)
    assert str(caught.value) == f"age_years: not an age; allowed: 0 to 150; came: {age:g}"


def test_an_appointment_without_a_zone_is_refused() -> None:
    """Hours could not be counted across a change of the clocks."""
    with pytest.raises(FieldError) as caught:
        planned(at=AT.replace(tzinfo=None))
    assert str(caught.value) == (
        "appointment: no time zone; allowed: a date and time with its zone; "
        "came: 2026-11-27T09:00:00"
    )


def test_a_substrate_or_a_guidance_that_is_not_known_is_refused() -> None:
    """Each with what is allowed."""
    with pytest.raises(FieldError) as caught:
        planned(substrate="salt")
    assert str(caught.value) == (
        "substrate: not known; allowed: lactose, fructose, glucose, lactulose, sorbitol, sucrose "
        "or xylose; came: salt"
    )
    with pytest.raises(FieldError) as caught:
        planned(guidance="nobody-1999")
    assert str(caught.value) == (
        f"guidance: not known; allowed: {', '.join(GUIDANCES)} or service; came: nobody-1999"
    )
