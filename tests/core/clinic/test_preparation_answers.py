from datetime import UTC, date, datetime, timedelta
from typing import cast
from zoneinfo import ZoneInfo

import pytest

from ebbline.core.clinic.preparation import (
    Answer,
    JudgedItem,
    Word,
    judge_preparation,
    plan_preparation,
)
from ebbline.core.errors import FieldError
from tests.core.clinic.prepared_rows import (
    AT,
    LONDON,
    planned,
    preparation_of,
    rows_of,
)


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
