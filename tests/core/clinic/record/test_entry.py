from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

import pytest

from ebbline.core.clinic.record.entry import Entry, columns_of, field, kind_name
from ebbline.core.errors import RecordError


@dataclass(frozen=True, slots=True)
class InventedThing(Entry):
    """A kind with a field of every form."""

    text: str = field("text")
    choice: Literal["a", "b"] = field("one of two")
    whole: int = field("whole number")
    number: float | None = field("number")
    yes: bool = field("yes or no")
    day: date = field("day", apart=True)
    at: datetime = field("moment")
    several: tuple[str, ...] = field("list")
    named: Mapping[str, Any] = field("map")
    content: bytes = field("bytes")
    other_id: str = field("another", refers="patient")


def test_each_field_is_a_column_with_its_form() -> None:
    """The id first, then in the order of the declaration."""
    assert [(one.name, one.form) for one in columns_of(InventedThing)] == [
        ("id", "text"),
        ("text", "text"),
        ("choice", "text"),
        ("whole", "whole"),
        ("number", "number"),
        ("yes", "yes-no"),
        ("day", "day"),
        ("at", "moment"),
        ("several", "list"),
        ("named", "map"),
        ("content", "bytes"),
        ("other_id", "text"),
    ]


def test_a_column_knows_what_was_declared_of_it() -> None:
    """Whether it may be missing, is held apart, refers to another entry, and what it says."""
    columns = {one.name: one for one in columns_of(InventedThing)}
    assert [name for name, one in columns.items() if one.optional] == ["number"]
    assert [name for name, one in columns.items() if one.apart] == ["day"]
    assert {name: one.refers for name, one in columns.items() if one.refers} == {
        "other_id": "patient"
    }
    assert (columns["id"].says, columns["choice"].says) == ("unique id", "one of two")


@dataclass(frozen=True, slots=True)
class OfEither(Entry):
    """A field of two types."""

    either: int | str = field("either")


@dataclass(frozen=True, slots=True)
class OfNothingKnown(Entry):
    """A field of a type that has no form."""

    what: complex = field("what")


@pytest.mark.parametrize(
    ("kind", "says"), [(OfEither, "int | str"), (OfNothingKnown, "<class 'complex'>")]
)
def test_a_field_that_cannot_be_written_down_is_refused(kind: type[Entry], says: str) -> None:
    """When the kind is first used."""
    with pytest.raises(RecordError) as caught:
        columns_of(kind)
    assert str(caught.value) == (
        "entry: a field has a type that cannot be written down; allowed: those of Form, and None "
        f"beside one; came: {says}"
    )


@pytest.mark.parametrize(
    ("name", "said"), [("Dose", "dose"), ("SampleTry", "sample_try"), ("ClockStep", "clock_step")]
)
def test_a_kind_has_one_name_everywhere(name: str, said: str) -> None:
    """In small letters, with a low line between words."""
    assert kind_name(type(name, (Entry,), {})) == said
