"""The file of a new record: readable by its owner only, and gone again where making it fails."""

import os
from pathlib import Path

from ebbline.adapters.sql.record import SqlRecord
from ebbline.core.errors import RecordError, UnavailableError

_BESIDE = ("", "-wal", "-shm", "-journal")


def new_file(record: SqlRecord) -> Path | None:
    """Make the empty file of a new record.

    Parameters
    ----------
    record : SqlRecord
        The record that is to be.

    Returns
    -------
    Path or None
        None for a record on a server.

    Raises
    ------
    RecordError
        If there is a file already.
    UnavailableError
        If it cannot be made.
    """
    if record.engine.dialect.name != "sqlite":
        return None
    path = Path(str(record.url.database))
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    except FileExistsError as error:
        raise not_empty(record.where, "a file that is there already") from error
    except OSError as error:
        raise UnavailableError(
            f"record {record.where}: the file cannot be made; allowed: a new file in a folder that "
            f"can be written; came: {error.strerror}"
        ) from error
    return path


def take_away(record: SqlRecord, file: Path | None) -> None:
    """Take a file that `new_file` made away again, with what the database put beside it.

    Parameters
    ----------
    record : SqlRecord
        The record that could not be made.
    file : Path or None
        From `new_file`.
    """
    record.close()
    if file is not None:
        for ending in _BESIDE:
            file.with_name(file.name + ending).unlink(missing_ok=True)


def not_empty(where: str, came: str) -> RecordError:
    """Return the refusal of a place that holds something.

    Parameters
    ----------
    where : str
        The place, as it may be shown.
    came : str
        What is there.

    Returns
    -------
    RecordError
    """
    return RecordError(
        f"record {where}: a record is never put over something; allowed: a new file or a database "
        f"without tables; came: {came}"
    )
