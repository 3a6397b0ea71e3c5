"""Several at one record at once: nothing is lost, and nobody sees half of an act."""

import subprocess
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.record.people import Patient
from ebbline.core.errors import ConflictError
from tests.adapters.sql.raw import raw
from tests.adapters.sql.whole import acts_of_whole
from tests.records import Clock

WRITER = Path(__file__).with_name("writer.py")


@pytest.fixture
def other(address: str, clock: Clock) -> Iterator[SqlRecord]:
    """The same record, opened a second time as by another program."""
    opened = SqlRecord(record_url(address), now=clock, zone="Europe/London", wait_s=30.0)
    yield opened
    opened.close()


def a_patient(record: SqlRecord, *, token: str | None = None) -> Patient:
    """Record an invented patient."""
    with record.act("register patient", by="", why="", token=token) as act:
        return act.add(Patient(act.new_id(), "female", "en", True))


def fifty(record: SqlRecord, whose: str) -> None:
    """Do fifty acts, one after the other."""
    for number in range(50):
        a_patient(record, token=f"{whose}-{number}")


def test_a_hundred_acts_from_two_connections_are_all_there(
    address: str, clock: Clock, other: SqlRecord
) -> None:
    """In one chain, each writer's in the order in which they were done."""
    first = SqlRecord(record_url(address), now=clock, zone="Europe/London", wait_s=30.0)
    with ThreadPoolExecutor(2) as pool:
        for doing in [pool.submit(fifty, first, "first"), pool.submit(fifty, other, "other")]:
            doing.result()
    tokens = [body["token"] for body in acts_of_whole(other)]
    for whose in ("first", "other"):
        mine = [token for token in tokens if token.startswith(whose)]
        assert mine == [f"{whose}-{number}" for number in range(50)]
    assert len(tokens) == 100
    first.close()


def test_two_programs_write_one_chain(address: str, record: SqlRecord) -> None:
    """Each a process of its own, as two clinic computers have it."""
    running = [
        subprocess.Popen(
            [sys.executable, str(WRITER), address, whose, "50"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for whose in ("first", "other")
    ]
    for process in running:
        said, wrong = process.communicate(timeout=120)
        assert (process.returncode, wrong) == (0, "")
        assert said.splitlines() == [str(number) for number in range(50)]
    tokens = [body["token"] for body in acts_of_whole(record)]
    assert sorted(tokens) == sorted(f"{who}-{n}" for who in ("first", "other") for n in range(50))


def test_a_program_that_is_killed_leaves_whole_acts(address: str, record: SqlRecord) -> None:
    """Every act that was acknowledged is there, at most one more, and the next one can be done."""
    process = subprocess.Popen(
        [sys.executable, str(WRITER), address, "first", "100000"], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    done = [int(process.stdout.readline()) for _ in range(20)]
    process.kill()
    done += [int(line) for line in process.stdout.read().splitlines()]
    process.wait()
    process.stdout.close()
    tokens = [body["token"] for body in acts_of_whole(record)]
    assert tokens[: len(done)] == [f"first-{number}" for number in done]
    assert len(tokens) - len(done) in (0, 1)
    a_patient(record)
    assert len(acts_of_whole(record)) == len(tokens) + 1


def test_of_two_tablets_that_change_one_version_at_once_one_is_refused(
    record: SqlRecord, other: SqlRecord
) -> None:
    """Ten times over: one change stands, the other is told what stands, and none is lost."""
    for _ in range(10):
        patient = a_patient(record)
        start = threading.Barrier(2)

        def change(
            where: SqlRecord, language: str, patient: Patient, start: threading.Barrier
        ) -> str:
            start.wait()
            try:
                with where.act("register patient", by="", why="", token=None) as act:
                    act.revise(replace(patient, language=language), version=1)
            except ConflictError as error:
                return f"stands {error.differences[0][1]}"
            return language

        with ThreadPoolExecutor(2) as pool:
            doing = [
                pool.submit(change, where, language, patient, start)
                for where, language in ((record, "cy"), (other, "gd"))
            ]
            said = sorted(one.result() for one in doing)
        with record.look() as look:
            kept = look.get(Patient, patient.id)
        assert said == [kept.entry.language, f"stands {kept.entry.language}"]
        assert kept.version == 2
    acts_of_whole(record)


def test_a_look_sees_one_state(record: SqlRecord, other: SqlRecord) -> None:
    """As it was when the look was opened, whatever is done meanwhile; the next look sees that."""
    patient = a_patient(record)
    with record.look() as look:
        with other.act("register patient", by="", why="", token=None) as act:
            act.add(Patient(act.new_id(), "male", "en", True))
            act.revise(replace(patient, language="cy"), version=1)
        assert look.head()[0] == 1
        assert [one.entry for one in look.find(Patient, {})] == [patient]
    with record.look() as look:
        assert look.head()[0] == 2
        assert len(look.find(Patient, {})) == 2


def test_an_act_is_not_seen_before_its_end(record: SqlRecord, other: SqlRecord) -> None:
    """Those who read meanwhile do not wait either."""

    def written_and_taken_back() -> None:
        with record.act("register patient", by="", why="", token=None) as act:
            act.add(Patient(act.new_id(), "male", "en", True))
            assert act.finish() == 1
            with other.look() as look:
                assert look.head()[0] == 0
                assert look.find(Patient, {}) == ()
            raise InterruptedError

    with pytest.raises(InterruptedError):
        written_and_taken_back()
    assert acts_of_whole(record) == []


@pytest.mark.parametrize("address", ["postgresql"], indirect=True)
def test_what_a_server_does_by_default_changes_nothing(address: str, clock: Clock) -> None:
    """Its default isolation would have an act read what was before it had the lock."""
    name = address.split("?", maxsplit=1)[0].rsplit("/", 1)[1]
    with raw(address) as connection:
        connection.execute(
            f"ALTER DATABASE {name} SET default_transaction_isolation = 'repeatable read'"
        )
    records = [
        SqlRecord(record_url(address), now=clock, zone="Europe/London", wait_s=30.0)
        for _ in range(2)
    ]
    with ThreadPoolExecutor(2) as pool:
        doing = [pool.submit(fifty, one, str(n)) for n, one in enumerate(records)]
        for one in doing:
            one.result()
    assert len(acts_of_whole(records[0])) == 100
    for opened in records:
        opened.close()
