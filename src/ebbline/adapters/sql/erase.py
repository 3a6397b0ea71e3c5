"""Erase a patient's identity from the database, and then its traces from the files behind it.

Emptying a field leaves its old bytes in free pages, logs and statistics of the database, so the
files are written anew afterwards. Backups that were made before still hold the words.
"""

import sqlite3

from sqlalchemy import func, or_, select, text, update

from ebbline.adapters.sql.act import SqlAct
from ebbline.adapters.sql.engine import spoken
from ebbline.adapters.sql.owned import acts_about, belongs
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import HISTORY_WHY, TABLES
from ebbline.core.clinic.record.entry import columns_of
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.errors import RecordError
from ebbline.services.clinic.ports import Act


class SqlEraser:
    """Empties what a record holds apart about a patient.

    Parameters
    ----------
    record : SqlRecord
        The record.
    """

    def __init__(self, record: SqlRecord) -> None:
        self._record = record

    def empty(self, act: Act, patient_id: str) -> int:
        """Empty every field held apart of a patient's rows, and the reasons of acts about them.

        Parameters
        ----------
        act : Act
            An open act of this record: the fields are emptied with it or not at all.
        patient_id : str
            The patient.

        Returns
        -------
        int
            How many rows lost their words.

        Raises
        ------
        RecordError
            If the act is not one of a database.
        """
        if not isinstance(act, SqlAct):
            raise RecordError(
                "record: no transaction to erase in; allowed: an act of a record in a database; "
                f"came: {type(act).__name__}"
            )
        emptied = 0
        for name, kind in KINDS.items():
            apart = [one.name for one in columns_of(kind) if one.apart]
            condition = belongs(name, patient_id)
            if apart and condition is not None:
                table = TABLES[name]
                done = act.connection.execute(
                    update(table)
                    .where(condition, table.c.salt.is_not(None))
                    .values(dict.fromkeys([*apart, "salt"]))
                )
                emptied += done.rowcount
        done = act.connection.execute(
            update(HISTORY_WHY)
            .where(HISTORY_WHY.c.seq.in_(acts_about(patient_id)))
            .where(or_(HISTORY_WHY.c.words.is_not(None), HISTORY_WHY.c.salt.is_not(None)))
            .values(words=None, salt=None)
        )
        return emptied + done.rowcount

    def clean(self) -> str:
        """Write the database's files anew, so that nothing of what was emptied is left in them.

        Returns
        -------
        str
            Empty if it was done; else what stood in the way.
        """
        try:
            if self._record.engine.dialect.name == "sqlite":
                return self._clean_file()
            with spoken(self._record.where):
                self._clean_server()
        except (sqlite3.Error, RecordError) as error:
            return str(error)
        return ""

    def _clean_file(self) -> str:
        raw = self._record.engine.raw_connection()
        try:
            cursor = raw.cursor()
            cursor.execute("VACUUM")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            (busy, _, _) = cursor.fetchone() or (1, 0, 0)
            cursor.close()
        finally:
            raw.close()
        return "somebody else reads the file, so its log could not be emptied" if busy else ""

    def _clean_server(self) -> None:
        connected = self._record.engine.connect().execution_options(isolation_level="AUTOCOMMIT")
        with connected as connection:
            for name, kind in KINDS.items():
                if any(one.apart for one in columns_of(kind)):
                    connection.execute(text(f'VACUUM (FULL, ANALYZE) "{name}"'))
            connection.execute(text("VACUUM (FULL, ANALYZE) history_why"))
            # The server keeps common values for its planner; only a superuser may rewrite them.
            if connection.scalar(select(func.current_setting("is_superuser"))) == "on":
                connection.execute(text("VACUUM FULL pg_catalog.pg_statistic"))
                connection.execute(text("CHECKPOINT"))
