"""The clinic that is killed: ``python -m benchmarks.crash_clinic ADDRESS SLOT HOURS``.

For each line on its input, the number of a round, it forks a process that plays that round of the
scripted clinic and prints a line of JSON after every act that was answered. The one that forks does
nothing else, so that each round starts at once.
"""

import json
import os
import sys
from datetime import UTC, datetime, timedelta, timezone

from benchmarks.scripted_clinic import Script, set_up
from ebbline.adapters.files.clinic_rules import load_clinic_rules
from ebbline.adapters.files.documents import DataDocuments
from ebbline.adapters.files.library import load_library
from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.report.issue import Issue

WAIT_S = 20.0


def open_clinic(address: str, hours: float) -> Clinic:
    """Return the scripted clinic over a record; its zone is so many hours from UTC."""
    library = load_library()
    record = SqlRecord(
        record_url(address), now=lambda: datetime.now(UTC), zone="Etc/UTC", wait_s=WAIT_S
    )
    return Clinic(
        record=record,
        documents=DataDocuments(library.substrates),
        library=library,
        rules=load_clinic_rules(library),
        zone=timezone(timedelta(hours=hours)),
    )


def draw(interpretation: Interpretation, issue: Issue) -> bytes:
    """Return pages of the size of a real report; typesetting is not what is tried here."""
    return f"{interpretation.id} {issue.name} {issue.head_hash}\n".encode() * 1200


def play(clinic: Clinic, round_no: int, slot: datetime) -> None:
    """Play one round and tell every act that was answered."""
    people = set_up(clinic)
    for done in Script(clinic, people, round_no=round_no, slot=slot, draw=draw).play():
        told = {"token": done.token, "test": done.test_id, "t0": done.t0 and done.t0.isoformat()}
        # One write call: a line is told whole or not at all.
        os.write(1, json.dumps(told).encode() + b"\n")


def main(address: str, slot: str, hours: str) -> int:
    """Fork a process for each round that is asked for."""
    clinic = open_clinic(address, float(hours))
    os.write(1, b"ready\n")
    for line in sys.stdin:
        process = os.fork()
        if process == 0:
            play(clinic, int(line), datetime.fromisoformat(slot))
            os._exit(0)
        os.write(1, f"pid {process}\n".encode())
        _, status = os.waitpid(process, 0)
        os.write(1, f"end {os.waitstatus_to_exitcode(status)}\n".encode())
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
