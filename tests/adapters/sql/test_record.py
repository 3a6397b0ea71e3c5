"""The record keeps whole acts, finds what stands, and refuses to lose a change."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest

from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.record.entry import Entry, columns_of
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.clinic.record.people import Identity, Patient
from ebbline.core.clinic.record.staff import ClockStep
from ebbline.core.errors import ConflictError, FieldError, RecordError
from tests.adapters.sql.entries import plain
from tests.adapters.sql.raw import Refused, raw
from tests.adapters.sql.whole import acts_of_whole
from tests.records import Clock


def a_patient(record: SqlRecord, *, token: str | None = None) -> Patient:
    """Record an invented patient."""
    with record.act("register patient", by="", why="", token=token) as act:
        patient = act.add(Patient(act.new_id(), "female", "en", True))
        born = date(1985, 3, 2)
        act.add(Identity(act.new_id(), patient.id, "Shore", "Ada", born, "HC-1", "", "", ""))
    return patient


def test_what_was_recorded_is_found_again(record: SqlRecord) -> None:
    """As the same values, with its version and the act that wrote it."""
    patient = a_patient(record)
    with record.look() as look:
        kept = look.get(Patient, patient.id)
        (identity,) = look.find(Identity, {"patient_id": patient.id})
    assert (kept.entry, kept.version, kept.seq) == (patient, 1, 1)
    assert identity.entry.born == date(1985, 3, 2)


def test_an_act_that_fails_leaves_nothing(record: SqlRecord) -> None:
    """Neither entries nor a row of the history."""

    def fail() -> None:
        with record.act("x", by="", why="", token=None) as act:
            act.add(Patient(act.new_id(), "male", "en", True))
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    with record.look() as look:
        assert look.find(Patient, {}) == ()
        assert look.head() == (0, "0" * 64)


def test_a_change_is_a_new_version(record: SqlRecord, clock: Clock) -> None:
    """Both versions are kept, and the history says when and why."""
    patient = a_patient(record)
    clock.pass_minutes(5)
    with record.act("register patient", by="", why="asked again", token=None) as act:
        act.revise(replace(patient, language="cy"), version=1)
    with record.look() as look:
        assert [one.entry.language for one in look.versions(Patient, patient.id)] == ["en", "cy"]
        assert look.get(Patient, patient.id).version == 2
        (seen,) = look.acts([2])
    assert (seen.why, seen.at) == ("asked again", "2026-11-27T08:05:00.000000Z")


def test_two_changes_of_one_version_are_a_conflict_with_both_values(record: SqlRecord) -> None:
    """The first one stands; the second is told what stands and what it brought."""
    patient = a_patient(record)
    with record.act("register patient", by="", why="", token=None) as act:
        act.revise(replace(patient, language="cy"), version=1)
    with (
        pytest.raises(ConflictError) as caught,
        record.act("register patient", by="", why="", token=None) as act,
    ):
        act.revise(replace(patient, language="gd"), version=1)
    assert caught.value.differences == (("language", "cy", "gd"),)
    with record.look() as look:
        assert look.get(Patient, patient.id).entry.language == "cy"
        assert look.head()[0] == 2


def test_an_id_that_is_not_there_is_refused(record: SqlRecord) -> None:
    """Naming the field."""
    with record.look() as look, pytest.raises(FieldError) as caught:
        look.get(Patient, "nobody")
    assert str(caught.value) == (
        "patient_id: there is no such patient; allowed: one that is in the record; came: nobody"
    )


def test_an_entry_that_refers_to_an_id_that_is_not_there_is_refused(record: SqlRecord) -> None:
    """By the database, whichever field of whichever kind, and nothing of the act is stored."""
    patient = a_patient(record)

    def refer(kind: type[Entry], name: str) -> None:
        with record.act("x", by="", why="", token=None) as act:
            act.add(Patient(act.new_id(), "male", "en", True))
            entry = plain(kind, act.new_id(), there=patient.id)
            act.add(replace(entry, **{name: "nobody"}))

    for kind in KINDS.values():
        for one in columns_of(kind):
            if one.refers is None:
                continue
            with pytest.raises(RecordError) as caught:
                refer(kind, one.name)
            assert str(caught.value).startswith(
                f"record {record.where}: the database refused; allowed: what its schema allows; "
                "came: "
            )
            assert "foreign key" in str(caught.value).lower()
    assert len(acts_of_whole(record)) == 1


def test_an_id_is_given_once(record: SqlRecord) -> None:
    """An entry under the id of another is refused, whatever its kind."""
    patient = a_patient(record)

    def again() -> None:
        with record.act("x", by="", why="", token=None) as act:
            act.add(plain(ClockStep, patient.id, there=patient.id))

    with pytest.raises(RecordError) as caught:
        again()
    assert str(caught.value).startswith(f"record {record.where}: the database refused; allowed: ")
    assert len(acts_of_whole(record)) == 1


def test_an_act_is_found_by_its_token(record: SqlRecord) -> None:
    """So that the same one sent twice is done once."""
    a_patient(record, token="tablet-1")
    with record.look() as look:
        assert look.done("tablet-1") == 1
        assert look.done("tablet-2") is None


def test_a_token_serves_for_one_act(record: SqlRecord) -> None:
    """A second act under it is refused and nothing is stored; one that writes nothing is none."""
    a_patient(record, token="tablet-1")
    with record.act("x", by="", why="", token="tablet-1"):
        pass
    with pytest.raises(RecordError) as caught:
        a_patient(record, token="tablet-1")
    assert str(caught.value) == (
        "token: act 1 was done under it already; allowed: a new one for each act; came: tablet-1"
    )
    assert len(acts_of_whole(record)) == 1


def test_the_database_itself_refuses_a_second_act_under_a_token(
    record: SqlRecord, address: str
) -> None:
    """Though another program should write it."""
    a_patient(record, token="tablet-1")
    with raw(address) as connection, pytest.raises(Refused):
        connection.execute(
            "INSERT INTO history SELECT 2, at, by, act, token, body, hash FROM history"
        )
    assert len(acts_of_whole(record)) == 1


_TEXT = "text without NUL characters and without half surrogate pairs"


@pytest.mark.parametrize("text", ["Ben\0Shore", "Ben\ud800", "\udfffShore"])
def test_text_that_one_database_would_not_keep_is_refused_by_both(
    record: SqlRecord, text: str
) -> None:
    """In a field, a reason, a warning, a token and a search; the error names the field."""

    def named(language: str) -> None:
        with record.act("x", by="", why="", token=None) as act:
            act.add(Patient(act.new_id(), "male", language, True))

    def told(*, by: str, why: str, token: str | None, warned: str) -> None:
        with record.act("x", by=by, why=why, token=token) as act:
            act.warn(warned)

    def sought() -> None:
        with record.look() as look:
            look.find(Patient, {"language": text})

    def asked() -> None:
        with record.look() as look:
            look.done(text)

    doing: dict[str, Callable[[], None]] = {
        "language": lambda: named(text),
        "by": lambda: told(by=text, why="", token=None, warned=""),
        "why": lambda: told(by="", why=text, token=None, warned=""),
        "token": lambda: told(by="", why="", token=text, warned=""),
        "warned": lambda: told(by="", why="", token=None, warned=text),
    }
    for field, does in (*doing.items(), ("language", sought), ("token", asked)):
        with pytest.raises(FieldError) as caught:
            does()
        assert str(caught.value) == (
            f"{field}: this cannot be kept in the record; allowed: {_TEXT}; came: {text!r}"
        )
    assert acts_of_whole(record) == []


@pytest.mark.parametrize(("field", "most"), [("act", 40), ("by", 40), ("token", 80)])
def test_a_name_that_is_too_long_is_refused_by_both(
    record: SqlRecord, field: str, most: int
) -> None:
    """Though one database would take it; one that just fits is taken."""

    def long(size: int) -> None:
        words = {"act": "x", "by": "", "token": "t"} | {field: "x" * size}
        with record.act(words["act"], by=words["by"], why="", token=words["token"]) as act:
            act.warn("long")

    long(most)
    with pytest.raises(FieldError) as caught:
        long(most + 1)
    assert str(caught.value).startswith(
        f"{field}: this cannot be kept in the record; allowed: at most {most} characters; came: 'x"
    )
    assert len(acts_of_whole(record)) == 1


def test_an_id_that_is_too_long_is_refused_by_both(record: SqlRecord) -> None:
    """Though one database would take it."""

    def long() -> None:
        with record.act("x", by="", why="", token=None) as act:
            act.add(Patient("x" * 41, "male", "en", True))

    with pytest.raises(FieldError) as caught:
        long()
    assert str(caught.value) == (
        f"id: this cannot be kept in the record; allowed: at most 40 characters; came: '{'x' * 41}'"
    )


def test_entries_are_found_by_values_of_every_form(record: SqlRecord) -> None:
    """As they are in the entry: a day, a moment in any zone, nothing, or one of several."""
    at = datetime(2026, 11, 27, 8, 30, tzinfo=UTC)
    patient = a_patient(record)
    with record.act("x", by="", why="", token=None) as act:
        step = act.add(ClockStep(act.new_id(), at, 90.0, "jump", "open"))
    with record.look() as look:
        (identity,) = look.find(Identity, {"born": date(1985, 3, 2)})
        assert identity.entry.patient_id == patient.id
        assert look.find(Identity, {"born": None}) == ()
        (found,) = look.find(ClockStep, {"at": at.astimezone(timezone(timedelta(hours=5)))})
        assert found.entry == step
        assert look.find(ClockStep, {"kind": ("jump", "restart"), "step_s": 90})[0].entry == step
        assert look.find(ClockStep, {"kind": []}) == ()


def test_the_same_moment_in_another_zone_is_no_change(record: SqlRecord) -> None:
    """Not even in the hour that a zone has twice, in which Python calls them different."""
    at = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    with record.act("x", by="", why="", token=None) as act:
        step = act.add(ClockStep(act.new_id(), at, 90.0, "jump", "open"))
    local = at.astimezone(ZoneInfo("Europe/London"))
    assert local != at
    with record.act("x", by="", why="", token=None) as act:
        act.revise(replace(step, at=local), version=1)
    with record.look() as look:
        assert look.get(ClockStep, step.id).version == 1
        assert look.head()[0] == 1
