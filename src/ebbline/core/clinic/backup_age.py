"""How old the last backup of a record may be."""

from collections.abc import Mapping
from typing import Any

from ebbline.core.clinic.cells import PROVENANCES, Cells

FILE = "backup.toml"
"""The file of the row, for messages."""


def parse_backup_days(table: Mapping[str, Any]) -> float:
    """Return how old the last backup may be, or refuse the row whole.

    Parameters
    ----------
    table : mapping
        What data/backup.toml holds.

    Returns
    -------
    float
        Days.

    Raises
    ------
    SettingError
        With key, what was allowed and what came.
    """
    row = Cells(table, file=FILE, path="")
    row.only(("most_days", "source", "provenance"))
    row.text("source")
    row.choice("provenance", PROVENANCES)
    return row.number("most_days", 0.25, 31)
