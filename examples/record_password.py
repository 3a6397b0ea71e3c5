"""Choose a password of one's own at a record, or rescue a manager whom nobody else can help.

    python record_password.py RECORD choose LOGIN
    python record_password.py RECORD rescue LOGIN

With the invented record of the tutorial, RECORD is harbour.ebbline. Rescue asks for no password:
whoever can start it could write to the database anyway. The history keeps that it was done.
"""

import sys
from getpass import getpass

from ebbline.adapters.sql.create import check_revision
from ebbline.adapters.sql.engine import must_exist
from ebbline.bootstrap import door_of, record_at
from ebbline.core.errors import EbblineError
from ebbline.services.clinic.access.access_ports import Door
from ebbline.services.clinic.access.change_password import change_password
from ebbline.services.clinic.access.log_in import log_in
from ebbline.services.clinic.access.reset_password import rescue_manager


def choose(door: Door, login: str) -> str:
    """Change a password, the one-time password included."""
    old = getpass("Password until now: ")
    session = log_in(door, login=login, password=old, place="record_password.py")
    new = getpass("New password: ")
    if getpass("New password again: ") != new:
        return "They differ; nothing was changed."
    change_password(door, session.token, old=old, new=new)
    return f"The password of {login} was changed."


def rescue(door: Door, login: str) -> str:
    """Give a manager a password for one login."""
    given = rescue_manager(door, login=login, why=input("Reason, for the history: "))
    return f"Password of {given.login} for one login, shown only now: {given.password}"


def main(where: str, what: str, login: str) -> None:
    """Do one of the two."""
    record = record_at(where)
    try:
        must_exist(record.url)
        check_revision(record)
        print({"choose": choose, "rescue": rescue}[what](door_of(record), login))
    except EbblineError as error:
        sys.exit(str(error))
    finally:
        record.close()


if __name__ == "__main__" and len(sys.argv) == 4:
    main(*sys.argv[1:])
