"""Put an export together: what the database holds, as files."""

from pathlib import Path

from ebbline.adapters.files.record_dictionary import Contents
from ebbline.adapters.files.record_export import write_export
from ebbline.adapters.sql.create import told_of
from ebbline.adapters.sql.engine import spoken
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.views_export import (
    HISTORY_COLUMNS,
    exported_history,
    exported_kinds,
    exported_rows,
)
from ebbline.services.clinic.service.export_record import Write


def export_to(record: SqlRecord, path: Path) -> Write:
    """Return what writes an export of a record, from one consistent view.

    Parameters
    ----------
    record : SqlRecord
        The record; acts may go on meanwhile.
    path : Path
        A new folder; with the ending ``.zip`` one file.

    Returns
    -------
    callable
    """

    def write(patient_id: str | None, identity: bool) -> int:
        told = told_of(record)
        with spoken(record.where), record.reading() as connection:
            contents = Contents(
                about="the whole record" if patient_id is None else f"patient {patient_id}",
                told=told,
                kinds=tuple(exported_kinds(patient_id)),
                rows=lambda name: exported_rows(connection, name, patient_id),
                history=exported_history(connection, patient_id),
                history_columns=HISTORY_COLUMNS,
                identity=identity,
            )
            return write_export(contents, path)

    return write
