"""A record of ten busy years: how long the day list and a test's history take, and how it grows.

The record is made once and kept in the folder that ``EBBLINE_BENCHMARK`` names, else in the
temporary folder of the machine; it takes about 9 GB and ten minutes. The peer is sqlite3, plainly:
the same rows of the same file by a query written for it alone, without ebbline.
"""

import os
import sqlite3
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from benchmarks.ten_years import BEGINNING, fill
from benchmarks.timing import Figure, Times, interleave, ratio
from ebbline.adapters.files.clinic_rules import load_clinic_rules
from ebbline.adapters.files.documents import DataDocuments
from ebbline.adapters.files.library import load_library
from ebbline.adapters.sql.create import create_tables
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.views import day_rows
from ebbline.core.clinic.record.staff import User
from ebbline.core.clinic.record.visit import Test
from ebbline.services.clinic.bench.breath_taken import Typed
from ebbline.services.clinic.bench.day_list import day_list
from ebbline.services.clinic.bench.right_patient import Checked
from ebbline.services.clinic.bench.take_sample import take_sample
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.people.find_patients import find_patients
from ebbline.services.clinic.people.register_patient import Person, register_patient
from ebbline.services.clinic.report.history_of_test import history_of_test

TESTS = 50_000
PAGES = 50_000
"""Bytes that the pages of a report take when they are packed; a draft has them as well."""
DOCUMENT = 3_700
"""Bytes that the document of an interpretation takes when it is packed."""
REPEATS = 40

_DAY = """
    SELECT b.slot, b.chair, t.number, t.state, i.family_name,
           (SELECT group_concat(planned_minute, ' ') FROM sample_try s
            WHERE s.test_id = t.id AND s.status IN ('ok', 'missed'))
    FROM booking b JOIN test t ON t.id = b.test_id JOIN identity i ON i.patient_id = t.patient_id
    WHERE b.slot >= ? AND b.slot < ?
      AND NOT EXISTS (SELECT 1 FROM booking l WHERE l.id = b.id AND l.version = b.version + 1)
      AND NOT EXISTS (SELECT 1 FROM test l WHERE l.id = t.id AND l.version = t.version + 1)
    ORDER BY b.slot, b.chair
"""
_OF_TEST = ("booking", "arrival", "preparation", "screening", "dose", "sample_try", "symptoms",
            "baseline_decision", "snapshot", "report", "signature")  # fmt: skip


def ten_years_record() -> Path:
    """Return the file of the record, made where it is not there yet."""
    folder = Path(os.environ.get("EBBLINE_BENCHMARK", tempfile.gettempdir()))
    path = folder / f"ten-years-{TESTS}.ebbline"
    if not path.exists():
        part = path.with_suffix(".part")
        part.unlink(missing_ok=True)
        record = _open(part, lambda: datetime.now(UTC))
        create_tables(record, service="Harbour Clinic (invented)", invented=True)
        for done in fill(record, tests=TESTS, pages=PAGES, document=DOCUMENT, seed=1):
            if done % 5000 == 0:
                print(f"  {done} of {TESTS} tests", flush=True)
        record.close()
        part.rename(path)
    return path


def measure() -> list[Figure]:
    """Return the figures of the record."""
    path = ten_years_record()
    last_day = BEGINNING + timedelta(days=3652)
    now = last_day.replace(hour=10, minute=20, second=0, microsecond=0)
    library = load_library()
    clinic = Clinic(
        record=_open(path, lambda: now),
        documents=DataDocuments(library.substrates),
        library=library,
        rules=load_clinic_rules(library),
        zone=ZoneInfo("Europe/London"),
    )
    with clinic.record.look() as look:
        who = Actor(look.find(User, {"login": "user0"})[0].entry.id)
        signed = look.find(Test, {"number": TESTS // 2})[0].entry
        running = look.find(Test, {"number": TESTS})[0].entry
    plain = sqlite3.connect(path)
    begin = last_day.strftime("%Y-%m-%dT00:00:00.000000Z")
    end = (last_day + timedelta(days=1)).strftime("%Y-%m-%dT00:00:00.000000Z")
    day = last_day.date()
    lines = day_list(clinic, who, day=day, now=now, rows=day_rows)
    assert len(lines) == len(plain.execute(_DAY, (begin, end)).fetchall()) > 0
    reads = interleave(
        {
            "day": lambda: day_list(clinic, who, day=day, now=now, rows=day_rows),
            "day, plainly": lambda: plain.execute(_DAY, (begin, end)).fetchall(),
            "history": lambda: history_of_test(clinic, who, test_id=signed.id),
            "history, plainly": lambda: _plain_history(plain, signed.id),
            "search": lambda: find_patients(clinic, who, name="shore ada", record_no="", born=None),
            "number": lambda: find_patients(clinic, who, name="", record_no="HC-025000", born=None),
        },
        REPEATS,
    )
    numbers = iter(range(10**6))
    writes = interleave(
        {
            "sample": lambda: _sample(clinic, who, running.id, next(numbers)),
            "patient": lambda: _patient(clinic, who, next(numbers), now),
        },
        REPEATS,
    )
    size = path.stat().st_size
    return [
        _against("the day's list, 6 tests running", reads["day"], reads["day, plainly"], 0.05),
        _against("everything about one test", reads["history"], reads["history, plainly"], 0.1),
        _alone("patients by name, of 50 000", reads["search"]),
        _alone("a patient by record number", reads["number"]),
        _alone("take a sample, on the disk", writes["sample"]),
        _alone("register a patient, on the disk", writes["patient"]),
        Figure(
            what=f"size of {TESTS:,} tests, {12 * TESTS:,} samples".replace(",", " "),
            ours=f"{size / 1e9:.1f} GB",
            peer="",
            figure=f"{size / TESTS / 1e3:.0f} kB a test",
            goal="none",
            met=None,
        ),
    ]


def _open(path: Path, now: Callable[[], datetime]) -> SqlRecord:
    return SqlRecord(record_url(str(path)), now=now, zone="Europe/London", wait_s=10.0)


def _plain_history(plain: sqlite3.Connection, test_id: str) -> None:
    """Read every row of a test, and the acts that wrote them."""
    seqs = [row[0] for row in plain.execute("SELECT seq FROM test WHERE id = ?", (test_id,))]
    for table in _OF_TEST:
        rows = plain.execute(f"SELECT * FROM {table} WHERE test_id = ?", (test_id,)).fetchall()
        seqs += [row[2] for row in rows]
    marks = ",".join("?" * len(seqs))
    plain.execute(f"SELECT * FROM history WHERE seq IN ({marks})", seqs).fetchall()


def _sample(clinic: Clinic, who: Actor, test_id: str, number: int) -> None:
    typed = Typed(8.0, 2.0, None, None)
    take_sample(
        clinic, who, test_id=test_id, checked=Checked(test_id, {}), breath=typed,
        typed_again=typed, confirmed=True, to_repeat=True, at=None, planned_minute=120.0,
        analyser_id=None, note="", token=f"benchmark {os.getpid()} {number}",
    )  # fmt: skip


def _patient(clinic: Clinic, who: Actor, number: int, now: datetime) -> None:
    person = Person(
        "Shore", "Ada", now.date() - timedelta(days=number), f"B-{os.getpid()}-{number}", "", ""
    )
    register_patient(
        clinic, who, person=person, sex="female", language="en", invented=True, not_these=(),
        token=None,
    )  # fmt: skip


def _against(what: str, ours: Times, peer: Times, goal_s: float) -> Figure:
    return Figure(
        what=what,
        ours=str(ours),
        peer=f"sqlite3, plainly: {peer}",
        figure=ratio(ours, peer)[1],
        goal=f"under {goal_s * 1e3:.0f} ms",
        met=ours.median < goal_s,
    )


def _alone(what: str, ours: Times) -> Figure:
    return Figure(what=what, ours=str(ours), peer="", figure="", goal="none", met=None)
