"""``ebbline record export`` and ``erase``: what leaves the record, and what has to go from it."""

import argparse
from pathlib import Path

from ebbline.cli.record_named import an_action, logged_in, opened, typed_line
from ebbline.core.errors import InputError

_EXPORT_WARNING = (
    "Nothing guards these files any more. Local codes on patient data apply to every copy."
)
_ERASE_WARNING = """\
This empties everything that may tell who the patient is: identity, referral, notes, reasons, the
documents behind interpretations and the pages of reports. It cannot be undone. The law may ask the
service to keep a record for some years: make sure that it may be erased.
Backups, exports, printed reports, trace files and the logs of a database server still hold what
they held. They have to be found and dealt with by hand."""


def add_leaving(actions: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add both to the parser."""
    export = an_action(actions, "export", says="write a patient, or everything, as CSV files")
    whose = export.add_mutually_exclusive_group(required=True)
    whose.add_argument("--patient", metavar="WHO", help="record number or id of a patient")
    whose.add_argument("--all", action="store_true", help="the whole record")
    export.add_argument("--to", required=True, metavar="NAME", help="a new folder, or NAME.zip")
    export.add_argument(
        "--without-identity", action="store_true", help="leave out what tells who somebody is"
    )
    export.add_argument("--by", required=True, metavar="LOGIN", help="who exports")
    export.add_argument("--why", required=True, metavar="WORDS", help="what it is for; no names")
    export.set_defaults(run=run_export)
    erase = an_action(actions, "erase", says="erase who a patient is, on a legal request")
    erase.add_argument(
        "--patient", required=True, metavar="WHO", help="record number or id of a patient"
    )
    erase.add_argument(
        "--ground", required=True, metavar="WORDS", help="the legal ground; no names"
    )
    erase.add_argument(
        "--ordered-by", required=True, metavar="WHO", help="who ordered it; no names"
    )
    erase.add_argument("--by", required=True, metavar="LOGIN", help="the manager who erases")
    erase.set_defaults(run=run_erase)


def run_export(chosen: argparse.Namespace) -> int:
    """Export a patient or everything."""
    from ebbline.adapters.export import export_to
    from ebbline.bootstrap import door_of
    from ebbline.services.clinic.service.export_record import export_record

    with opened(chosen) as record:
        door = door_of(record)
        path = Path(chosen.to)
        rows = export_record(
            door.clinic,
            logged_in(door, chosen.by),
            patient=chosen.patient,
            identity=not chosen.without_identity,
            why=chosen.why,
            token=None,
            write=export_to(record, path),
        )
        print(f"Export: {path}, {rows} rows")
        print(_EXPORT_WARNING)
        return 0


def run_erase(chosen: argparse.Namespace) -> int:
    """Erase who a patient is."""
    from ebbline.adapters.sql.erase import SqlEraser
    from ebbline.bootstrap import door_of
    from ebbline.services.clinic.people.erase_identity import erase_identity
    from ebbline.services.clinic.service.export_record import find_patient

    with opened(chosen) as record:
        door = door_of(record)
        who = logged_in(door, chosen.by)
        with door.clinic.look(who) as look:
            patient_id = find_patient(look, chosen.patient)
        print(_ERASE_WARNING)
        again = typed_line("Record number or id of the patient again, to erase")
        if again != chosen.patient:
            raise InputError(
                f"patient: nothing was erased; allowed: {chosen.patient} once more; "
                f"came: {again or 'nothing'}"
            )
        done = erase_identity(
            door.clinic,
            who,
            patient_id=patient_id,
            ground=chosen.ground,
            ordered_by=chosen.ordered_by,
            token=None,
            eraser=SqlEraser(record),
        )
        print(f"Erased: patient {patient_id}, {done.erasure.rows} rows emptied")
        if done.left:
            print(
                f"The old words may still stand in the files of the database: {done.left}. Stop "
                "whatever uses the record and call the same command again, with the patient's id."
            )
        return 0
