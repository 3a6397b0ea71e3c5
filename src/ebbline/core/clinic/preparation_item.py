"""One row of preparation: what a patient is asked to keep, and how long before a test."""

from collections.abc import Sequence
from dataclasses import dataclass
from string import Formatter
from typing import Literal, get_args

from ebbline.core.clinic.cells import PROVENANCES, Cells
from ebbline.core.errors import SettingError

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


def parse_item(row: Cells, *, substrates: tuple[str, ...], guidances: tuple[str, ...]) -> Item:
    """Return one row.

    Parameters
    ----------
    row : Cells
        The row.
    substrates, guidances : tuple of str
        Ids that it may name.

    Returns
    -------
    Item

    Raises
    ------
    SettingError
        If the row cannot be used.
    """
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
        tells=filled_by(row, "tells", places),
        before=before,
        answer=answer,
        asks=filled_by(row, "asks", places) if asked else None,
        kept_when=_yes_or_no(row) if asked else None,
        last=row.text("last") if counted else None,
        substrates=substrates_of(row, substrates),
        from_years=from_years,
        below_years=below_years,
        by_age=row.has("ages"),
        guidance=row.choices("guidance", guidances),
        source=row.text("source"),
        provenance=row.choice("provenance", PROVENANCES),
    )


def filled_by(row: Cells, key: str, places: Sequence[str]) -> str:
    """Return a text whose places in braces are all known.

    Parameters
    ----------
    row : Cells
        Row.
    key : str
        Key of the text.
    places : sequence of str
        What it may be filled with.

    Returns
    -------
    str

    Raises
    ------
    SettingError
        If it is no text, its braces do not close, or it names another place.
    """
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


def substrates_of(row: Cells, substrates: tuple[str, ...]) -> tuple[str, ...]:
    """Return the substrates of a row; a row that names none is for all.

    Parameters
    ----------
    row : Cells
        Row.
    substrates : tuple of str
        Ids that it may name.

    Returns
    -------
    tuple of str

    Raises
    ------
    SettingError
        If it names another.
    """
    return row.choices("substrates", substrates) if row.has("substrates") else substrates


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
