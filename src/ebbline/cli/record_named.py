"""What every ``ebbline record`` command shares: which record, and who is at the computer."""

import argparse
import os
from collections.abc import Iterator
from contextlib import contextmanager
from getpass import getpass
from typing import TYPE_CHECKING

from ebbline.core.errors import AccessError, InputError

if TYPE_CHECKING:
    from ebbline.adapters.sql.record import SqlRecord
    from ebbline.services.clinic.access.access_ports import Door
    from ebbline.services.clinic.desk import Actor

VARIABLE = "EBBLINE_RECORD"
"""Name of the variable of the environment that names the record."""

PLACE = "command line"
"""What a session that a command opens says of itself."""


def an_action(
    actions: "argparse._SubParsersAction[argparse.ArgumentParser]", name: str, *, says: str
) -> argparse.ArgumentParser:
    """Return the parser of one action, which can be told which record."""
    parser = actions.add_parser(
        name, help=says, description=f"{says[0].upper()}{says[1:]}.", allow_abbrev=False
    )
    parser.add_argument(
        "--record",
        metavar="WHERE",
        help=f"a file, or a postgresql:// address; else the variable {VARIABLE}",
    )
    return parser


@contextmanager
def named(chosen: argparse.Namespace) -> Iterator["SqlRecord"]:
    """Give the record that was named, whether it is there yet or not, and close it afterwards."""
    from ebbline.bootstrap import record_at

    where = chosen.record or os.environ.get(VARIABLE, "")
    if not where:
        raise InputError(
            f"record: none is named; allowed: --record WHERE or the variable {VARIABLE}; "
            "came: neither"
        )
    record = record_at(where)
    try:
        yield record
    finally:
        record.close()


@contextmanager
def opened(chosen: argparse.Namespace, *, any_release: bool = False) -> Iterator["SqlRecord"]:
    """Give the record that was named; it must be there, and of this release."""
    from ebbline.adapters.sql.create import check_revision
    from ebbline.adapters.sql.engine import must_exist

    with named(chosen) as record:
        must_exist(record.url)
        if not any_release:
            check_revision(record)
        yield record


def typed_line(question: str) -> str:
    """Return a line that is typed at the keyboard, empty where the input has come to its end."""
    try:
        return input(f"{question}: ").strip()
    except EOFError:
        return ""


def typed_password(question: str) -> str:
    """Return a password that is typed at the keyboard, without showing it."""
    try:
        return getpass(f"{question}: ")
    except EOFError as error:
        raise InputError(
            "password: nothing was typed; allowed: a password, typed at the keyboard; "
            "came: the end of the input"
        ) from error


def logged_in(door: "Door", login: str) -> "Actor":
    """Return who is at the computer, by their password."""
    from ebbline.services.clinic.access.log_in import log_in, log_out

    password = typed_password(f"Password of {login}")
    session = log_in(door, login=login, password=password, place=PLACE)
    log_out(door, session.token)
    if session.must_change:
        raise AccessError(
            field="password",
            wrong="this password may be used only once",
            allowed="a password of one's own, chosen at the first login",
            came="the one-time password",
        )
    return session.who
