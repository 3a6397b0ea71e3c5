"""Read a curve file: one recorded test as CSV text, taken whole or refused whole.

The format is described in docs/reference/curve-file.md. `parse_curve` is pure; only `read_curve`
touches a file.
"""

from dataclasses import fields
from pathlib import Path

from ebbline.adapters.files.curve_head import head_numbers, override, read_head
from ebbline.adapters.files.curve_keys import KEYS
from ebbline.adapters.files.curve_rows import read_columns, read_rows, table_numbers
from ebbline.adapters.files.table_dialect import (
    DECIMALS,
    find_decimal,
    find_delimiter,
    read_records,
)
from ebbline.adapters.files.table_head import split_head, take_sign, unpad
from ebbline.adapters.files.table_text import Place, plain, read_bytes, refused_as, to_lines
from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.errors import CurveFileError
from ebbline.services.overrides import Overrides

BYTES_ALLOWED = 10_000_000
"""Largest file that is read, bytes. A test of 30 samples takes about two thousand."""

ROWS_ALLOWED = 1000
"""A test has tens of rows; a file with thousands is something else."""

_DELIMITERS = {",": "comma", ";": "semicolon"}


@refused_as(CurveFileError)
def parse_curve(
    data: bytes, *, file: str, overrides: Overrides, substrates: tuple[str, ...]
) -> BreathTest:
    """Return the test that a curve file holds.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        Its name as the user gave it, for messages.
    overrides : Overrides
        What stands in place of head lines.
    substrates : tuple of str
        Ids of the substrates that may be named.

    Returns
    -------
    BreathTest
        Every row as a `Try`, in the order of the file.

    Raises
    ------
    CurveFileError
        For the first fault: of the text, the head's lines, the separators, the quotes, the
        decimal sign, the head's values, the columns, then the rows from top to bottom.
    """
    lines = to_lines(data, file, bytes_allowed=BYTES_ALLOWED)
    head, start = split_head(lines, file)
    override(head, _given(overrides), file)
    declared_delimiter = take_sign(head.get("delimiter"), KEYS["delimiter"].choices)
    declared_decimal = take_sign(head.get("decimal"), KEYS["decimal"].choices)
    delimiter = find_delimiter(
        lines[start], Place(file, start + 1), declared_delimiter, delimiters=_DELIMITERS
    )
    unpad(head, delimiter)
    records = list(read_records(lines, start, delimiter, file))
    decimal = declared_decimal or find_decimal(
        [*head_numbers(head), *table_numbers(records, file)], delimiter, possible=DECIMALS
    )
    said = read_head(head, decimal=decimal, substrates=substrates, file=file)
    names = read_columns(records[0], file)
    if len(records) > ROWS_ALLOWED + 1:
        Place(file, records[ROWS_ALLOWED + 1][0]).refuse(
            "too many rows", allowed=f"up to {ROWS_ALLOWED} rows", came=f"{len(records) - 1}"
        )
    return BreathTest(
        file=file,
        substrate=said.substrate,
        dose_g=said.dose_g,
        weight_kg=said.weight_kg,
        age_years=said.age_years,
        protocol=said.protocol,
        tries=read_rows(records, names, decimal, file),
        facts=said.facts,
        unused=said.unused,
    )


@refused_as(CurveFileError)
def read_curve(
    path: str | Path, *, overrides: Overrides, substrates: tuple[str, ...]
) -> BreathTest:
    """Return the test that a curve file on disk holds; see `parse_curve`.

    Raises
    ------
    CurveFileError
        If there is no such file, it cannot be read, or `parse_curve` refuses it.
    """
    file = str(path)
    data = read_bytes(file, allowed="a curve file", bytes_allowed=BYTES_ALLOWED)
    return parse_curve(data, file=file, overrides=overrides, substrates=substrates)


def _given(overrides: Overrides) -> dict[str, str]:
    """Return what is given, by key, as the text that a head line would hold."""
    values = {item.name: getattr(overrides, item.name) for item in fields(overrides)}
    return {
        key: value if isinstance(value, str) else plain(value)
        for key, value in values.items()
        if value is not None and value != ""
    }


@refused_as(CurveFileError)
def check_fasting(test: BreathTest, file: str) -> None:
    """Refuse a test without a fasting reading, where a rise is asked for.

    Parameters
    ----------
    test : BreathTest
        The test as read.
    file : str
        Its name for the message.

    Raises
    ------
    CurveFileError
        If no row with status ok is at minute 0 or before.
    """
    minutes = [row.minute for row in test.tries if row.status == "ok"]
    if not any(minute <= 0.0 for minute in minutes):
        Place(file).refuse(
            "no reading at minute 0 or before",
            allowed="a row with status ok at minute 0 or below, to count rises from",
            came=f"the first at minute {plain(minutes[0])}" if minutes else "no row with status ok",
        )
