"""A process that guesses a password: ``python -m tests.services.clinic.guess ADDRESS LOGIN COUNT``.

It prints one line for each try: what it was told.
"""

import sys

from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.errors import AccessError
from tests.records import Clock
from tests.services.clinic.doors import come_in, make_door


def guess(address: str, login: str, count: int) -> list[str]:
    """Return what a process of its own is told when it tries a wrong password so often."""
    clock = Clock()
    record = SqlRecord(record_url(address), now=clock, zone="Europe/London", wait_s=30.0)
    door = make_door(record, clock)
    told = []
    for number in range(count):
        try:
            come_in(door, login, f"wrong guess {number}")
        except AccessError as error:
            told.append(error.wrong)
    record.close()
    return told


if __name__ == "__main__":
    print("\n".join(guess(sys.argv[1], sys.argv[2], int(sys.argv[3]))))
