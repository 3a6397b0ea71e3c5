"""The head of a file that is a table: lines ``# key: value`` above the names of the columns."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ebbline.adapters.files.table_dialect import read_number, why_no_number
from ebbline.adapters.files.table_text import Place, clip, plain, show
from ebbline.core.errors import list_allowed

Kind = Literal["number", "choice", "substrate", "reference", "text"]

# A spreadsheet pads a line with separators up to the width of the table.
_BLANK = re.compile(r"[\s,;]*")
_QUOTED_LINE = re.compile(r'"((?:[^"]|"")*)"[\s,;]*')
_SIGN_WORDS = {",": "comma", ";": "semicolon", ".": "point", "\t": "tab"}


@dataclass(frozen=True, slots=True)
class Key:
    """One head key: what it may hold and what it means.

    ``low`` and ``high`` bound a number, in the unit of the name; ``low`` itself is refused where
    ``above`` is set. ``choices`` are the words of a choice.
    """

    name: str
    kind: Kind
    meaning: str
    low: float = 0.0
    high: float = 0.0
    above: bool = False
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HeadLine:
    """One ``# key: value`` line, as written, or one option of the caller that stands for it.

    ``noun`` names it in messages; ``place`` has a row only for a line of the file.
    """

    key: str
    value: str
    place: Place
    noun: str


def split_head(lines: Sequence[str], file: str) -> tuple[dict[str, HeadLine], int]:
    """Return the head lines by normal key, and the index of the line with the columns.

    Raises
    ------
    TableFileError
        If a key is missing or repeated, or no table follows.
    """
    start = next(
        (
            index
            for index, line in enumerate(lines)
            if not _BLANK.fullmatch(line) and not line.lstrip().startswith(("#", '"#'))
        ),
        len(lines),
    )
    head: dict[str, HeadLine] = {}
    for index, line in enumerate(lines[:start]):
        found = None if _BLANK.fullmatch(line) else _read_line(line.strip(), Place(file, index + 1))
        if found is None:
            continue
        key = normal(found.key)
        if key in head:
            found.place.refuse(
                f"{found.noun} is given twice",
                allowed=f"each key once; the first is in row {head[key].place.row}",
                came=show(found.value),
            )
        head[key] = found
    if start == len(lines):
        Place(file).refuse(
            "the file has no table",
            allowed="a line with the names of the columns, then one line for each sample",
            came="head lines only",
        )
    return head, start


def _read_line(text: str, place: Place) -> HeadLine | None:
    """Return a line's key and value, None for a comment."""
    if text.startswith('"'):
        unquoted = _QUOTED_LINE.fullmatch(text)
        if unquoted is None:
            place.refuse(
                "a head line is quoted wrongly",
                allowed='# key: value without quotes, or "# key: value" as one cell',
                came=show(text),
            )
        text = unquoted.group(1).replace('""', '"')
    key, colon, value = text.removeprefix("#").partition(":")
    if not colon:
        return None
    key = key.strip()
    if not key:
        place.refuse("a head line has no key", allowed="# key: value", came=show(text))
    return head_line(key, value.strip(), place)


def head_line(key: str, value: str, place: Place) -> HeadLine:
    """Return a line of a file's head, named in messages by its key as written."""
    return HeadLine(key, value, place, f"head line {clip(key)}")


def normal(key: str) -> str:
    """Return the one spelling of a key that may have capitals, spaces and hyphens."""
    return re.sub(r"[\s-]+", "_", key.lower())


def take_sign(line: HeadLine | None, choices: tuple[str, ...]) -> str | None:
    """Return the sign that ``delimiter`` or ``decimal`` declares, None where it declares none.

    Parameters
    ----------
    line : HeadLine or None
        The line; None where there is none.
    choices : tuple of str
        Words of the signs that may stand there.

    Raises
    ------
    TableFileError
        If it is neither a sign that may stand there nor its word.
    """
    if line is None:
        return None
    value = line.value.rstrip(" ,;")
    if not value and line.value[:1] not in line.value[1:]:
        # Nothing but separators: the first is the sign, unless a spreadsheet wrote them all.
        value = line.value[:1]
    if not value:
        return None
    word = read_choice(line, _SIGN_WORDS.get(value, value), choices)
    return next(sign for sign, name in _SIGN_WORDS.items() if name == word)


def unpad(head: dict[str, HeadLine], delimiter: str) -> None:
    """Drop the separators with which a spreadsheet filled up the lines."""
    for key, line in head.items():
        value = line.value.rstrip(f"{delimiter} \t")
        head[key] = HeadLine(line.key, value, line.place, line.noun)


def read_choice(line: HeadLine, value: str, choices: tuple[str, ...]) -> str:
    """Return a choice as it is listed, spelled with capitals, spaces or hyphens as a key may be.

    Raises
    ------
    TableFileError
        If it is none of the choices.
    """
    found = next((choice for choice in choices if normal(choice) == normal(value)), None)
    if found is None:
        line.place.refuse(
            f"{line.noun} is not a choice", allowed=list_allowed(choices), came=show(line.value)
        )
    return found


def read_quantity(key: Key, line: HeadLine, decimal: str) -> str:
    """Return a number within its limits as plain text.

    Raises
    ------
    TableFileError
        If it is not a plain number, or outside the limits of the key.
    """
    first = f"more than {plain(key.low)} and" if key.above else f"{plain(key.low)} or more and"
    allowed = f"a plain number, {first} {plain(key.high)} or less"
    value = read_number(line.value, decimal)
    if value is None:
        wrong = why_no_number(line.value, decimal)
        line.place.refuse(f"{line.noun}: {wrong}", allowed=allowed, came=show(line.value))
    if not key.low <= value <= key.high or (key.above and value == key.low):
        line.place.refuse(f"{line.noun} is out of range", allowed=allowed, came=show(line.value))
    return plain(value)
