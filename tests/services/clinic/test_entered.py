"""Single values that a person entered: words, choices and moments."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from ebbline.core.errors import FieldError
from ebbline.services.clinic.entered import between, choice, moment, reason, words

NOON = datetime(2026, 11, 27, 12, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)


def test_words_lose_the_blanks_around_them() -> None:
    """And a reason is words."""
    assert words("lot", " L1\n", allowed="a lot") == "L1"
    assert reason(" high tide ") == "high tide"


@pytest.mark.parametrize("blank", ["", " ", "\t\n"])
def test_blank_words_are_missing(blank: str) -> None:
    """The refusal says what is asked for."""
    with pytest.raises(FieldError) as caught:
        words("lot", blank, allowed="a lot")
    assert str(caught.value) == "lot: missing; allowed: a lot; came: nothing"
    with pytest.raises(FieldError) as caught:
        reason(blank)
    assert str(caught.value) == "why: missing; allowed: a reason in words; came: nothing"


@pytest.mark.parametrize(("value", "came"), [("ebb ", "ebb "), ("", "nothing")])
def test_a_choice_is_one_of_the_texts(value: str, came: str) -> None:
    """To the letter."""
    assert choice("tide", "ebb", ("ebb", "flood")) == "ebb"
    with pytest.raises(FieldError) as caught:
        choice("tide", value, ("ebb", "flood"))
    assert str(caught.value) == (
        f"tide: not one of the choices; allowed: ebb or flood; came: {came}"
    )


def test_a_moment_is_brought_to_utc() -> None:
    """A clock time without its zone is none."""
    east = datetime(2026, 11, 27, 13, 0, tzinfo=timezone(HOUR))
    assert moment("at", east) == NOON
    assert moment("at", east).tzinfo is UTC
    with pytest.raises(FieldError) as caught:
        moment("at", NOON.replace(tzinfo=None))
    assert str(caught.value) == (
        "at: no time zone; allowed: a date and time with its zone; came: 2026-11-27T12:00:00"
    )


@pytest.mark.parametrize(("hours", "wrong"), [(-2, "too early"), (2, "too late")])
def test_a_moment_lies_between_its_limits(hours: int, wrong: str) -> None:
    """Each limit is still allowed."""
    limits = {"earliest": NOON - HOUR, "latest": NOON + HOUR}
    for at in (NOON - HOUR, NOON, NOON + HOUR):
        assert between("at", at, **limits) == at
    with pytest.raises(FieldError) as caught:
        between("at", NOON + hours * HOUR, **limits)
    assert str(caught.value) == (
        f"at: {wrong}; allowed: 2026-11-27 11:00 UTC to 2026-11-27 13:00 UTC; came: "
        f"2026-11-27 {12 + hours}:00 UTC"
    )
