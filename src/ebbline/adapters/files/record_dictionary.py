"""What an export says about itself: its columns, its data dictionary, and its page to read."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.core.clinic.record.entry import Column, Entry, columns_of
from ebbline.core.clinic.record.kinds import KINDS

Rows = Callable[[str], Iterable[tuple[Mapping[str, Any], bool]]]
"""Kind to its rows, each with whether it is the version that stands."""

_FORMS = {
    "text": "text",
    "whole": "whole number",
    "number": "number, with a point",
    "yes-no": "yes or no",
    "day": "date, YYYY-MM-DD",
    "moment": "moment in UTC, YYYY-MM-DDThh:mm:ss.ffffffZ",
    "list": "JSON list",
    "map": "JSON object",
    "bytes": "name of a file in this export",
}


@dataclass(frozen=True, slots=True)
class Contents:
    """What is to be written.

    ``about`` says in words whose data it is, ``told`` what the record says of itself, ``kinds``
    which kinds of entry, in order; ``history_columns`` name the columns of ``history``.
    """

    about: str
    told: Mapping[str, str]
    kinds: tuple[str, ...]
    rows: Rows
    history: Iterable[Mapping[str, Any]]
    history_columns: Mapping[str, str]
    identity: bool


@dataclass(frozen=True, slots=True)
class Head:
    """One column of a file: its form, what it holds, and whether it may tell who somebody is."""

    form: str
    says: str
    apart: bool
    refers: str


def columns_shown(kind: type[Entry], *, identity: bool) -> list[Column]:
    """Return the fields of a kind that an export shows.

    Parameters
    ----------
    kind : type of Entry
        The kind.
    identity : bool
        Whether with the fields that may tell who somebody is.

    Returns
    -------
    list of Column
    """
    return [one for one in columns_of(kind) if identity or not one.apart]


def is_document(column: Column) -> bool:
    """Return whether a field is written as a file of its own.

    Parameters
    ----------
    column : Column
        The field.

    Returns
    -------
    bool
    """
    return column.form == "bytes" or column.name == "trace_summary"


def heads(kind: type[Entry], *, identity: bool) -> dict[str, Head]:
    """Return the columns of a kind's file, in order.

    Parameters
    ----------
    kind : type of Entry
        The kind.
    identity : bool
        Whether with the fields that may tell who somebody is.

    Returns
    -------
    dict
        Column to its head.
    """
    told = {
        one.name: Head(
            _FORMS["bytes" if is_document(one) else one.form], one.says, one.apart, one.refers or ""
        )
        for one in columns_shown(kind, identity=identity)
    }
    whole, choice = _FORMS["whole"], _FORMS["yes-no"]
    found = {
        "id": told.pop("id"),
        "version": Head(whole, "version of the entry, from 1", False, ""),
        "seq": Head(whole, "the act that wrote this version", False, "history"),
        "stands": Head(choice, "whether no later version replaces it", False, ""),
        **told,
    }
    if identity and any(one.apart for one in columns_of(kind)):
        says = "whether what told who somebody is was erased from this row"
        found["erased"] = Head(choice, says, False, "")
    return found


def history_columns(contents: Contents) -> list[str]:
    """Return the columns of history.csv; reasons may name somebody.

    Parameters
    ----------
    contents : Contents
        What is exported.

    Returns
    -------
    list of str
    """
    return [name for name in contents.history_columns if contents.identity or name != "why"]


def dictionary(contents: Contents) -> Iterator[tuple[str, ...]]:
    """Yield the lines of dictionary.csv, the head line first.

    Parameters
    ----------
    contents : Contents
        What is exported.

    Yields
    ------
    tuple of str
    """
    yield "file", "column", "form", "tells_who", "refers_to", "says"
    for name in contents.kinds:
        for column, head in heads(KINDS[name], identity=contents.identity).items():
            tells = "yes" if head.apart else "no"
            yield f"{name}.csv", column, head.form, tells, head.refers, head.says
    for column in history_columns(contents):
        form = _FORMS["whole" if column == "seq" else "text"]
        tells = "yes" if column == "why" else "no"
        yield "history.csv", column, form, tells, "", contents.history_columns[column]


_WITH_NAMES = """\
It holds names and other words that tell who somebody is: local codes on patient data apply to every
copy of it."""
_WITHOUT_NAMES = """\
Fields that may tell who somebody is, reasons, interpretations and reports are left out, and
nothing replaces them. Dates, rare findings and the names of staff are still in it, so it is not
anonymous."""
_PAGE = """\
# Export of {about}

{invented}From the record of {service}, record {id}. {names}

- One CSV file for each kind of entry: UTF-8, commas, a head line. Every version of an entry is a
  row; `stands` says which one counts.
- Moments are in UTC. An empty cell holds nothing, or an empty text.
- A text that begins with `=`, `+`, `-`, `@`, a tab, a line end or `'` has a `'` in front, so that
  no spreadsheet takes it for a formula. Take one leading `'` away to have the text as it was.
- Documents (reports as PDF, interpretations and summaries of traces as JSON) are in `documents`.
- `history.csv` says who did what and when. Passwords and logins are in no export.
- `dictionary.csv` holds the tables below for programs.
"""


def readme(contents: Contents) -> str:
    """Return the page that explains an export to whoever opens it, in Markdown.

    Parameters
    ----------
    contents : Contents
        What is exported.

    Returns
    -------
    str
    """
    page = _PAGE.format(
        about=contents.about,
        invented="**Everything in it is invented.** "
        if contents.told["invented"] == "true"
        else "",
        service=contents.told["service"],
        id=contents.told["id"],
        names=_WITH_NAMES if contents.identity else _WITHOUT_NAMES,
    )
    lines = [page]
    for name in contents.kinds:
        words = (KINDS[name].__doc__ or "").split("\n")[0]
        lines += [f"## {name}.csv", "", words, "", "| column | form | holds |", "|---|---|---|"]
        for column, head in heads(KINDS[name], identity=contents.identity).items():
            target = f" (id in {head.refers}.csv)" if head.refers not in {"", "history"} else ""
            lines.append(f"| {column} | {head.form} | {head.says}{target} |")
        lines.append("")
    lines += ["## history.csv", "", "| column | holds |", "|---|---|"]
    for column in history_columns(contents):
        lines.append(f"| {column} | {contents.history_columns[column]} |")
    return "\n".join(lines) + "\n"
