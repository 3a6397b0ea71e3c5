"""A program that records invented patients, each in an act of its own, and says when it is done.

Its arguments: the address of the record, a name for its tokens, and how many acts to do.
"""

import sys
from datetime import UTC, datetime

from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.clinic.record.people import Patient


def main(address: str, whose: str, acts: int) -> None:
    """Do the acts."""
    record = SqlRecord(
        record_url(address), now=lambda: datetime.now(UTC), zone="Europe/London", wait_s=60.0
    )
    for number in range(acts):
        with record.act("register patient", by="", why="", token=f"{whose}-{number}") as act:
            act.add(Patient(act.new_id(), "female", "en", True))
        print(number, flush=True)
    record.close()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
