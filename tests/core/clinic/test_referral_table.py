"""Rows about referrals: alarm features, and which test comes first."""

import copy
import tomllib
from typing import Any

import pytest

from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.referral_table import (
    alarm_words,
    check_alarms,
    order_words,
    parse_referral,
)
from ebbline.core.errors import FieldError, SettingError

SUGARS = ("lactose", "fructose", "glucose", "lactulose", "sorbitol", "sucrose", "xylose")
SHIPPED = tomllib.loads((DATA / "referral.toml").read_text(encoding="utf-8"))
TABLE = parse_referral(SHIPPED, substrates=SUGARS)

SMALL: dict[str, Any] = {
    "caution": "ask",
    "unasked": "nobody asked",
    "alarm": [
        {
            "id": "tide",
            "asks": "Is it high?",
            "says": "a high tide",
            "source": "invented",
            "provenance": "memory",
        }
    ],
    "order": [
        {
            "first": ["glucose"],
            "later": ["lactose"],
            "says": "glucose first",
            "source": "invented",
            "provenance": "memory",
        }
    ],
}


def changed(part: str, **values: Any) -> dict[str, Any]:
    """Return the small table with keys of its one row of a part replaced."""
    table = copy.deepcopy(SMALL)
    table[part][0] |= values
    return table


def test_every_shipped_alarm_has_a_question_that_ends_as_one() -> None:
    """It is read aloud to the referrer."""
    assert len(TABLE.alarms) == 8
    assert [one.id for one in TABLE.alarms if not one.asks.endswith("?")] == []


@pytest.mark.parametrize(
    ("substrate", "done", "notes"),
    [
        ("lactose", (), 1),
        ("lactose", ("fructose",), 1),
        ("lactose", ("glucose",), 0),
        ("sorbitol", ("lactulose",), 0),
        ("glucose", (), 0),
        ("xylose", (), 0),
    ],
)
def test_overgrowth_comes_before_sugars(substrate: str, done: tuple[str, ...], notes: int) -> None:
    """Rezaie A, et al. Am J Gastroenterol 2017;112:775-784, abstract: exclude it first."""
    assert len(order_words(TABLE, substrate=substrate, done=done)) == notes


def test_alarm_features_are_put_in_the_order_of_the_rows() -> None:
    """Each once, and in words."""
    assert check_alarms(TABLE, ["fever", "anaemia", "fever"]) == ("anaemia", "fever")
    assert alarm_words(TABLE, ("fever", "anaemia")).startswith(
        "Alarm features: anaemia, fever without a known reason. They go back to the referrer"
    )
    assert alarm_words(TABLE, ()) == ""


def test_an_unknown_alarm_feature_is_refused() -> None:
    """The refusal lists the known ones."""
    table = parse_referral(SMALL, substrates=SUGARS)
    with pytest.raises(FieldError) as caught:
        check_alarms(table, [""])
    assert str(caught.value) == "alarm_features: not known; allowed: tide; came: nothing"


@pytest.mark.parametrize(
    ("table", "text"),
    [
        (
            SMALL | {"alarms": []},
            (
                "referral.toml, alarms: unknown key; allowed: caution, unasked, alarm or order; "
                "came: alarms"
            ),
        ),
        (
            SMALL | {"alarm": SMALL["alarm"] * 2},
            (
                "referral.toml, alarm[2].id: given twice; allowed: an id that no other row has; "
                "came: tide"
            ),
        ),
        (
            changed("alarm", colour="red"),
            (
                "referral.toml, alarm[1].colour: unknown key; allowed: id, asks, says, source or "
                "provenance; came: colour"
            ),
        ),
        (
            changed("alarm", asks=""),
            "referral.toml, alarm[1].asks: not text; allowed: text; came: ''",
        ),
        (
            changed("order", later=["lactose", "glucose"]),
            (
                "referral.toml, order[1].later: also among the first; allowed: substrates that are "
                "not first; came: glucose"
            ),
        ),
        (
            changed("order", colour="red"),
            (
                "referral.toml, order[1].colour: unknown key; allowed: first, later, says, source "
                "or provenance; came: colour"
            ),
        ),
    ],
)
def test_a_row_that_cannot_be_used_is_refused(table: dict[str, Any], text: str) -> None:
    """With its place, what was allowed and what came."""
    with pytest.raises(SettingError) as caught:
        parse_referral(table, substrates=SUGARS)
    assert str(caught.value) == text
