"""Rows of preparation: what a patient is asked to keep before a test, and how long before it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from string import Formatter
from typing import Any, Literal, get_args

from ebbline.core.clinic.cells import PROVENANCES, Cells
from ebbline.core.errors import SettingError

FILE = "preparation.toml"
SERVICE = "service"
"""The guidance of a row that is the service's own; it fills what a document says nothing about."""

Unit = Literal["weeks", "days", "hours", "on the day", "on receipt"]
AnswerKind = Literal["told", "word", "date", "time"]

_BEFORE_KEYS = ("weeks", "days", "hours_least", "hours_most", "on_the_day", "on_receipt")
_ITEM_KEYS = (
    "id", "tells", "before", "answer", "asks", "kept_when", "last", "substrates", "ages",
    "guidance", "source", "provenance",
)  # fmt: skip
_ASKED_KEYS = ("asks", "kept_when")
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
class Before:
    """How long before the appointment: ``least`` and ``most`` count units; 0 where none counts."""

    unit: Unit
    least: float
    most: float | None

    @property
    def days(self) -> int:
        """Whole days of the calendar that are asked; 0 where days do not count."""
        return {"weeks": 7, "days": 1}.get(self.unit, 0) * int(self.least)


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to keep.

    ``asks`` and ``tells`` hold places for dates. ``kept_when`` is the answer that keeps it, and
    ``last`` begins the arithmetic; both are None where they cannot be needed. ``below_years`` None
    has no upper end.
    """

    id: str
    tells: str
    before: Before
    answer: AnswerKind
    asks: str | None
    kept_when: Literal["yes", "no"] | None
    last: str | None
    substrates: tuple[str, ...]
    from_years: float
    below_years: float | None
    by_age: bool
    guidance: tuple[str, ...]
    source: str
    provenance: str

    def fits_age(self, age_years: float) -> bool:
        """Return whether the row is for this age."""
        return self.from_years <= age_years and (
            self.below_years is None or age_years < self.below_years
        )


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
    items = tuple(_item(row, substrates, known) for row in rows)
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
    return {key: _filled_by(cells, key, allowed) for key, allowed in places.items()}


def _caution(row: Cells, substrates: tuple[str, ...]) -> SheetCaution:
    row.only(("text", "substrates"))
    return SheetCaution(row.text("text"), _substrates(row, substrates))


def _substrates(row: Cells, substrates: tuple[str, ...]) -> tuple[str, ...]:
    """Return the substrates of a row; a row that names none is for all."""
    return row.choices("substrates", substrates) if row.has("substrates") else substrates


def _item(row: Cells, substrates: tuple[str, ...], guidances: tuple[str, ...]) -> Item:
    row.only(_ITEM_KEYS)
    before = _before(row.table("before"))
    answer = _answer(row, before)
    places = _places(before)
    asked = answer != "told"
    if not asked:
        _refuse(row, _ASKED_KEYS, "an item that is only told is not asked")
    counted = answer in ("date", "time")
    if not counted:
        _refuse(row, ("last",), "only the answers date and time are counted")
    from_years, below_years = _ages(row)
    return Item(
        id=row.text("id"),
        tells=_filled_by(row, "tells", places),
        before=before,
        answer=answer,
        asks=_filled_by(row, "asks", places) if asked else None,
        kept_when=_yes_or_no(row) if asked else None,
        last=row.text("last") if counted else None,
        substrates=_substrates(row, substrates),
        from_years=from_years,
        below_years=below_years,
        by_age=row.has("ages"),
        guidance=row.choices("guidance", guidances),
        source=row.text("source"),
        provenance=row.choice("provenance", PROVENANCES),
    )


def _yes_or_no(row: Cells) -> Literal["yes", "no"]:
    return "yes" if row.choice("kept_when", ("yes", "no")) == "yes" else "no"


def _answer(row: Cells, before: Before) -> AnswerKind:
    """Return the kind of answer; dates count days and times count hours."""
    kinds: list[AnswerKind] = ["told", "word"]
    if before.unit in ("weeks", "days"):
        kinds.append("date")
    if before.unit == "hours":
        kinds.append("time")
    chosen = row.choice("answer", kinds)
    return next(kind for kind in get_args(AnswerKind) if kind == chosen)


def _refuse(row: Cells, keys: tuple[str, ...], why: str) -> None:
    for key in keys:
        if row.has(key):
            raise row.error(key, why, "no such key here", key)


def _before(cells: Cells) -> Before:
    """Return how long before; exactly one way of saying it is given."""
    cells.only(_BEFORE_KEYS)
    match cells.names():
        case ("weeks",):
            return Before("weeks", _whole(cells, "weeks", 12), None)
        case ("days",):
            return Before("days", _whole(cells, "days", 90), None)
        case ("hours_least",):
            return Before("hours", cells.number("hours_least", 0.25, 96), None)
        case ("hours_least", "hours_most"):
            least = cells.number("hours_least", 0.25, 96)
            return Before("hours", least, cells.number("hours_most", least, 96))
        case ("on_the_day",) if cells.flag("on_the_day"):
            return Before("on the day", 0, None)
        case ("on_receipt",) if cells.flag("on_receipt"):
            return Before("on receipt", 0, None)
    raise SettingError(
        f"{cells.file}, {cells.path}: not one way of saying how long before; allowed: weeks, days, "
        "hours_least, hours_least with hours_most after it, on_the_day = true or "
        f"on_receipt = true; came: {', '.join(cells.names()) or 'nothing'}"
    )


def _whole(cells: Cells, key: str, most: int) -> float:
    count = cells.number(key, 1, most)
    if not count.is_integer():
        raise cells.error(key, "not a whole number", f"1 to {most}", f"{count:g}")
    return count


def _ages(row: Cells) -> tuple[float, float | None]:
    """Return from which age and below which; a row without ages is for all."""
    if not row.has("ages"):
        return 0.0, None
    ages = row.table("ages")
    ages.only(("from_years", "below_years"))
    start = ages.number("from_years", 0, 150)
    if not ages.has("below_years"):
        return start, None
    end = ages.number("below_years", start, 150)
    if end == start:
        raise ages.error("below_years", "no age is left", f"more than {start:g}", f"{end:g}")
    return start, end


def _places(before: Before) -> tuple[str, ...]:
    """Return what the words of an item may be filled with."""
    if before.unit == "on receipt":
        return ()
    if before.unit == "hours":
        return ("time",) if before.most is None else ("time", "earliest_time")
    return ("date",)


def _filled_by(row: Cells, key: str, places: tuple[str, ...]) -> str:
    """Return a text whose places in braces are all known."""
    text = row.text(key)
    allowed = " and ".join(f"{{{place}}}" for place in places) or "no place in braces"
    try:
        found = [name for _, name, _, _ in Formatter().parse(text) if name is not None]
    except ValueError as error:
        raise row.error(key, f"braces do not close ({error})", allowed, text) from None
    for name in found:
        if name not in places:
            raise row.error(key, "unknown place in the text", allowed, f"{{{name}}}")
    return text


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
            gap = next(_gaps([item for item in own if substrate in item.substrates]), None)
            if gap is not None:
                raise cells.error(
                    "item",
                    f"{name} has no row of the service for {substrate} from {gap:g} years",
                    f"rows with guidance {SERVICE} for every age",
                    "none",
                )


def _gaps(rows: list[Item]) -> Iterator[float]:
    """Yield each age from which on there is no row."""
    if not rows:
        yield 0.0
        return
    ordered = sorted(rows, key=lambda row: row.from_years)
    if ordered[0].from_years > 0:
        yield 0.0
    for before, after in pairwise(ordered):
        if before.below_years is not None and before.below_years < after.from_years:
            yield before.below_years
    end = ordered[-1].below_years
    if end is not None:
        yield end
