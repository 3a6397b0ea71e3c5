from datetime import UTC, date, datetime
from typing import Any

import pytest

from ebbline.core.clinic.record.entry import Column, Form
from ebbline.core.clinic.record.held import check_text, check_value
from ebbline.core.errors import FieldError

AT = datetime(2026, 11, 27, 8, 30, tzinfo=UTC)
ALLOWED: dict[Form, str] = {
    "text": "text without NUL characters and without half surrogate pairs",
    "whole": "a whole number from -2147483647 to 2147483647",
    "number": "a finite number that a float holds",
    "yes-no": "True or False",
    "day": "a day",
    "moment": "a moment with its zone, after the year 1 and before 9999",
    "list": "a list of JSON values (RFC 8785)",
    "map": "a mapping of text to JSON values (RFC 8785)",
    "bytes": "bytes",
}


def a_column(form: Form, *, optional: bool = False, apart: bool = False) -> Column:
    """A column of a form."""
    return Column("invented", form, optional, "invented", apart, None)


@pytest.mark.parametrize(
    ("form", "value"),
    [
        ("text", ""),
        ("text", "Ben \U0001f600 \x7f \x01 Shore"),
        ("whole", -(2**31) + 1),
        ("whole", 2**31 - 1),
        ("number", 5),
        ("number", 2**60),
        ("number", -0.0),
        ("number", 5e-324),
        ("number", -1.7976931348623157e308),
        ("yes-no", False),
        ("day", date(1, 1, 1)),
        ("moment", AT),
        ("list", ()),
        ("list", ["a", 1, 0.5, None, True, {"b": []}]),
        ("map", {"a": ["\0"]}),
        ("bytes", b"\0\xff"),
    ],
)
def test_what_a_field_can_hold_is_let_through(form: Form, value: Any) -> None:
    """Up to the limits of its form."""
    check_value(value, a_column(form))


@pytest.mark.parametrize(
    ("form", "value"),
    [
        ("text", 5),
        ("text", b"Ben"),
        ("text", "Ben\0"),
        ("text", "\ud800"),
        ("whole", True),
        ("whole", 5.0),
        ("whole", "5"),
        ("whole", 2**31),
        ("whole", -(2**31)),
        ("number", True),
        ("number", 2**60 + 1),
        ("number", "5"),
        ("number", float("nan")),
        ("number", float("inf")),
        ("number", -float("inf")),
        ("number", 10**400),
        ("yes-no", 1),
        ("yes-no", "yes"),
        ("day", AT),
        ("day", "2026-11-27"),
        ("moment", date(2026, 11, 27)),
        ("moment", AT.replace(tzinfo=None)),
        ("moment", AT.replace(year=1)),
        ("moment", AT.replace(year=9999)),
        ("moment", "2026-11-27T08:30:00.000000Z"),
        ("list", "abc"),
        ("list", {"a"}),
        ("list", [float("nan")]),
        ("list", [AT]),
        ("list", [2**53]),
        ("list", ["\udfff"]),
        ("map", [("a", 1)]),
        ("map", {1: "a"}),
        ("map", {"\ud800": 1}),
        ("map", {"a": {"b": float("inf")}}),
        ("bytes", "abc"),
        ("bytes", bytearray(b"abc")),
    ],
)
def test_what_would_not_come_back_as_it_was_is_refused(form: Form, value: Any) -> None:
    """By the name of the field, with what it holds and what came."""
    with pytest.raises(FieldError) as caught:
        check_value(value, a_column(form))
    assert caught.value.field == "invented"
    assert caught.value.wrong == "this cannot be kept in the record"
    assert caught.value.allowed == ALLOWED[form]
    assert caught.value.came == repr(value)[:80]


@pytest.mark.parametrize("form", list(ALLOWED))
def test_a_value_may_be_missing_only_where_the_field_says_so(form: Form) -> None:
    """Not where it is held apart: that is how an erased one looks."""
    check_value(None, a_column(form, optional=True))
    with pytest.raises(FieldError) as caught:
        check_value(None, a_column(form, apart=True))
    assert str(caught.value) == (
        f"invented: this cannot be kept in the record; allowed: {ALLOWED[form]}; came: nothing"
    )


def test_a_text_is_returned_as_it_is() -> None:
    """One of the greatest length too."""
    assert check_text("Shore", field="by", at_most=5) == "Shore"
    assert check_text("x" * 10_000, field="why") == "x" * 10_000


@pytest.mark.parametrize(
    ("text", "allowed"),
    [("Shores", "at most 5 characters"), ("\0", ALLOWED["text"]), ("\ud800", ALLOWED["text"])],
)
def test_a_text_that_cannot_be_kept_is_refused(text: str, allowed: str) -> None:
    """By the name that it goes by."""
    with pytest.raises(FieldError) as caught:
        check_text(text, field="by", at_most=5)
    assert str(caught.value) == (
        f"by: this cannot be kept in the record; allowed: {allowed}; came: {text!r}"
    )
