"""All rows of preparation together, and the words of the sheet that a patient takes home."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.core.clinic.cells import Cells
from ebbline.core.clinic.preparation_item import (
    SERVICE,
    Item,
    filled_by,
    parse_item,
    substrates_of,
)

FILE = "preparation.toml"

_WORDS = {
    "title": ("substrate",),
    "appointment": ("date", "time", "service"),
    "child": (),
    "contact": ("contact",),
    "invented": (),
    "cautions": (),
}
_HEADINGS = {
    "on_receipt": (), "week": (), "weeks": ("count",), "day": (), "days": ("count",), "hours": (),
    "on_the_day": (),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class SheetCaution:
    """One caution of the sheet and the substrates that it is shown for."""

    text: str
    substrates: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PreparationTable:
    """What data/preparation.toml holds: items in the order of the file, and words of the sheet."""

    items: tuple[Item, ...]
    substrates: tuple[str, ...]
    guidances: tuple[str, ...]
    words: Mapping[str, str]
    headings: Mapping[str, str]
    cautions: tuple[SheetCaution, ...]


def parse_preparation(
    table: Mapping[str, Any], *, substrates: tuple[str, ...], guidances: tuple[str, ...]
) -> PreparationTable:
    """Return the rows of data/preparation.toml.

    Parameters
    ----------
    table : mapping
        What the TOML file holds.
    substrates : tuple of str
        Ids of the substrates that a test may use.
    guidances : tuple of str
        Ids of the rule sets that a row may follow, beside ``service``.

    Returns
    -------
    PreparationTable

    Raises
    ------
    SettingError
        If a row cannot be used, if two rows could speak for one patient, or if a patient of some
        age would be left without a row of the service.
    """
    cells = Cells(table, file=FILE, path="")
    cells.only(("item", "sheet", "heading", "caution"))
    known = (*guidances, SERVICE)
    rows = cells.rows("item")
    items = tuple(parse_item(row, substrates=substrates, guidances=known) for row in rows)
    _check_apart(items, rows)
    _check_service(items, cells)
    return PreparationTable(
        items=items,
        substrates=substrates,
        guidances=known,
        words=_texts(cells.table("sheet"), _WORDS),
        headings=_texts(cells.table("heading"), _HEADINGS),
        cautions=tuple(_caution(row, substrates) for row in cells.rows("caution")),
    )


def _texts(cells: Cells, places: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    """Return texts that hold no place for anything but what they are filled with."""
    cells.only(places)
    return {key: filled_by(cells, key, allowed) for key, allowed in places.items()}


def _caution(row: Cells, substrates: tuple[str, ...]) -> SheetCaution:
    row.only(("text", "substrates"))
    return SheetCaution(row.text("text"), substrates_of(row, substrates))


def _check_apart(items: tuple[Item, ...], rows: tuple[Cells, ...]) -> None:
    """Refuse two rows of one item that could both speak for one patient."""
    for place, later in enumerate(items):
        for earlier in items[:place]:
            if (
                later.id == earlier.id
                and set(later.guidance) & set(earlier.guidance)
                and set(later.substrates) & set(earlier.substrates)
                and _ages_meet(earlier, later)
            ):
                raise rows[place].error(
                    "id",
                    "a second row for the same guidance, substrate and age",
                    "one row for each patient",
                    later.id,
                )


def _ages_meet(one: Item, other: Item) -> bool:
    return (one.below_years is None or other.from_years < one.below_years) and (
        other.below_years is None or one.from_years < other.below_years
    )


def _check_service(items: tuple[Item, ...], cells: Cells) -> None:
    """Refuse an item that the service's rows leave out for some age: it would go unsaid."""
    for name in dict.fromkeys(item.id for item in items):
        own = [item for item in items if item.id == name and SERVICE in item.guidance]
        named = {substrate for item in items if item.id == name for substrate in item.substrates}
        for substrate in sorted(named):
            gap = _first_gap([item for item in own if substrate in item.substrates])
            if gap is not None:
                raise cells.error(
                    "item",
                    f"{name} has no row of the service for {substrate} from {gap:g} years",
                    f"rows with guidance {SERVICE} for every age",
                    "none",
                )


def _first_gap(rows: list[Item]) -> float | None:
    """Return the first age from which on there is no row; None where every age has one."""
    reached = 0.0
    for row in sorted(rows, key=lambda row: row.from_years):
        if row.from_years > reached:
            return reached
        if row.below_years is None:
            return None
        reached = row.below_years
    return reached
