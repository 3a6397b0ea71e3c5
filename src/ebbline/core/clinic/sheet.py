"""The preparation sheet that a patient takes home: plain words, real dates, and cautions."""

from collections.abc import Mapping
from dataclasses import dataclass

from ebbline.core.clinic.dates_in_words import words_of_date
from ebbline.core.clinic.preparation import PlannedItem
from ebbline.core.clinic.preparation_item import Before
from ebbline.core.clinic.preparation_table import PreparationTable
from ebbline.core.errors import FieldError


@dataclass(frozen=True, slots=True)
class Section:
    """What to do at one time."""

    heading: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet in the order in which it is read; ``mark`` is None where the patient is real."""

    mark: str | None
    title: str
    intro: tuple[str, ...]
    cautions_heading: str
    cautions: tuple[str, ...]
    sections: tuple[Section, ...]
    contact: str


def preparation_sheet(
    planned: tuple[PlannedItem, ...],
    *,
    substrate: str,
    plain: str,
    service: str,
    contact: str,
    for_child: bool,
    invented: bool,
    table: PreparationTable,
) -> Sheet:
    """Return the sheet of one appointment.

    Parameters
    ----------
    planned : tuple of PlannedItem
        What the patient is asked to do.
    substrate, plain : str
        Id of the substrate, and its name in plain words.
    service, contact : str
        Name of the service, and how to reach it.
    for_child : bool
        Whether a parent reads it for a child.
    invented : bool
        Whether the patient is invented; the sheet then says so.
    table : PreparationTable
        Rows and words.

    Returns
    -------
    Sheet
        Cautions come first; what is to be done comes in order of time.

    Raises
    ------
    FieldError
        If there is nothing to prepare, or the service or how to reach it is blank.
    """
    if not planned:
        raise FieldError(
            field="planned", wrong="nothing to prepare", allowed="at least one item", came="none"
        )
    for field, text in (("service", service), ("contact", contact)):
        if not text.strip():
            raise FieldError(field=field, wrong="blank", allowed="a text", came=repr(text))
    words = table.words
    appointment = planned[0].appointment
    intro = [
        words["appointment"].format(
            date=words_of_date(appointment), time=f"{appointment:%H:%M}", service=service
        )
    ]
    if for_child:
        intro.append(words["child"])
    return Sheet(
        mark=words["invented"] if invented else None,
        title=words["title"].format(substrate=plain),
        intro=tuple(intro),
        cautions_heading=words["cautions"],
        cautions=tuple(row.text for row in table.cautions if substrate in row.substrates),
        sections=_sections(planned, table.headings),
        contact=words["contact"].format(contact=contact),
    )


def sheet_text(sheet: Sheet) -> str:
    """Return a sheet as plain text, one blank line between its parts.

    Parameters
    ----------
    sheet : Sheet
        Sheet.

    Returns
    -------
    str
        Ends with a line end.
    """
    parts = [] if sheet.mark is None else [sheet.mark]
    parts += [sheet.title, "\n".join(sheet.intro), _listed(sheet.cautions_heading, sheet.cautions)]
    parts += [_listed(section.heading, section.lines) for section in sheet.sections]
    parts.append(sheet.contact)
    return "\n\n".join(parts) + "\n"


def _listed(heading: str, lines: tuple[str, ...]) -> str:
    return "\n".join([heading, *(f"- {line}" for line in lines)])


def _sections(planned: tuple[PlannedItem, ...], headings: Mapping[str, str]) -> tuple[Section, ...]:
    """Return the items by when they begin; those that begin together stay in the rows' order."""
    lines: dict[str, list[str]] = {}
    for one in sorted(planned, key=lambda one: _order(one.item.before)):
        lines.setdefault(_heading(one.item.before, headings), []).append(one.tells)
    return tuple(Section(heading, tuple(told)) for heading, told in lines.items())


def _order(before: Before) -> tuple[int, float]:
    """Return where an item stands: what is furthest ahead first."""
    step = {"on receipt": 0, "weeks": 1, "days": 1, "hours": 2, "on the day": 3}[before.unit]
    return step, -before.days


def _heading(before: Before, headings: Mapping[str, str]) -> str:
    if before.unit == "weeks":
        return headings["week" if before.least == 1 else "weeks"].format(count=f"{before.least:g}")
    if before.unit == "days":
        return headings["day" if before.least == 1 else "days"].format(count=f"{before.least:g}")
    return headings[before.unit.replace(" ", "_")]
