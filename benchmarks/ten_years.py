"""Ten invented years of a busy service, written into a record as its acts would write them.

The rows are made by the code that makes them at the bench; only the writing is in bulk, since no
disk takes a million transactions in the time of a benchmark.
"""

import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Literal

from sqlalchemy import Connection, insert

from ebbline.adapters.files.documents import DataDocuments
from ebbline.adapters.files.library import load_library
from ebbline.adapters.sql.act import SqlAct
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import ENTRY, HISTORY, TABLES
from ebbline.core.clinic.identify import search_text
from ebbline.core.clinic.record.bench import BaselineDecision, SampleTry, Symptoms
from ebbline.core.clinic.record.chain import START, ActDone, Change, body_of, link
from ebbline.core.clinic.record.entry import Entry
from ebbline.core.clinic.record.people import Identity, Patient, Referral
from ebbline.core.clinic.record.result import Report, Signature, Snapshot
from ebbline.core.clinic.record.staff import Adoption, Analyser, User
from ebbline.core.clinic.record.visit import (
    Arrival,
    Booking,
    Dose,
    Preparation,
    Screening,
    Test,
)
from ebbline.core.clinic.record.written import sha256, write_moment

BEGINNING = datetime(2016, 11, 28, 8, 0, tzinfo=UTC)
MINUTES = (0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0, 105.0, 120.0, 135.0, 150.0, 180.0)
FAMILY = ("Shore", "Tide", "Wave", "Harbour", "Quay", "Buoy", "Reef", "Sand", "Gull", "Mast")
GIVEN = ("Ada", "Ben", "Cara", "Dan", "Eve", "Finn", "Gwen", "Hal", "Iris", "Jon")
ITEMS = (
    "medicines", "antibiotics", "bowel-cleansing", "bowel-medicines", "probiotics", "diet", "fast",
    "smoking", "gum", "exercise", "sleep", "teeth",
)  # fmt: skip
QUESTIONS = (
    "hereditary-fructose-intolerance", "galactosaemia", "diabetes", "sucrase-deficiency", "dumping",
    "milk-allergy", "other-allergy", "pregnancy", "recent-surgery", "obstruction", "infection",
)  # fmt: skip
SUMMARY = {
    "duration_s": 14.2, "samples": 142, "marker": "o2_pct", "onset_s": 2.31, "turn_s": 11.84,
    "held": 38, "slope_ppm_per_s": 0.041, "h2_sd_ppm": 0.62, "noise_gain": 2.1, "volume_l": 1.9,
    "zero_ppm": 0.4, "drift_ppm": -0.12, "profile": "harbour-stream", "cycle": "stream",
}  # fmt: skip
_AT_ONCE = 250


class BulkRecord:
    """Collects what acts write, and writes it in bulk; chain, digests and salts as always."""

    def __init__(self, connection: Connection, rng: random.Random) -> None:
        self._connection = connection
        self._rng = rng
        self._rows: dict[str, list[dict[str, object]]] = {}
        self._history: list[dict[str, object]] = []
        self._ids: list[dict[str, object]] = []
        self._maker = SqlAct(
            connection, act="", by="", why="", token=None, at=BEGINNING, zone="Europe/London"
        )
        self.seq, self._head = 0, START

    def id(self) -> str:
        """Return an id, the same ones in each run."""
        return f"{self._rng.getrandbits(80):020x}"

    def act(self, name: str, by: str, at: datetime, *written: tuple[Entry, int]) -> int:
        """Keep one act with the entries and versions that it writes."""
        self.seq += 1
        changes: list[Change] = []
        for entry, version in written:
            kind, row, change = self._maker._row(entry, version, self.seq)
            self._rows.setdefault(kind, []).append(row)
            changes.append(change)
            if version == 1:
                self._ids.append({"id": entry.id, "kind": kind, "seq": self.seq})
        done = ActDone(
            seq=self.seq,
            at=write_moment(at),
            zone="Europe/London",
            by=by,
            act=name,
            why_digest=None,
            token=f"{self._rng.getrandbits(128):032x}",
            warned=(),
            changes=tuple(changes),
        )
        body = body_of(done)
        self._head = link(self._head, body)
        self._history.append(
            {
                "seq": self.seq,
                "at": done.at,
                "by": by,
                "act": name,
                "token": done.token,
                "body": body,
                "hash": self._head,
            }
        )
        return self.seq

    def write(self) -> None:
        """Write everything that was collected."""
        self._connection.execute(insert(HISTORY), self._history)
        self._connection.execute(insert(ENTRY), self._ids)
        for name, rows in self._rows.items():
            self._connection.execute(insert(TABLES[name]), rows)
        self._history.clear()
        self._ids.clear()
        self._rows.clear()


RUNNING = 6
"""How many tests are running at the end, on the last day."""


def fill(record: SqlRecord, *, tests: int, pages: int, document: int, seed: int) -> Iterator[int]:
    """Write a service's tests into a record and yield how many are in.

    Parameters
    ----------
    record : SqlRecord
        With its tables and nothing in it.
    tests : int
        How many, spread over ten years; each has 12 samples.
    pages, document : int
        Size of a signed report and of a compressed interpretation, bytes.
    seed : int
        For what is drawn.

    Yields
    ------
    int
    """
    rng = random.Random(seed)
    step = timedelta(days=3652) / tests
    staff: list[str] = []
    done = 0
    while done < tests:
        with record.writing() as connection:
            bulk = BulkRecord(connection, rng)
            if done:
                bulk.seq, bulk._head = SqlAct.head(bulk._maker)
            else:
                staff = _service(bulk)
            for number in range(done + 1, min(done + _AT_ONCE, tests) + 1):
                running = number > tests - RUNNING
                day = BEGINNING + (timedelta(days=3652) if running else step * (number - 1))
                slot = day.replace(minute=number % 60, second=0, microsecond=0)
                _one_test(
                    bulk, staff, number, slot, pages=pages, document=document, running=running,
                    rng=rng,
                )  # fmt: skip
            bulk.write()
        done = min(done + _AT_ONCE, tests)
        yield done


def _service(bulk: BulkRecord) -> list[str]:
    """Record the people, the analyser and what was adopted; return their ids."""
    users = [
        User(bulk.id(), f"user{i}", f"User {i}", ("bench", "reviewer"), True) for i in range(8)
    ]
    analyser = Analyser(bulk.id(), "analyser 1", "HC-A1", "electrochemical", "", True)
    documents = DataDocuments(load_library().substrates)
    adopted = [
        _adopted(bulk, "rule set", documents.offered("rule set", "north-american-2017")),
        _adopted(bulk, "protocol", documents.offered("protocol", "lactose-180")),
    ]
    entries = [*users, analyser, *adopted]
    bulk.act("manage users", "", BEGINNING, *((one, 1) for one in entries))
    return [one.id for one in entries]


def _adopted(bulk: BulkRecord, what: Literal["rule set", "protocol"], text: str) -> Adoption:
    name = {"rule set": "north-american-2017", "protocol": "lactose-180"}[what]
    return Adoption(bulk.id(), what, name, "1", text, sha256(text), "Dr L. Harbour", True)


def _one_test(  # noqa: PLR0915 — one test from its beginning to its end, act by act
    bulk: BulkRecord,
    staff: list[str],
    number: int,
    slot: datetime,
    *,
    pages: int,
    document: int,
    running: bool,
    rng: random.Random,
) -> None:
    """Record one test from the referral to the signed report, or to the sixth sample."""
    nurse, reviewer = staff[number % 4], staff[4 + number % 4]
    analyser, criterion, protocol = staff[8], staff[9], staff[10]
    early = slot - timedelta(days=20)
    patient = Patient(bulk.id(), "female", "en", True)
    family, given = rng.choice(FAMILY), rng.choice(GIVEN)
    record_no, national_no = f"HC-{number:06}", f"N{rng.randrange(10**9):09}"
    search = search_text(
        family_name=family, given_name=given, record_no=record_no, national_no=national_no
    )
    born = date(1940, 1, 1) + timedelta(days=rng.randrange(28_000))
    identity = Identity(
        bulk.id(), patient.id, family, given, born, record_no, national_no, "01632 960000", search
    )
    bulk.act("register patient", nurse, early, (patient, 1), (identity, 1))
    referral = Referral(
        bulk.id(), patient.id, early.date(), "Dr L. Harbour", "Dr S. Cliff",
        "bloating and loose stools after milk for two years", (), True, "none that matter", "no",
        "", "none",
    )  # fmt: skip
    bulk.act("refer", nurse, early, (referral, 1))
    test = Test(
        id=bulk.id(), number=number, patient_id=patient.id, referral_id=referral.id,
        substrate="lactose", mix="plain", protocol_id=protocol, criterion_id=criterion,
        state="booked", state_why="", t0=None, t0_defined_as="end of the drink", age_years=41.7,
        weight_kg=None, site="room 2", invented=True,
    )  # fmt: skip
    booking = Booking(bulk.id(), test.id, patient.id, slot, "chair 1", analyser, "1", ())
    bulk.act("book", nurse, early, (test, 1), (booking, 1))
    version = 1

    def step(name: str, at: datetime, *written: Entry, **changes: object) -> None:
        nonlocal test, version
        test, version = replace(test, **changes), version + 1  # type: ignore[arg-type]
        bulk.act(name, nurse, at, *((one, 1) for one in written), (test, version))

    step("arrive", slot, Arrival(bulk.id(), test.id, ("born", "family_name"), "spoken", ""),
         state="arrived")  # fmt: skip
    answers = {name: {"word": "yes", "on": "2026-10-01"} for name in ITEMS}
    bulk.act("answer preparation", nurse, slot, (
        Preparation(bulk.id(), test.id, "service", answers, {}, {}), 1))  # fmt: skip
    safety = dict.fromkeys(QUESTIONS, "no")
    bulk.act("answer safety", nurse, slot, (Screening(bulk.id(), test.id, safety), 1))
    step("weigh", slot, weight_kg=64.0)
    step("arrive", slot, state="cleared")
    fasting = _try(bulk, test, analyser, nurse, 0.0, slot + timedelta(minutes=5), rng)
    bulk.act("take sample", nurse, fasting.at, (fasting, 1))
    decision = BaselineDecision(bulk.id(), test.id, "go", "mean", (fasting.id,), (), "", nurse)
    bulk.act("decide baseline", nurse, fasting.at, (decision, 1))
    dose = Dose(
        bulk.id(), test.id, "lactose-adult-25", "lactose", "plain", 25.0, None, None, False, 25.0,
        240.0, "LA-2201", date(2030, 1, 1), "25 g, the same at every weight", nurse, False, None,
        "all",
    )  # fmt: skip
    bulk.act("prepare dose", nurse, slot, (dose, 1))
    step("hand over", slot + timedelta(minutes=8), state="dosed")
    t0 = slot + timedelta(minutes=12)
    step("record T0", t0, t0=t0, state="sampling")
    for minute in MINUTES[1:6] if running else MINUTES[1:]:
        at = t0 + timedelta(minutes=minute, seconds=rng.randrange(90))
        one = _try(bulk, test, analyser, nurse, minute, at, rng)
        bulk.act("take sample", nurse, at, (one, 1))
        scores = {name: rng.randrange(5) for name in ("pain", "bloating", "flatulence")}
        bulk.act("record symptoms", nurse, at, (
            Symptoms(bulk.id(), test.id, minute, at, "0-10", scores, ""), 1))  # fmt: skip
    if running:
        return
    end = t0 + timedelta(minutes=185)
    step("finish test", end, state="finished")
    findings = tuple((rules, "carbohydrate-malabsorption", "positive") for rules in FAMILY)
    snapshot = Snapshot(
        bulk.id(),
        test.id,
        "0000-0000-0000",
        "ebbline",
        criterion,
        findings,
        rng.randbytes(document),
    )
    bulk.act("interpret", nurse, end, (snapshot, 1))
    pdf = rng.randbytes(pages)
    draft = Report(
        bulk.id(), test.id, 1, "draft", snapshot.id, nurse, sha256(pdf), bulk.seq, "0" * 64, "", "",
        pdf,
    )  # fmt: skip
    step("draft report", end, draft, state="drafted")
    pdf = rng.randbytes(pages)
    signed = replace(draft, status="signed", digest=sha256(pdf), pages=pdf)
    signature = Signature(
        bulk.id(), draft.id, test.id, reviewer, "Dr L. Harbour", "reviewer", signed.digest
    )
    test, version = replace(test, state="signed"), version + 1
    bulk.act("sign report", reviewer, end, (signed, 2), (signature, 1), (test, version))


def _try(
    bulk: BulkRecord,
    test: Test,
    analyser: str,
    nurse: str,
    minute: float,
    at: datetime,
    rng: random.Random,
) -> SampleTry:
    """Return one accepted breath with the summary of its trace."""
    h2 = round(rng.uniform(2.0, 90.0), 2)
    return SampleTry(
        id=bulk.id(), test_id=test.id, planned_minute=minute, label="B1" if minute == 0.0 else "",
        at=at, status="ok", way="blow", h2_ppm=h2, ch4_ppm=3.2, o2_pct=14.1, co2_pct=None,
        h2_normalised_ppm=h2, ch4_normalised_ppm=3.2, h2_u_ppm=1.4, ch4_u_ppm=0.8,
        alveolar_fraction=0.97, quality="accepted", reasons=(),
        trace_digest=f"{rng.getrandbits(256):064x}", trace_summary=SUMMARY, analyser_id=analyser,
        calibration_id=None, operator=nurse, checked=("label",), note="", moved_from=None,
        moved_to=None,
    )  # fmt: skip
