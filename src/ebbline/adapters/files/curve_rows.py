"""The table of a curve file: its columns, its cells, and the order of its rows."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ebbline.adapters.files.table_dialect import NumberText, read_number, why_no_number
from ebbline.adapters.files.table_text import Place, clip, plain, show
from ebbline.core.curve.breath_test import SYMPTOMS, Status, Try
from ebbline.core.errors import list_allowed


@dataclass(frozen=True, slots=True)
class Column:
    """A column of numbers: its limits in the unit of its name, and what it means."""

    name: str
    low: float
    high: float
    meaning: str


# Limits of plausibility, set by ebbline to catch a slip of the pen: common practice, no source.
# A little below zero is what a zeroed analyser may show; room air holds 20.9 % O2.
_GAS_COLUMNS = (
    Column("h2_ppm", -2.0, 2000.0, "hydrogen as displayed, ppm"),
    Column("ch4_ppm", -2.0, 2000.0, "methane as displayed, ppm"),
    Column("o2_pct", 5.0, 21.5, "oxygen of the sample, %"),
    Column("co2_pct", 0.0, 10.0, "carbon dioxide of the sample, %"),
)
_NUMBER_COLUMNS = (
    Column("minute", -240.0, 1440.0, "actual minute from the end of the drink"),
    Column("planned_minute", -240.0, 1440.0, "planned minute from the end of the drink"),
    *_GAS_COLUMNS,
    *(Column(name, 0.0, 10.0, f"score of {name}") for name in SYMPTOMS),
)
COLUMNS = {column.name: column for column in _NUMBER_COLUMNS}
"""The columns that hold numbers, by name."""

WORD_COLUMNS = ("status", "note")
REQUIRED = ("minute", "h2_ppm")
_STATUSES: Mapping[str, Status] = {"": "ok", "ok": "ok", "repeat": "repeat", "missed": "missed"}

Record = tuple[int, list[str]]


def read_columns(record: Record, file: str) -> list[str]:
    """Return the names of the columns, in the order of the file.

    Raises
    ------
    TableFileError
        If a name is not known, is repeated, or a column that must be there is not.
    """
    row, cells = record
    names = [cell.lower() for cell in cells]
    allowed = [*COLUMNS, *WORD_COLUMNS]
    for at, (name, cell) in enumerate(zip(names, cells, strict=True)):
        place = Place(file, row, clip(cell) or None)
        if name not in allowed:
            place.refuse(
                "the column is not known" if cell else f"column {at + 1} has no name",
                allowed=list_allowed(allowed),
                came=show(cell),
            )
        if name in names[:at]:
            place.refuse("the column is given twice", allowed="each column once", came=show(cell))
    for name in REQUIRED:
        if name not in names:
            Place(file, row, name).refuse(
                "the column is missing",
                allowed=f"the columns {list_allowed(REQUIRED).replace(' or ', ' and ')}, always",
                came=show(", ".join(cells)),
            )
    return names


def table_numbers(records: Sequence[Record], file: str) -> Iterator[NumberText]:
    """Yield every cell that stands in a column of numbers; columns that are not known have none."""
    names = [cell.lower() for cell in records[0][1]]
    for row, cells in records[1:]:
        # Rows of another length are refused later, with a better message.
        for name, cell in zip(names, cells, strict=False):
            if name in COLUMNS and cell:
                yield NumberText(Place(file, row, name), cell)


def read_rows(
    records: Sequence[Record], names: Sequence[str], decimal: str, file: str
) -> tuple[Try, ...]:
    """Return every row as a try, in the order of the file.

    Parameters
    ----------
    records : sequence of (int, list of str)
        Line number and cells of each row; the first record holds the columns.
    names : sequence of str
        Names of the columns.
    decimal : {".", ","}
        Decimal sign.
    file : str
        Name for messages.

    Raises
    ------
    TableFileError
        For the first cell or row that cannot be used.
    """
    if len(records) == 1:
        Place(file, records[0][0]).refuse(
            "the table has no rows", allowed="one row or more below the columns", came="nothing"
        )
    tries: list[Try] = []
    order = _Order(file)
    for row, cells in records[1:]:
        if len(cells) != len(names):
            Place(file, row).refuse(
                "the row has another number of cells than the columns line",
                allowed=f"{len(names)} cells; a separator inside a cell needs quotes around it",
                came=f"{len(cells)} cells",
            )
        found = _read_row(row, dict(zip(names, cells, strict=True)), decimal, file)
        order.check(found)
        tries.append(found)
    return tuple(tries)


def _read_row(row: int, cells: Mapping[str, str], decimal: str, file: str) -> Try:
    status = _read_status(cells.get("status", ""), Place(file, row, "status"))
    number = {name: _read_cell(name, cells.get(name, ""), decimal, file, row) for name in COLUMNS}
    for column in _GAS_COLUMNS:
        if status == "missed" and number[column.name] is not None:
            Place(file, row, column.name).refuse(
                "a missed row holds a value",
                allowed="nothing; status ok or repeat where a value was read",
                came=show(cells[column.name]),
            )
    if status != "missed" and number["h2_ppm"] is None:
        Place(file, row, "h2_ppm").refuse(
            "the value is missing",
            allowed="a number; status missed where none was read",
            came="nothing",
        )
    minute, planned = number["minute"], number["planned_minute"]
    if minute is None and status == "missed":
        minute = planned
    if minute is None:
        Place(file, row, "minute").refuse(
            "the minute is missing",
            allowed="a number; in a missed row, planned_minute instead",
            came="nothing",
        )
    return Try(
        minute=minute,
        planned_minute=planned,
        status=status,
        h2_ppm=number["h2_ppm"],
        ch4_ppm=number["ch4_ppm"],
        o2_pct=number["o2_pct"],
        co2_pct=number["co2_pct"],
        note=cells.get("note", ""),
        symptoms={name: score for name in SYMPTOMS if (score := number[name]) is not None},
        row=row,
    )


def _read_status(cell: str, place: Place) -> Status:
    status = _STATUSES.get(cell.lower())
    if status is None:
        place.refuse(
            "the status is not known", allowed="ok, repeat, missed or nothing", came=show(cell)
        )
    return status


def _read_cell(name: str, cell: str, decimal: str, file: str, row: int) -> float | None:
    """Return a cell's number, None where it is empty."""
    if not cell:
        return None
    column = COLUMNS[name]
    value = read_number(cell, decimal)
    if value is None or not column.low <= value <= column.high:
        wrong = "the value is out of range" if value is not None else why_no_number(cell, decimal)
        Place(file, row, name).refuse(
            wrong,
            allowed=f"a plain number from {plain(column.low)} to {plain(column.high)}",
            came=show(cell),
        )
    return value


class _Order:
    """Checks that time goes on from row to row.

    Minutes that were read off a clock increase. A missed row that has only its planned minute
    was at no minute, so it is compared with the plan alone: planned 90, taken at 97, may be
    followed by planned 95, missed. Where a neighbour has no planned minute, minutes decide.
    """

    def __init__(self, file: str) -> None:
        self._file = file
        self._taken: Try | None = None
        self._planned: Try | None = None
        self._last: Try | None = None

    def check(self, new: Try) -> None:
        """Refuse a row that goes back in time, and remember it."""
        last, place = self._last, Place(self._file, new.row)
        if new.planned_minute is not None:
            self._check_plan(new, new.planned_minute)
            self._planned = new
        if not _by_plan_only(new):
            self._refuse_unless_later(new, self._taken)
            self._taken = new
        if last is not None and _by_plan_only(last) != _by_plan_only(new):
            if last.planned_minute is None or new.planned_minute is None:
                self._refuse_unless_later(new, last)
        elif last is not None and _by_plan_only(new) and last.planned_minute == new.planned_minute:
            place.refuse(
                "the sample is missed twice",
                allowed=f"one missed row for minute {plain(new.minute)}; row {last.row} is one",
                came="another",
            )
        self._last = new

    def _check_plan(self, new: Try, planned_minute: float) -> None:
        before = self._planned
        if before is None or before.planned_minute is None:
            return
        if planned_minute < before.planned_minute:
            Place(self._file, new.row, "planned_minute").refuse(
                "the planned minute goes back",
                allowed=f"{plain(before.planned_minute)} or more, as in row {before.row}",
                came=plain(planned_minute),
            )

    def _refuse_unless_later(self, new: Try, before: Try | None) -> None:
        if before is not None and new.minute <= before.minute:
            Place(self._file, new.row, "minute").refuse(
                "the minute does not increase",
                allowed=f"more than {plain(before.minute)}, as in row {before.row}",
                came=plain(new.minute),
            )


def _by_plan_only(row: Try) -> bool:
    """Whether a row stands at its planned minute because nothing was taken."""
    return row.status == "missed" and row.minute == row.planned_minute
