"""The table of a trace file: its columns and its rows, read a column at a time.

Hours of samples are read in a second or two that way. Where a column holds a fault it is looked
through again, cell by cell, for the first one.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NoReturn

import numpy as np

from ebbline.adapters.files.table_dialect import (
    DECIMALS,
    NumberText,
    first_no_number,
    read_number,
    why_no_number,
)
from ebbline.adapters.files.table_text import Place, clip, plain, show
from ebbline.adapters.files.trace_head import SECONDS_ALLOWED
from ebbline.core.breath.trace import PHYSICAL, Float
from ebbline.core.errors import list_allowed

TIME = "time_s"
GASES = ("h2_ppm", "ch4_ppm", "o2_pct", "co2_pct")
LIMITS: Mapping[str, tuple[float, float]] = {
    TIME: (-SECONDS_ALLOWED, SECONDS_ALLOWED),
    **{str(name): limits for name, limits in PHYSICAL.items()},
}
"""Smallest and largest value of each column, in the unit of its name; time_s stands first."""

Record = tuple[int, list[str]]


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells below the columns line: the line of each row, and each column by its name."""

    rows: Sequence[int]
    columns: Mapping[str, Sequence[str]]

    def signs(self) -> set[str]:
        """Return the decimal signs that occur anywhere in the cells."""
        texts = ["".join(column) for column in self.columns.values()]
        return {sign for sign in DECIMALS if any(sign in text for text in texts)}

    def numbers(self, file: str) -> Iterator[NumberText]:
        """Yield every cell that is not empty, row by row."""
        for row, cells in zip(self.rows, zip(*self.columns.values(), strict=True), strict=True):
            for name, cell in zip(self.columns, cells, strict=True):
                if cell:
                    yield NumberText(Place(file, row, name), cell)


def read_columns(record: Record, file: str) -> list[str]:
    """Return the names of the columns, in the order of the file.

    Raises
    ------
    TableFileError
        If a name is not known or repeated, time_s is not the first, or there is no gas.
    """
    row, cells = record
    names = [cell.lower() for cell in cells]
    for at, (name, cell) in enumerate(zip(names, cells, strict=True)):
        place = Place(file, row, clip(cell) or None)
        if name not in LIMITS:
            place.refuse(
                "the column is not known" if cell else f"column {at + 1} has no name",
                allowed=list_allowed(LIMITS),
                came=show(cell),
            )
        if name in names[:at]:
            place.refuse("the column is given twice", allowed="each column once", came=show(cell))
    came = show(", ".join(cells))
    if TIME not in names:
        Place(file, row, TIME).refuse(
            "the column is missing", allowed="time_s as the first column, always", came=came
        )
    if names[0] != TIME:
        Place(file, row, TIME).refuse(
            "the column is not the first", allowed="time_s as the first column, always", came=came
        )
    if not any(name in GASES for name in names):
        Place(file, row).refuse(
            "no column holds a gas", allowed=f"{list_allowed(GASES)}, at least one", came=came
        )
    return names


def take_cells(records: Iterable[Record], names: Sequence[str], file: str) -> Cells:
    """Return the cells of all rows by column.

    Parameters
    ----------
    records : iterable of (int, list of str)
        Line number and cells of each row below the columns line.
    names : sequence of str
        Names of the columns.
    file : str
        Name for messages.

    Raises
    ------
    TableFileError
        If there are fewer than two rows, or a row has another number of cells.
    """
    rows: list[int] = []
    # One long list: hundreds of thousands of short ones would take three times as long.
    cells: list[str] = []
    for row, found in records:
        if len(found) != len(names):
            Place(file, row).refuse(
                "the row has another number of cells than the columns line",
                allowed=f"{len(names)} cells; an empty cell where a sensor gave no value",
                came=f"{len(found)} cells",
            )
        rows.append(row)
        cells += found
    if len(rows) < 2:
        Place(file).refuse(
            "the table has too few rows",
            allowed="two rows or more below the columns",
            came="one row" if rows else "nothing",
        )
    return Cells(rows, {name: cells[at :: len(names)] for at, name in enumerate(names)})


def read_cells(cells: Cells, decimal: str, file: str) -> dict[str, Float]:
    """Return each column as numbers, NaN where a cell is empty.

    Parameters
    ----------
    cells : Cells
        The table below the columns line.
    decimal : {".", ","}
        Decimal sign.
    file : str
        Name for messages.

    Returns
    -------
    dict of str to ndarray, (n_samples,)
        In the units of the names.

    Raises
    ------
    TableFileError
        For the first fault, row by row: a cell that is not a number within its limits, a time that
        is missing or does not rise.
    """
    values: dict[str, Float] = {}
    faults: list[tuple[int, int, str]] = []
    for name, column in cells.columns.items():
        values[name], fault = _read_column(name, column, decimal)
        if fault is not None:
            faults.append((fault, len(values), name))
    if faults:
        at, _, name = min(faults)
        _refuse_cell(cells, name, at, decimal, file)
    return values


def first_outside(name: str, values: Float) -> int | None:
    """Return the index of the first value that its column may not hold, None where all are fine."""
    low, high = LIMITS[name]
    outside = np.flatnonzero((values < low) | (values > high))
    return int(outside[0]) if outside.size else None


def _read_column(name: str, column: Sequence[str], decimal: str) -> tuple[Float, int | None]:
    """Return a column's numbers up to its first fault, and where that is."""
    fault = first_no_number(column, decimal)
    texts = column[:fault]
    if decimal == ",":
        texts = [cell.replace(",", ".") for cell in texts]
    if "" in texts:
        texts = [cell or "nan" for cell in texts]
    values = np.fromiter(map(float, texts), dtype=np.float64, count=len(texts))
    outside = first_outside(name, values)
    if outside is not None:
        fault, values = outside, values[:outside]
    if name == TIME:
        # No time is NaN, of which nothing is said by a comparison.
        stops = np.flatnonzero(np.isnan(values) | (np.diff(values, prepend=-np.inf) <= 0.0))
        if stops.size:
            fault = int(stops[0])
    return values, fault


def _refuse_cell(cells: Cells, name: str, at: int, decimal: str, file: str) -> NoReturn:
    """Say what is wrong with the cell of a column at an index."""
    place = Place(file, cells.rows[at], name)
    text = cells.columns[name][at]
    if not text:
        place.refuse("the time is missing", allowed="a plain number, in every row", came="nothing")
    low, high = LIMITS[name]
    value = read_number(text, decimal)
    if value is None or not low <= value <= high:
        wrong = "the value is out of range" if value is not None else why_no_number(text, decimal)
        place.refuse(
            wrong, allowed=f"a plain number from {plain(low)} to {plain(high)}", came=show(text)
        )
    place.refuse(
        "the time does not rise",
        allowed=f"more than {clip(cells.columns[name][at - 1])}, as in row {cells.rows[at - 1]}",
        came=show(text),
    )
