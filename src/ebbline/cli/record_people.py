"""``ebbline record password``, ``rescue``, ``people`` and ``add-person``: who works with it."""

import argparse
from typing import TYPE_CHECKING

from ebbline.cli.record_named import PLACE, an_action, logged_in, opened, typed_password
from ebbline.core.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ebbline.services.clinic.access.access_ports import OneTime
    from ebbline.services.clinic.desk import Clinic
    from ebbline.services.clinic.ports import Look


def add_people(actions: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the four to the parser."""
    password = an_action(
        actions, "password", says="choose a password of one's own; it is asked for, never an option"
    )
    password.add_argument("login", metavar="LOGIN", help="whose")
    password.set_defaults(run=run_password)
    rescue = an_action(
        actions, "rescue", says="give a manager whom nobody else can help a password for one login"
    )
    rescue.add_argument("login", metavar="LOGIN", help="the manager's")
    rescue.add_argument(
        "--why", required=True, metavar="WORDS", help="the reason, for the history; no names"
    )
    rescue.set_defaults(run=run_rescue)
    people = an_action(actions, "people", says="list who works with the record")
    people.set_defaults(run=run_people)
    add = an_action(actions, "add-person", says="add somebody who works with the record")
    add.add_argument("login", metavar="LOGIN", help="what they log in with, for ever")
    add.add_argument("--name", required=True, metavar="NAME", help="as it is printed")
    add.add_argument(
        "--role",
        required=True,
        nargs="+",
        action="extend",
        metavar="ROLE",
        help="one or more, of those in data/roles.toml",
    )
    add.add_argument("--by", required=True, metavar="LOGIN", help="the manager who adds them")
    add.set_defaults(run=run_add_person)


def run_password(chosen: argparse.Namespace) -> int:
    """Change a password, the one-time password included; no session is left open."""
    from ebbline.bootstrap import door_of
    from ebbline.services.clinic.access.change_password import change_password
    from ebbline.services.clinic.access.log_in import log_in, log_out

    with opened(chosen) as record:
        door = door_of(record)
        old = typed_password("Password until now, or the one for one login")
        token = log_in(door, login=chosen.login, password=old, place=PLACE).token
        try:
            new = _typed_twice()
            token = change_password(door, token, old=old, new=new).token
        finally:
            log_out(door, token)
        print(f"The password of {chosen.login} was changed.")
        return 0


def run_rescue(chosen: argparse.Namespace) -> int:
    """Give a manager a password for one login. Who can call this could write to the database."""
    from ebbline.bootstrap import door_of
    from ebbline.services.clinic.access.reset_password import rescue_manager

    if not chosen.why.strip():
        raise InputError("why: no reason is given; allowed: words; came: nothing")
    with opened(chosen) as record:
        _show_once(rescue_manager(door_of(record), login=chosen.login, why=chosen.why))
        return 0


def run_people(chosen: argparse.Namespace) -> int:
    """Print who works with the record, what they may do, and until when it was shown."""
    from ebbline.bootstrap import door_of

    with opened(chosen) as record:
        clinic = door_of(record).clinic
        with record.look() as look:
            rows = _people(look, clinic)
        widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
        for row in rows:
            cells = (f"{cell:{width}}" for cell, width in zip(row, widths, strict=True))
            print("  ".join(cells).rstrip())
        return 0


def run_add_person(chosen: argparse.Namespace) -> int:
    """Add somebody and print the password for their first login."""
    from ebbline.bootstrap import door_of
    from ebbline.services.clinic.access.manage_users import add_user

    with opened(chosen) as record:
        door = door_of(record)
        manager = logged_in(door, chosen.by)
        _show_once(
            add_user(
                door, manager, login=chosen.login, name=chosen.name, roles=chosen.role, token=None
            )
        )
        return 0


def _typed_twice() -> str:
    new = typed_password("New password")
    if typed_password("New password again") != new:
        raise InputError(
            "password: the two differ, nothing was changed; allowed: the same one twice; "
            "came: two passwords"
        )
    return new


def _show_once(given: "OneTime") -> None:
    print(f"Login: {given.login}")
    print(f"Password for one login, shown only now: {given.password}")


def _people(look: "Look", clinic: "Clinic") -> "Sequence[tuple[str, ...]]":
    """Return a row of titles and one for each person, by login."""
    from ebbline.bootstrap import utc_now
    from ebbline.core.clinic.competence import Competence, standing
    from ebbline.core.clinic.record.staff import CompetenceProof, User
    from ebbline.core.clinic.roles import TASKS

    today = utc_now().astimezone(clinic.zone).date()
    shown: dict[str, list[Competence]] = {}
    for proof in look.find(CompetenceProof, {}):
        one = proof.entry
        competence = Competence(one.task, one.from_day, one.until_day)
        shown.setdefault(one.user_id, []).append(competence)
    rows = [("login", "name", "roles", "may log in", *(f"competence, {task}" for task in TASKS))]
    users = [kept.entry for kept in look.find(User, {})]
    for user in sorted(users, key=lambda user: user.login):
        standings = [
            standing(
                task, shown.get(user.id, ()), on=today, due_within_days=clinic.rules.due_within_days
            ).words.removeprefix(f"competence for {task}: ")
            for task in TASKS
        ]
        may = "yes" if user.active else "no"
        rows.append((user.login, user.name, ", ".join(user.roles), may, *standings))
    return rows
