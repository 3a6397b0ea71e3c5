"""``ebbline record``: make, verify, check, back up and restore a clinic's record."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from ebbline.cli.record_leaving import add_leaving
from ebbline.cli.record_named import VARIABLE, an_action, named, opened, typed_line
from ebbline.cli.record_people import add_people
from ebbline.core.errors import BrokenRecordError, InputError

if TYPE_CHECKING:
    from ebbline.adapters.sql.record import SqlRecord
    from ebbline.adapters.sql.verify import Head, Verdict

_BACKUP_WARNING = (
    "A backup holds the names of patients and the hashes of passwords. Keep it where only the "
    "service can read it."
)


def add_to(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the parser."""
    parser = commands.add_parser(
        "record",
        help="look after a clinic's record: people, passwords, verifying, backup, export",
        description="Look after the record of a clinic. It is a file, or a database on a "
        f"PostgreSQL server, and is named by --record or by the variable {VARIABLE}.",
        allow_abbrev=False,
    )
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    _add_making(actions)
    add_people(actions)
    _add_looking(actions)
    _add_keeping(actions)
    add_leaving(actions)


def _add_making(actions: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    create = an_action(actions, "create", says="make a new record, with its first manager")
    create.add_argument("--service", metavar="NAME", help="name of the service; asked for if not")
    create.add_argument("--login", metavar="LOGIN", help="the first manager's; asked for if not")
    create.add_argument("--name", metavar="NAME", help="the first manager's; asked for if not")
    create.add_argument(
        "--invented", action="store_true", help="everything in it will be invented, for training"
    )
    create.set_defaults(run=run_create)
    upgrade = an_action(
        actions, "upgrade", says="bring a record up to this release, after a backup beside it"
    )
    upgrade.add_argument("--backup", metavar="FILE", help="where the backup goes")
    upgrade.set_defaults(run=run_upgrade)


def _add_looking(actions: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    verify = an_action(
        actions, "verify", says="verify every act and every row, and name the first bad one"
    )
    verify.add_argument(
        "--head",
        metavar="SEQ:HASH",
        type=_head,
        help="a head that was kept outside the record, as on a day sheet: shows whether the record "
        "was cut off or written anew",
    )
    verify.set_defaults(run=run_verify)
    check = an_action(
        actions, "check", says="look at the health of a record: exit code 0 if all is well, else 5"
    )
    check.add_argument("--quick", action="store_true", help="do not verify the chain")
    check.set_defaults(run=run_check)
    head = an_action(actions, "head", says="print number and hash of the last act, for a day sheet")
    head.set_defaults(run=run_head)


def _add_keeping(actions: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    backup = an_action(
        actions, "backup", says="write the whole record to one file, while work goes on"
    )
    backup.add_argument("file", metavar="FILE", help="a new file; it holds names: keep it safe")
    backup.set_defaults(run=run_backup)
    restore = an_action(
        actions, "restore", says="put a backup into a new file or an empty database, and verify it"
    )
    restore.add_argument("file", metavar="FILE", help="a backup")
    restore.set_defaults(run=run_restore)


def run_create(chosen: argparse.Namespace) -> int:
    """Make a record and print the one-time password of its first manager."""
    from ebbline.adapters.sql.create import create_tables
    from ebbline.adapters.sql.new_file import new_file, take_away
    from ebbline.bootstrap import door_of
    from ebbline.services.clinic.access.first_start import first_manager

    with named(chosen) as record:
        service = _asked("Name of the service", chosen.service)
        login = _asked("Login of the first manager", chosen.login)
        name = _asked("Name of the first manager", chosen.name)
        file = new_file(record)
        try:
            create_tables(record, service=service, invented=chosen.invented)
            first = first_manager(door_of(record), login=login, name=name)
        except BaseException:
            take_away(record, file)
            raise
        print(f"Record: {record.where}")
        print(f"Login: {first.login}")
        print(f"Password for the first login, shown only now: {first.password}")
        return 0


def run_upgrade(chosen: argparse.Namespace) -> int:
    """Back up an older record and bring it up to this release."""
    from ebbline.adapters.sql.backup import backup, note_backup
    from ebbline.adapters.sql.create import upgrade_tables
    from ebbline.adapters.sql.migrate import revisions

    with opened(chosen, any_release=True) as record:
        newest = revisions()[-1]
        if _revision(record) == newest:
            print(f"{record.where}: schema {newest}, that of this release. Nothing was done.")
            return 0
        made = backup(record, _backup_beside(record, chosen.backup, newest))
        print(f"Backup: {made.path}, SHA-256 {made.sha256}")
        print(_BACKUP_WARNING)
        for revision in upgrade_tables(record):
            print(f"Brought up to schema {revision}.")
        note_backup(record, made, by="")
        return 0


def run_verify(chosen: argparse.Namespace) -> int:
    """Verify a record; exit code 5 where it does not."""
    from ebbline.adapters.sql.verify import verify

    with opened(chosen) as record:
        verdict = verify(record, head=chosen.head, progress=_progress)
        print(about_verdict(verdict, head=chosen.head))
        return 0 if verdict.fault is None else BrokenRecordError.exit_code


def run_check(chosen: argparse.Namespace) -> int:
    """Print the health of a record."""
    from ebbline.adapters.files.library import data_table
    from ebbline.adapters.sql.check import check
    from ebbline.bootstrap import utc_now
    from ebbline.core.clinic.backup_age import parse_backup_days

    with opened(chosen, any_release=True) as record:
        items = check(
            record,
            now=utc_now(),
            backup_days=parse_backup_days(data_table("backup")),
            chain=not chosen.quick,
            progress=_progress,
        )
        width = max(len(item.name) for item in items)
        for item in items:
            print(f"{'ok ' if item.good else 'BAD'}  {item.name:{width}}  {item.found}")
        bad = sum(not item.good for item in items)
        print("All is well." if bad == 0 else f"{bad} of {len(items)} need a look.")
        return 0 if bad == 0 else BrokenRecordError.exit_code


def run_head(chosen: argparse.Namespace) -> int:
    """Print the head."""
    with opened(chosen) as record:
        with record.look() as look:
            seq, hashed = look.head()
        print(f"{seq}:{hashed}")
        return 0


def run_backup(chosen: argparse.Namespace) -> int:
    """Back up a record."""
    from ebbline.adapters.sql.backup import backup, note_backup

    with opened(chosen) as record:
        made = backup(record, Path(chosen.file))
        print(f"Backup: {made.path}, {made.bytes} bytes, up to row {made.head[0]}")
        print(f"SHA-256: {made.sha256}")
        print(_BACKUP_WARNING)
        note_backup(record, made, by="")
        return 0


def run_restore(chosen: argparse.Namespace) -> int:
    """Restore a backup; exit code 5 where what was restored does not verify."""
    from ebbline.adapters.sql.restore import restore

    with named(chosen) as record:
        verdict = restore(Path(chosen.file), record, say=print)
        print(f"Record: {record.where}")
        return 0 if verdict.fault is None else BrokenRecordError.exit_code


def about_verdict(verdict: "Verdict", *, head: "Head | None") -> str:
    """Return what came of verifying in words."""
    counted = f"{verdict.acts} acts, {verdict.rows} rows, {verdict.erased} of them erased"
    if verdict.fault is not None:
        return (
            f"DOES NOT VERIFY at row {verdict.fault.seq}: {verdict.fault.words}.\n"
            f"Good up to there: {counted}. Change nothing, keep the backups, and find out who "
            "could write to the database."
        )
    lines = [f"Verified: {counted}.", f"Head: {verdict.head[0]}:{verdict.head[1]}"]
    if head is None:
        lines.append(
            "Without --head this does not show whether acts at the end were cut off, or the whole "
            "record written anew."
        )
    return "\n".join(lines)


def _revision(record: "SqlRecord") -> str | None:
    from ebbline.adapters.sql.engine import spoken
    from ebbline.adapters.sql.migrate import revision_of

    with spoken(record.where), record.reading() as connection:
        return revision_of(connection)


def _backup_beside(record: "SqlRecord", named: str | None, newest: str) -> Path:
    if named is not None:
        return Path(named)
    if record.engine.dialect.name != "sqlite":
        raise InputError(
            "backup: a record on a server has no folder; allowed: --backup FILE; came: nothing"
        )
    path = Path(str(record.url.database))
    return path.with_name(f"{path.name}.before-{newest}.backup")


def _asked(question: str, given: str | None) -> str:
    answer = typed_line(question) if given is None else given.strip()
    if not answer:
        raise InputError(f"{question}: it is missing; allowed: a name; came: nothing")
    return answer


def _head(text: str) -> "Head":
    """Return the head that a text such as 12:9f86… names."""
    seq, colon, hashed = text.partition(":")
    if not (colon and seq.isdecimal() and len(hashed) == 64 and hashed.isalnum()):
        raise argparse.ArgumentTypeError("allowed: SEQ:HASH, as 'ebbline record head' prints it")
    return int(seq), hashed.lower()


def _progress(done: int, total: int) -> None:
    print(f"verified {done} of {total} acts", file=sys.stderr)
