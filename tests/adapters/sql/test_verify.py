"""Verifying names the first act that is not as it was recorded, on both databases."""

import os
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import pytest
from sqlalchemy import text

from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.verify import Verdict, verify
from ebbline.core.clinic.record.chain import START, Fault, link
from ebbline.core.clinic.record.entry import columns_of
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.clinic.record.people import Identity, Patient
from ebbline.core.clinic.record.result import Report
from tests.adapters.sql.harbour import fill, rename, tamper


def quiet(done: int, total: int) -> None:
    """Say nothing."""


def verdict_of(record: SqlRecord) -> Verdict:
    """Verify a record by itself."""
    return verify(record, head=None, progress=quiet)


def fault_of(record: SqlRecord) -> Fault:
    """Return the fault of a record that does not verify."""
    fault = verdict_of(record).fault
    assert fault is not None
    return fault


class Filled(NamedTuple):
    """A record with one patient, Ben Shore: the act of each kind is its place in the list."""

    record: SqlRecord
    ids: dict[str, str]
    acts: dict[str, int]
    last: int


@pytest.fixture
def filled(record: SqlRecord) -> Filled:
    """One entry of each kind, then a second version of the patient in the last act."""
    ids = fill(record, "Shore")
    rename(record, ids, name="Strand")
    acts = {kind: seq for seq, kind in enumerate(ids, start=1)}
    return Filled(record, ids, acts, len(acts) + 1)


def test_an_empty_record_verifies(record: SqlRecord) -> None:
    """With the start of the chain as its head."""
    assert verdict_of(record) == Verdict(acts=0, rows=0, erased=0, head=(0, START), fault=None)


def test_a_record_that_nobody_touched_verifies(filled: Filled) -> None:
    """Each act with its entry, the id in the list of ids, and its reason."""
    verdict = verdict_of(filled.record)
    assert verdict.fault is None
    assert verdict.acts == filled.last
    assert verdict.rows == 3 * len(filled.ids) + 2
    with filled.record.look() as look:
        assert verdict.head == look.head()


def test_progress_is_told_of_every_thousandth_act(
    record: SqlRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    """How many were looked at, of how many."""
    monkeypatch.setattr("ebbline.adapters.sql.verify._TOLD_EVERY", 2)
    for number in range(5):
        with record.act("backup", by="", why="", token=None) as act:
            act.warn(f"backup {number}")
    told: list[tuple[int, int]] = []
    verify(record, head=None, progress=lambda done, total: told.append((done, total)))
    assert told == [(2, 5), (4, 5)]


HISTORY = [
    ("UPDATE history SET at = '2020-01-01T00:00:00.000000Z' WHERE seq = 4", 4, "at is not what"),
    ("UPDATE history SET by = 'x' WHERE seq = 4", 4, "row 4: by is not what was recorded"),
    ("UPDATE history SET act = 'x' WHERE seq = 4", 4, "row 4: act is not what was recorded"),
    ("UPDATE history SET token = 'x' WHERE seq = 4", 4, "row 4: token is not what was recorded"),
    ("UPDATE history SET body = '{}' WHERE seq = 4", 4, "row 4 does not follow"),
    ("UPDATE history SET hash = 'ff' WHERE seq = 4", 4, "row 4 does not follow"),
    ("DELETE FROM history WHERE seq = 4", 4, "row 4 is missing; row 5 follows"),
    ("DELETE FROM history WHERE seq = 1", 1, "row 1 is missing; row 2 follows row 0"),
    ("UPDATE history SET seq = 0 WHERE seq = 4", 1, "row 0 stands where row 1 is due"),
    ("UPDATE history_why SET words = 'x' WHERE seq = 3", 3, "its reason is not what was given"),
    ("UPDATE history_why SET salt = NULL WHERE seq = 3", 3, "its reason is not what was given"),
    ("DELETE FROM history_why WHERE seq = 3", 3, "row 3: its reason is missing"),
    (
        "UPDATE history_why SET words = NULL, salt = NULL WHERE seq = 3",
        3,
        "row 3: its reason was emptied, and no erasure says so",
    ),
    (
        "INSERT INTO history_why VALUES (1000, 'x', 'y')",
        1000,
        "the reason says that row 1000 recorded it; there is none",
    ),
]


@pytest.mark.parametrize(("statement", "seq", "words"), HISTORY)
def test_a_changed_history_is_found(filled: Filled, statement: str, seq: int, words: str) -> None:
    """At the row that was edited, taken out, or put in."""
    tamper(filled.record, statement)
    fault = fault_of(filled.record)
    assert fault.seq == seq
    assert words in fault.words


def test_a_reason_where_none_was_given_is_found(filled: Filled) -> None:
    """The last act had none."""
    tamper(filled.record, "INSERT INTO history_why VALUES (:seq, 'x', 'y')", seq=filled.last)
    words = f"row {filled.last}: a reason is stored, and none was given"
    assert fault_of(filled.record) == Fault(filled.last, "", words)


def test_acts_that_changed_places_are_found_at_the_first(filled: Filled) -> None:
    """Even where each row takes its hash along."""
    tamper(
        filled.record,
        "CREATE TEMPORARY TABLE held AS SELECT * FROM history WHERE seq IN (5, 9)",
        "UPDATE history SET body = (SELECT body FROM held WHERE held.seq = 14 - history.seq), "
        "hash = (SELECT hash FROM held WHERE held.seq = 14 - history.seq) WHERE seq IN (5, 9)",
    )
    assert fault_of(filled.record) == Fault(5, "", "row 5 does not follow from the row before it")


def test_an_act_that_was_put_in_at_the_end_is_found(filled: Filled) -> None:
    """It does not follow from the last one."""
    tamper(
        filled.record,
        "INSERT INTO history SELECT seq + 1, at, by, act, 'new', body, hash FROM history "
        "WHERE seq = (SELECT max(seq) FROM history)",
    )
    assert fault_of(filled.record).seq == filled.last + 1


def test_an_act_that_was_cut_off_leaves_its_rows_behind(filled: Filled) -> None:
    """They say which act is gone."""
    tamper(filled.record, "DELETE FROM history WHERE seq = (SELECT max(seq) FROM history)")
    fault = fault_of(filled.record)
    assert fault.seq == filled.last
    assert fault.words.endswith(f"says that row {filled.last} recorded it; there is none")


EMPTY = ", ".join(
    f"{name} = NULL" for name in ["salt", *(one.name for one in columns_of(Identity) if one.apart)]
)
ENTRIES = [
    ("patient", "UPDATE patient SET sex = 'x' WHERE version = 1", "is not what row"),
    ("test", "UPDATE test SET weight_kg = 9", "is not what row"),
    ("test", "UPDATE test SET invented = (1 = 0)", "is not what row"),
    ("identity", "UPDATE identity SET family_name = 'x' WHERE version = 1", "is not what row"),
    ("identity", "UPDATE identity SET born = NULL WHERE version = 1", "is not what row"),
    ("identity", "UPDATE identity SET salt = NULL WHERE version = 1", "is not what row"),
    ("identity", "UPDATE identity SET apart_digest = 'x' WHERE version = 1", "is not what row"),
    ("report", "UPDATE report SET pages = NULL", "is not what row"),
    ("dose", "DELETE FROM dose", "is missing"),
    ("patient", "DELETE FROM patient WHERE version = 1", "is missing"),
    ("dose", "UPDATE dose SET version = 7", "is missing"),
    ("dose", "UPDATE dose SET id = 'other'", "is missing"),
    ("dose", "DELETE FROM entry WHERE kind = 'dose'", "is missing from the list of ids"),
    ("dose", "UPDATE entry SET kind = 'test' WHERE kind = 'dose'", "is missing from the list"),
    ("identity", f"UPDATE identity SET {EMPTY} WHERE version = 1", "was emptied, and no erasure"),
    (
        "competence_proof",
        (
            "INSERT INTO competence_proof SELECT 'new', version, seq, user_id, task, from_day, "
            "until_day, words FROM competence_proof"
        ),
        "competence_proof new version 1 was not recorded by row",
    ),
    (
        "dose",
        "INSERT INTO entry SELECT 'new', 'dose', seq FROM entry WHERE kind = 'dose'",
        "dose new is in the list of ids, and row",
    ),
]


@pytest.mark.parametrize(("kind", "statement", "words"), ENTRIES)
def test_a_changed_entry_is_found(filled: Filled, kind: str, statement: str, words: str) -> None:
    """At the act that wrote it, with its kind and id."""
    tamper(filled.record, statement)
    fault = fault_of(filled.record)
    assert fault.seq == filled.acts[kind]
    assert fault.entry.startswith(f"{kind} ")
    assert words in fault.words


def test_a_row_that_moved_to_a_later_act_is_missing_from_its_own(filled: Filled) -> None:
    """The earlier of the two acts is named."""
    tamper(filled.record, "UPDATE dose SET seq = seq + 2")
    assert fault_of(filled.record).seq == filled.acts["dose"]
    assert "is missing" in fault_of(filled.record).words


def test_a_row_that_moved_to_an_earlier_act_was_not_recorded_by_it(filled: Filled) -> None:
    """The earlier of the two acts is named."""
    tamper(filled.record, "UPDATE dose SET seq = 2")
    assert fault_of(filled.record).seq == 2
    assert "was not recorded by row 2" in fault_of(filled.record).words


def test_a_row_of_no_act_is_found(filled: Filled) -> None:
    """Whether its act comes before the first or after the last."""
    tamper(filled.record, "UPDATE dose SET seq = -3")
    assert fault_of(filled.record).seq == -3
    tamper(filled.record, "UPDATE dose SET seq = 1000")
    assert fault_of(filled.record).seq == filled.acts["dose"]


def test_what_a_head_from_outside_shows(filled: Filled) -> None:
    """That acts were cut off without a trace, or that all of them were written anew."""
    with filled.record.look() as look:
        head = look.head()
    assert verify(filled.record, head=head, progress=quiet).fault is None
    assert verify(filled.record, head=(0, START), progress=quiet).fault is None
    other = verify(filled.record, head=(4, "f" * 64), progress=quiet)
    assert other.fault == Fault(
        4, "", "row 4 has another hash than the one that was kept: the record was rewritten"
    )
    assert other.acts == 3
    tables = ["history_why", "entry", *reversed(KINDS), "history"]
    statements = [
        f'DELETE FROM "{table}" WHERE seq = (SELECT max(seq) FROM history)' for table in tables
    ]
    tamper(filled.record, *statements)
    assert verdict_of(filled.record).fault is None
    cut = verify(filled.record, head=head, progress=quiet).fault
    assert cut == Fault(
        head[0],
        "",
        f"row {head[0]} is missing: the record ends before row {head[0]}, which was kept",
    )


@pytest.mark.parametrize(
    "body",
    [
        "no JSON",
        "[]",
        '{"seq": 1}',
        (
            '{"act":"x","at":"","by":"","changes":[["dose"]],"seq":1,"token":null,"warned":[],'
            '"why":null,"zone":""}'
        ),
    ],
)
def test_a_body_that_is_none_is_found_though_its_hash_was_made_anew(
    record: SqlRecord, body: str
) -> None:
    """A record that was written anew still has to say what an act says."""
    with record.act("backup", by="", why="", token=None) as act:
        act.warn("x")
    statement = "UPDATE history SET body = :body, hash = :hash"
    tamper(record, statement, body=body, hash=link(START, body))
    assert fault_of(record) == Fault(1, "", "row 1: its body is not one of an act")


def test_a_value_that_no_entry_can_hold_does_not_verify(filled: Filled) -> None:
    """It is named, and verifying does not break off: a NaN, and in SQLite a text for a number."""
    if filled.record.engine.dialect.name == "sqlite":
        tamper(filled.record, "UPDATE test SET weight_kg = 'heavy'")
    else:
        tamper(filled.record, "UPDATE test SET weight_kg = 'NaN'")
    assert fault_of(filled.record).seq == filled.acts["test"]


def test_a_row_whose_act_is_no_number_belongs_to_none(filled: Filled) -> None:
    """Only SQLite keeps such a row; on a server the number is one that no act has."""
    none = "'none'" if filled.record.engine.dialect.name == "sqlite" else "-1"
    tamper(filled.record, f"UPDATE dose SET seq = {none}")
    dose = filled.ids["dose"]
    assert fault_of(filled.record) == Fault(
        -1,
        f"dose {dose} version 1",
        f"dose {dose} version 1 says that row -1 recorded it; there is none",
    )


def test_a_record_verifies_while_others_work(record: SqlRecord) -> None:
    """Each time up to the act that was the last when verifying began."""
    stop = threading.Event()
    acts: list[int] = []

    def work() -> None:
        while not stop.is_set():
            with record.act("register patient", by="", why="asked", token=None) as act:
                act.add(Patient(act.new_id(), "female", "en", True))
            acts.append(1)

    worker = threading.Thread(target=work)
    worker.start()
    try:
        for _ in range(5):
            done = len(acts)
            verdict = verdict_of(record)
            assert verdict.fault is None
            assert done <= verdict.acts <= len(acts) + 1
    finally:
        stop.set()
        worker.join()
    assert len(acts) > 5


MEASURE = """
import resource, sys
from datetime import UTC, datetime
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.verify import verify
record = SqlRecord(record_url(sys.argv[1]), now=lambda: datetime.now(UTC), zone="UTC", wait_s=5)
verify(record, head=None, progress=lambda done, total: None)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def test_the_memory_that_verifying_takes_does_not_grow_with_the_record(
    record: SqlRecord, address: str
) -> None:
    """Eight times the pages of reports, 40 MB of them: less than 15 MB more."""
    ids = fill(record, "Shore")

    def add_reports(count: int) -> None:
        for _ in range(count):
            with record.act("draft report", by="", why="", token=None) as act:
                report = act.get(Report, ids["report"]).entry
                act.add(replace(report, id=act.new_id(), pages=os.urandom(500_000)))

    def used_kb() -> int:
        done = subprocess.run(
            [sys.executable, "-c", MEASURE, address], capture_output=True, text=True, check=True
        )
        return int(done.stdout)

    add_reports(10)
    before = used_kb()
    add_reports(70)
    assert used_kb() - before < 15_000


@pytest.mark.parametrize(
    "damage",
    [
        lambda packed: packed + b"x",
        lambda packed: packed[:-3],
        lambda packed: b"no stream at all",
        lambda packed: packed[:4] + bytes([packed[4] ^ 1]) + packed[5:],
    ],
    ids=["appended", "cut", "replaced", "flipped"],
)
def test_damage_to_packed_bytes_is_found(filled: Filled, damage: Callable[[bytes], bytes]) -> None:
    """The pages of a report are kept compressed; whatever was done to them shows."""
    with filled.record.reading() as connection:
        packed = bytes(connection.scalar(text("SELECT pages FROM report")) or b"")
    tamper(filled.record, "UPDATE report SET pages = :pages", pages=damage(packed))
    assert fault_of(filled.record).seq == filled.acts["report"]
