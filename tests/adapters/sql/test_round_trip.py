"""Whatever the record takes comes back as it was, from both databases, and both say the same."""

import json
import secrets
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from itertools import count
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.record.entry import Entry
from ebbline.core.clinic.record.people import Patient
from ebbline.core.clinic.record.written import write_entry
from tests.adapters.sql.entries import in_utc, one_of_each
from tests.adapters.sql.whole import acts_of_whole
from tests.conftest import copy_of
from tests.records import Clock
from tests.server import Server

# The fixtures are a record each, and every example adds to the same one.
_FEW = settings(
    max_examples=20,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
_WHY = "ä 語 \U0001f600 \x7f \r\n"


def an_anchor(record: SqlRecord) -> str:
    """Record a patient, for everything else to refer to."""
    with record.act("anchor", by="", why="", token=None) as act:
        return act.add(Patient(act.new_id(), "other", "en", True)).id


def recorded(record: SqlRecord, drawn: tuple[Entry, ...], there: str) -> list[Entry]:
    """Record entries in one act, each under an id of its own, and return them as they were."""
    with record.act("all", by=there, why=_WHY, token=None) as act:
        act.warn(_WHY)
        return [act.add(replace(entry, id=act.new_id())) for entry in drawn]


def test_every_kind_of_entry_comes_back_as_it_was(record: SqlRecord) -> None:
    """With any text, number, moment and bytes; and the digest holds for the row as it is stored."""
    there = an_anchor(record)

    @_FEW
    @given(drawn=one_of_each(there=there))
    def comes_back(drawn: tuple[Entry, ...]) -> None:
        entries = recorded(record, drawn, there)
        with record.look() as look:
            for entry in entries:
                kept = look.get(type(entry), entry.id)
                assert kept.entry == in_utc(entry)
                assert write_entry(kept.entry) == write_entry(entry)
            (seen,) = look.acts([kept.seq])
        assert seen.why == _WHY

    comes_back()
    assert acts_of_whole(record)[-1]["warned"] == [_WHY]


def test_an_entry_that_is_revised_as_it_stands_is_no_change(record: SqlRecord) -> None:
    """What was read back can be written again, and is the same."""
    there = an_anchor(record)

    @_FEW
    @given(drawn=one_of_each(there=there))
    def stands(drawn: tuple[Entry, ...]) -> None:
        entries = recorded(record, drawn, there)
        with record.look() as look:
            before = look.head()
            kept = [look.get(type(entry), entry.id) for entry in entries]
        with record.act("again", by="", why="", token=None) as act:
            for one in kept:
                act.revise(one.entry, version=1)
        with record.act("again", by="", why="", token=None) as act:
            for entry in entries:
                act.revise(entry, version=1)
        with record.look() as look:
            assert look.head() == before

    stands()


def test_both_databases_write_the_same_act(
    blank_file: Path, tmp_path: Path, server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To the last character where ids and salts are the same, and so with the same hash."""
    addresses = (
        copy_of(blank_file, tmp_path / "clinic.ebbline"),
        server.new_database(template="template_record"),
    )
    with ExitStack() as stack:
        records = [stack.enter_context(opened(address)) for address in addresses]
        for one in records:
            monkeypatch.setattr(secrets, "token_hex", counting())
            there = an_anchor(one)

        @_FEW
        @given(drawn=one_of_each(there=there), start=st.integers(10**9, 10**12))
        def same(drawn: tuple[Entry, ...], start: int) -> None:
            heads, bodies = [], []
            for one in records:
                with one.look() as look:
                    seq = look.head()[0]
                monkeypatch.setattr(secrets, "token_hex", counting(start + 10**6 * seq))
                recorded(one, drawn, there)
                with one.look() as look:
                    heads.append(look.head())
                    bodies.append(look.acts([heads[-1][0]])[0].body)
            assert heads[0] == heads[1]
            assert bodies[0] == bodies[1]
            assert len(json.loads(bodies[0])["changes"]) == len(drawn)

        same()


@contextmanager
def opened(address: str) -> Iterator[SqlRecord]:
    """Open a record and close it again."""
    record = SqlRecord(record_url(address), now=Clock(), zone="Europe/London", wait_s=5.0)
    yield record
    record.close()


def counting(start: int = 1) -> Callable[[int], str]:
    """Stand for random text: numbers that go up."""
    numbers = count(start)
    return lambda size: f"{next(numbers):0{2 * size}x}"
