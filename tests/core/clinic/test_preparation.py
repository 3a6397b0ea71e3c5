from datetime import UTC, date, datetime, timedelta
from typing import cast
from zoneinfo import ZoneInfo

import pytest

from ebbline.core.clinic.preparation import (
    Answer,
    JudgedItem,
    PlannedItem,
    Word,
    judge_preparation,
    plan_preparation,
    words_of_date,
    words_of_time,
)
from ebbline.core.errors import FieldError
from tests.core.clinic.prepared_rows import GUIDANCES, PREPARATION, preparation_of, rows_of

LONDON = ZoneInfo("Europe/London")
AT = datetime(2026, 11, 27, 9, 0, tzinfo=LONDON)
CONSENSUS = "north-american-2017"


def planned(
    *,
    at: datetime = AT,
    substrate: str = "lactose",
    guidance: str = CONSENSUS,
    age: float | None = 40.0,
) -> tuple[PlannedItem, ...]:
    """Return the shipped plan of one invented appointment."""
    return plan_preparation(
        appointment=at,
        substrate=substrate,
        guidance=guidance,
        age_years=age,
        table=PREPARATION,
    )


def item_of(plan: tuple[PlannedItem, ...], name: str) -> PlannedItem:
    """Return one item of a plan by its id."""
    (one,) = [one for one in plan if one.item.id == name]
    return one


def judged(name: str, answer: Answer | None) -> JudgedItem:
    """Return how one answer to the shipped plan is judged, all others missing."""
    found = judge_preparation(planned(), {} if answer is None else {name: answer})
    (one,) = [one for one in found if one.id == name]
    return one


def refusal(name: str, answer: Answer) -> str:
    """Return the text with which an answer is refused."""
    with pytest.raises(FieldError) as caught:
        judge_preparation(planned(), {name: answer})
    return str(caught.value)


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


def test_each_item_that_is_asked_is_judged_and_what_is_only_told_is_not() -> None:
    """In the order of the plan."""
    plan = planned()
    assert [one.id for one in judge_preparation(plan, {})] == [
        one.item.id for one in plan if one.item.id != "diabetes"
    ]


def test_an_item_without_an_answer_is_never_kept() -> None:
    """Nobody asked, so nobody knows."""
    found = judge_preparation(planned(), {})
    assert {(one.state, one.words) for one in found} == {("unanswered", "not answered")}
    assert all(one.needs_decision for one in found)


def test_unknown_is_never_kept() -> None:
    """Whatever the item is, and with whatever date."""
    plan = planned()
    asked = [one.item for one in plan if one.item.answer != "told"]
    words: dict[str, Answer] = {item.id: Answer("unknown", None) for item in asked}
    found = judge_preparation(plan, words)
    assert {(one.state, one.words) for one in found} == {("unknown", "answered unknown")}
    assert all(one.needs_decision for one in found)
    assert judged("antibiotics", Answer("unknown", date(2026, 1, 9))) == JudgedItem(
        "antibiotics",
        "unknown",
        "the last antibiotic was on Friday 9 January, 322 days before; 28 are asked; "
        "answered unknown",
    )


def test_a_perfect_preparation_needs_no_decision() -> None:
    """Every answer keeps its item, and the fast is counted."""
    plan = planned()
    answers = {
        one.item.id: Answer(cast(Word, one.item.kept_when), None)
        for one in plan
        if one.item.answer in ("word", "date")
    }
    answers["fast"] = Answer("yes", datetime(2026, 11, 26, 22, 30, tzinfo=LONDON))
    answers["sleep"] = Answer("yes", datetime(2026, 11, 27, 7, 0, tzinfo=LONDON))
    found = judge_preparation(plan, answers)
    assert [one for one in found if one.needs_decision] == []
    assert {one.state for one in found} == {"kept"}


@pytest.mark.parametrize(
    ("name", "answer", "state", "words"),
    [
        ("smoking", Answer("no", None), "kept", "answered no"),
        ("smoking", Answer("yes", None), "not kept", "answered yes"),
        ("diet", Answer("yes", None), "kept", "answered yes"),
        ("diet", Answer("no", None), "not kept", "answered no"),
        ("antibiotics", Answer("no", None), "kept", "answered no"),
        ("antibiotics", Answer("yes", None), "not kept", "answered yes"),
        ("fast", Answer("no", None), "not kept", "answered no"),
    ],
)
def test_a_word_alone_decides_where_nothing_is_to_be_counted(
    name: str, answer: Answer, state: str, words: str
) -> None:
    """The row says which word keeps the item."""
    assert judged(name, answer) == JudgedItem(name, state, words)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("word", "day", "state", "words"),
    [
        ("yes", date(2026, 11, 12), "not kept",
         "Thursday 12 November, 15 days before; 28 are asked"),
        ("yes", date(2026, 10, 31), "not kept",
         "Saturday 31 October, 27 days before; 28 are asked"),
        ("no", date(2026, 10, 30), "kept", "Friday 30 October, 28 days before; 28 are asked"),
        ("no", date(2026, 10, 29), "kept", "Thursday 29 October, 29 days before; 28 are asked"),
        ("yes", date(2026, 11, 26), "not kept", "Thursday 26 November, 1 day before; 28 are asked"),
        ("yes", date(2026, 11, 27), "not kept", "Friday 27 November, 0 days before; 28 are asked"),
        ("no", date(2026, 11, 12), "not kept",
         "Thursday 12 November, 15 days before; 28 are asked; but answered no"),
        ("yes", date(2026, 10, 1), "not kept",
         "Thursday 1 October, 57 days before; 28 are asked; but answered yes"),
    ],
)  # fmt: skip
def test_a_date_is_counted_in_days_and_must_agree_with_the_word(
    word: Word, day: date, state: str, words: str
) -> None:
    """Kept only if both say so; where they differ, a person says which is wrong."""
    found = judged("antibiotics", Answer(word, day))
    assert (found.state, found.words) == (state, f"the last antibiotic was on {words}")


def test_one_day_that_is_asked_is_said_in_the_singular() -> None:
    """The row is changed to one day."""
    rows = rows_of("preparation")
    rows["item"] = [row for row in rows["item"] if row["id"] == "anti-diarrhoeals"]
    rows["item"][0]["before"] = {"days": 1}
    plan = plan_preparation(
        appointment=AT,
        substrate="lactose",
        guidance="service",
        age_years=40.0,
        table=preparation_of(rows),
    )
    (found,) = judge_preparation(plan, {"anti-diarrhoeals": Answer("no", date(2026, 11, 26))})
    assert found.words == "the last one was on Thursday 26 November, 1 day before; 1 is asked"
    assert found.state == "kept"


def test_a_time_counts_as_its_day_in_the_zone_of_the_appointment() -> None:
    """23:30 UTC on 29 October is still that day in London and the next one in Athens."""
    at = AT.replace(tzinfo=ZoneInfo("Europe/Athens"))
    on = datetime(2026, 10, 29, 23, 30, tzinfo=UTC)
    found = {
        zone.key: judge_preparation(planned(at=moment), {"antibiotics": Answer("no", on)})
        for zone, moment in ((LONDON, AT), (ZoneInfo("Europe/Athens"), at))
    }
    assert "Thursday 29 October, 29 days" in found["Europe/London"][2].words
    assert "Friday 30 October, 28 days" in found["Europe/Athens"][2].words


@pytest.mark.parametrize(
    ("word", "hours", "state", "ending"),
    [
        ("yes", 8.0, "kept", "8 h 0 min before; 8 to 12 h are asked"),
        ("yes", 12.0, "kept", "12 h 0 min before; 8 to 12 h are asked"),
        ("no", 6.5, "not kept", "6 h 30 min before; 8 to 12 h are asked"),
        ("no", 7.999, "not kept", "7 h 59 min before; 8 to 12 h are asked"),
        ("yes", 6.5, "not kept", "6 h 30 min before; 8 to 12 h are asked; but answered yes"),
        ("yes", 12.5, "not kept", "12 h 30 min before; 8 to 12 h are asked; but answered yes"),
        ("no", 10.0, "not kept", "10 h 0 min before; 8 to 12 h are asked; but answered no"),
    ],
)
def test_a_time_is_counted_in_hours(word: Word, hours: float, state: str, ending: str) -> None:
    """Both ends count as kept; too long a fast is a deviation too."""
    found = judged("fast", Answer(word, AT - timedelta(hours=hours)))
    assert found.state == state
    assert found.words.startswith("the last food or drink was at ")
    assert found.words.endswith(ending)


def test_hours_without_an_upper_end_say_at_least() -> None:
    """The European row asks for 8 h and names no most."""
    plan = planned(guidance="european-2022")
    found = judge_preparation(plan, {"fast": Answer("yes", AT - timedelta(hours=30))})
    (fast,) = [one for one in found if one.id == "fast"]
    assert fast.state == "kept"
    assert fast.words.endswith("30 h 0 min before; at least 8 h are asked")


def test_a_fast_without_a_time_is_unknown() -> None:
    """A yes alone cannot be counted."""
    assert judged("fast", Answer("yes", None)) == JudgedItem(
        "fast", "unknown", "answered yes; no time was given"
    )


def test_hours_are_counted_as_they_pass_when_the_clocks_change() -> None:
    """On 29 March 2026 London has no 1:30: from 0:30 to 9:00 are 7 h 30 min, not 8 h 30 min.

    Source: the change on the last Sunday of March, Summer Time Order 2002 (SI 2002/262).
    """
    at = datetime(2026, 3, 29, 9, 0, tzinfo=LONDON)
    plan = planned(at=at)
    on = datetime(2026, 3, 29, 0, 30, tzinfo=LONDON)
    (fast,) = [
        one for one in judge_preparation(plan, {"fast": Answer("no", on)}) if one.id == "fast"
    ]
    assert fast.state == "not kept"
    assert "7 h 30 min before" in fast.words


def test_what_is_no_answer_is_refused() -> None:
    """Only yes, no and unknown are answers, and only to what is asked."""
    assert refusal("smoking", Answer(cast(Word, "perhaps"), None)) == (
        "smoking: not an answer; allowed: yes, no or unknown; came: perhaps"
    )
    assert refusal("weather", Answer("yes", None)) == (
        "preparation: not known; allowed: medicines, acid-suppression, antibiotics, "
        "bowel-cleansing, bowel-medicines, probiotics, anti-diarrhoeals, diet, fast, water, "
        "smoking, gum, exercise, sleep or teeth; came: weather"
    )
    assert "preparation: not known" in refusal("diabetes", Answer("yes", None))


@pytest.mark.parametrize(
    ("name", "on", "text"),
    [
        ("smoking", date(2026, 11, 1), ("a date cannot be counted here; allowed: an answer without "
         "one; came: 2026-11-01")),
        ("antibiotics", date(2026, 11, 28), ("after the appointment; allowed: a day before it; "
         "came: 2026-11-28")),
        ("fast", date(2026, 11, 26), ("no time of day; allowed: a date and time with its zone; "
         "came: 2026-11-26")),
        ("fast", datetime(2026, 11, 26, 20, 0), ("no time zone; allowed: a date, or a time with "  # noqa: DTZ001
         "its zone; came: 2026-11-26T20:00:00")),
        ("fast", datetime(2026, 11, 27, 9, 1, tzinfo=LONDON), ("after the appointment; allowed: a "
         "time before it; came: 2026-11-27T09:01:00+00:00")),
    ],
)  # fmt: skip
def test_a_date_or_time_that_cannot_be_counted_is_refused(name: str, on: date, text: str) -> None:
    """The refusal names the item."""
    assert refusal(name, Answer("yes", on)) == f"{name}: {text}"


def test_dates_and_times_read_as_a_patient_says_them() -> None:
    """Days and months are our own words, so no locale of the machine can change them."""
    assert words_of_date(date(2024, 2, 29)) == "Thursday 29 February"
    assert words_of_time(datetime(2026, 11, 26, 21, 5, tzinfo=LONDON)) == (
        "21:05 on Thursday 26 November"
    )
