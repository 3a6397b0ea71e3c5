"""Print the preparation sheet of an invented test as text.

    python show_sheet.py harbour.ebbline 2

prints that of test 2 on the record of the invented morning. The patient gets the same sheet as PDF.
"""

import sys
from dataclasses import replace
from zoneinfo import ZoneInfo

from ebbline.adapters.sql.engine import must_exist
from ebbline.bootstrap import door_of, record_at
from ebbline.core.clinic.record.staff import User
from ebbline.core.clinic.record.visit import Test
from ebbline.core.clinic.sheet import sheet_text
from ebbline.core.errors import EbblineError
from ebbline.services.clinic.desk import Actor
from ebbline.services.clinic.visit.preparation_sheet import read_sheet


def main(where: str, number: int) -> None:
    """Print it, as M. Tide reads it."""
    record = record_at(where)
    try:
        must_exist(record.url)
        # The clinic's clock on the wall, wherever this computer stands.
        clinic = replace(door_of(record).clinic, zone=ZoneInfo("Europe/London"))
        with record.look() as look:
            (tide,) = look.find(User, {"login": "tide"})
            (test,) = look.find(Test, {"number": number})
        sheet = read_sheet(clinic, Actor(tide.entry.id), test_id=test.entry.id, guidance="service")
        print(sheet_text(sheet), end="")
    except EbblineError as error:
        sys.exit(str(error))
    finally:
        record.close()


if __name__ == "__main__" and len(sys.argv) == 3:
    main(sys.argv[1], int(sys.argv[2]))
