import hashlib
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest

from ebbline.core.clinic.record.bench import Symptoms
from ebbline.core.clinic.record.entry import Column, Form, columns_of
from ebbline.core.clinic.record.people import Identity, Patient
from ebbline.core.clinic.record.result import Snapshot
from ebbline.core.clinic.record.written import (
    canonical,
    digest_apart,
    digest_row,
    read_entry,
    read_moment,
    read_value,
    sha256,
    write_entry,
    write_moment,
    write_value,
)
from ebbline.core.errors import FieldError

AT = datetime(2026, 11, 27, 8, 30, 1, 5, tzinfo=UTC)
IDENTITY = Identity("i1", "p1", "Shore", "Ben", date(1985, 3, 2), "HC-1", "", "", "")
PATIENT = Patient("p1", "male", "en", True)


def a_column(form: Form, *, optional: bool = False, apart: bool = False) -> Column:
    """A column of a form."""
    return Column("invented", form, optional, "invented", apart, None)


@pytest.mark.parametrize(
    ("moment", "text"),
    [
        (AT, "2026-11-27T08:30:01.000005Z"),
        (AT.astimezone(timezone(timedelta(hours=5, minutes=30))), "2026-11-27T08:30:01.000005Z"),
        (datetime(26, 1, 1, tzinfo=UTC), "0026-01-01T00:00:00.000000Z"),
    ],
)
def test_a_moment_is_written_in_utc_to_the_microsecond(moment: datetime, text: str) -> None:
    """With a year of four digits, and read back as the same moment."""
    assert write_moment(moment) == text
    assert read_moment(text) == moment
    assert read_moment(text).tzinfo is UTC


def test_a_moment_without_its_zone_is_refused() -> None:
    """A clock time alone is not a moment."""
    with pytest.raises(FieldError) as caught:
        write_moment(AT.replace(tzinfo=None))
    assert str(caught.value) == (
        "moment: a clock time alone is not a moment; allowed: one with its zone; "
        "came: 2026-11-27T08:30:01.000005"
    )


@pytest.mark.parametrize(
    ("form", "value", "written"),
    [
        ("text", "Shore", "Shore"),
        ("whole", 5, 5),
        ("number", 5, 5.0),
        ("number", 1e-320, 1e-320),
        ("yes-no", True, True),
        ("day", date(85, 3, 2), "0085-03-02"),
        ("moment", AT, "2026-11-27T08:30:01.000005Z"),
        ("list", ("b", 2.0, None), '["b",2,null]'),
        ("map", {"b": 1, "a": {"d": -0.0, "c": 1e21}}, '{"a":{"c":1e+21,"d":0},"b":1}'),
        ("bytes", b"\0\xff", b"\0\xff"),
    ],
)
def test_a_value_is_written_plainly_and_read_back(form: Form, value: Any, written: Any) -> None:
    """By the form of its field."""
    column = a_column(form)
    assert write_value(value, column) == written
    assert type(write_value(value, column)) is type(written)
    assert read_value(written, column) == value


def test_a_whole_number_that_was_a_large_float_can_be_written_again() -> None:
    """RFC 8785 writes 1e16 in digits; as an int it would be beyond what the same standard takes."""
    column = a_column("map")
    text = write_value({"a": 1e16, "b": 2.0**53 - 1, "c": 2.0**53}, column)
    assert text == '{"a":10000000000000000,"b":9007199254740991,"c":9007199254740992}'
    back = read_value(text, column)
    assert [type(one) for one in back.values()] == [float, int, float]
    assert write_value(back, column) == text
    listed = a_column("list")
    assert write_value(read_value("[10000000000000000]", listed), listed) == "[10000000000000000]"


def test_a_value_that_is_missing_is_written_as_nothing() -> None:
    """And read as nothing, where the field says that it may be missing."""
    column = a_column("number", optional=True)
    assert write_value(None, column) is None
    assert read_value(None, column) is None


def test_a_value_that_cannot_be_held_is_not_written() -> None:
    """The error names the field; test_held.py has the rest."""
    score = Symptoms("s1", "t1", float("nan"), AT, "0-10", {}, "")
    with pytest.raises(FieldError) as caught:
        write_entry(score)
    assert str(caught.value) == (
        "planned_minute: this cannot be kept in the record; allowed: a finite number that a float "
        "holds; came: nan"
    )


@pytest.mark.parametrize(
    ("form", "reads"), [("text", ""), ("bytes", b""), ("map", {}), ("list", ())]
)
def test_an_erased_value_reads_as_an_empty_one(form: Form, reads: Any) -> None:
    """Or as missing, where it may be."""
    assert read_value(None, a_column(form, apart=True)) == reads
    assert read_value(None, a_column(form, apart=True, optional=True)) is None


def test_an_entry_is_written_by_column_and_read_back() -> None:
    """All of it, in the order of its fields."""
    row = write_entry(IDENTITY)
    assert list(row) == [one.name for one in columns_of(Identity)]
    assert row["born"] == "1985-03-02"
    assert read_entry(Identity, row) == IDENTITY
    assert read_entry(Identity, {**row, "version": 1, "seq": 9}) == IDENTITY


def test_the_digest_of_an_entry_by_hand() -> None:
    """SHA-256 of its canonical JSON, written out here."""
    said = '{"apart":null,"plain":{"id":"p1","invented":true,"language":"en","sex":"male"}}'
    row = write_entry(PATIENT)
    assert digest_apart(Patient, row, "salt") is None
    assert digest_row(Patient, row, None) == hashlib.sha256(said.encode()).hexdigest()


def test_the_digest_of_an_entry_with_fields_held_apart_by_hand() -> None:
    """They count by their own salted digest, so it holds when they are gone."""
    row = write_entry(IDENTITY)
    apart = (
        '{"apart":{"born":"1985-03-02","contact":"","family_name":"Shore","given_name":"Ben",'
        '"national_no":"","record_no":"HC-1","search":""},"salt":"00ff"}'
    )
    due = hashlib.sha256(apart.encode()).hexdigest()
    assert digest_apart(Identity, row, "00ff") == due
    said = f'{{"apart":"{due}","plain":{{"id":"i1","patient_id":"p1"}}}}'
    whole = hashlib.sha256(said.encode()).hexdigest()
    assert digest_row(Identity, row, due) == whole
    erased = row | {one.name: None for one in columns_of(Identity) if one.apart}
    assert digest_row(Identity, erased, due) == whole


def test_bytes_count_by_their_own_digest() -> None:
    """Whether a database gives them back as bytes or as a view of memory."""
    snapshot = Snapshot("s1", "t1", "i", "e", "c1", (), b"\0\xff")
    row = write_entry(snapshot)
    as_view = {**row, "document": memoryview(b"\0\xff")}
    said = f'{{"apart":{{"document":"{hashlib.sha256(bytes([0, 255])).hexdigest()}"}},"salt":"s"}}'
    due = hashlib.sha256(said.encode()).hexdigest()
    assert digest_apart(Snapshot, row, "s") == digest_apart(Snapshot, as_view, "s") == due
    assert read_entry(Snapshot, as_view) == snapshot


@pytest.mark.parametrize(
    "changed",
    [
        replace(PATIENT, id="p2"),
        replace(PATIENT, sex="female"),
        replace(PATIENT, language=""),
        replace(PATIENT, invented=False),
    ],
)
def test_every_field_counts_in_the_digest(changed: Patient) -> None:
    """A change of any one gives another."""
    before = digest_row(Patient, write_entry(PATIENT), None)
    assert digest_row(Patient, write_entry(changed), None) != before


def test_a_salt_counts_in_the_digest() -> None:
    """So that a name cannot be guessed and tried."""
    row = write_entry(IDENTITY)
    assert digest_apart(Identity, row, "a") != digest_apart(Identity, row, "b")


def test_signed_zero_and_zero_are_one() -> None:
    """A database may give either back (RFC 8785, section 3.2.2.3)."""
    assert canonical([-0.0, 0.0, 0]) == "[0,0,0]"


def test_sha256_of_known_messages() -> None:
    """FIPS 180-4 examples of NIST (csrc.nist.gov): "abc", and the empty message."""
    abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert sha256("abc") == sha256(b"abc") == abc
    assert sha256("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
