"""How one file writes its table: what stands between cells, and the decimal sign.

Both are declared in the file or plain to see; where two readings are possible the file is refused.
A wrong guess here would turn 1,234 ppm into 1.234 ppm without anybody noticing.
"""

import csv
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NoReturn

from ebbline.adapters.files.table_text import Place, show
from ebbline.core.errors import list_allowed

DECIMALS = {".": "point", ",": "comma"}

_QUOTED = re.compile('"[^"]*(?:"|$)')
_NUMBER = {sign: re.compile(rf"[+-]?[0-9]+(?:[{sign}][0-9]+)?") for sign in DECIMALS}
_NUMBERS = {
    sign: re.compile(rf"(?:{number.pattern})?+(?:\0(?:{number.pattern})?+)*+")
    for sign, number in _NUMBER.items()
}
_EXPONENT = re.compile(r"[+-]?[0-9.,]+[eE][+-]?[0-9]+")
_NUMBER_LIKE = re.compile(r"[+-]?[0-9.,]*[0-9][0-9.,]*")
# Three digits after the sign, and a first group without leading zero: 1,234 or 12.345.
_LIKE_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:[.,][0-9]{3})+")
# Signs that may group thousands beside a delimiter: English with commas, continental with
# semicolons. Tabs are used everywhere.
_GROUPS_THOUSANDS = {",": ",", ";": ".", "\t": ".,"}


@dataclass(frozen=True, slots=True)
class NumberText:
    """A number as it stands in the file, and where."""

    place: Place
    text: str


def find_delimiter(
    columns_line: str, place: Place, declared: str | None, *, delimiters: Mapping[str, str]
) -> str:
    """Return what separates the cells of a table.

    Parameters
    ----------
    columns_line : str
        The line with the names of the columns.
    place : Place
        Where that line is.
    declared : str or None
        What the file or the user says; None where neither does.
    delimiters : mapping of str to str
        The signs that may stand there, and the word for each.

    Raises
    ------
    TableFileError
        If the line can be split in two ways or in none, or not by what is declared.
    """
    bare = _QUOTED.sub("", columns_line)
    found = [sign for sign in delimiters if sign in bare]
    if declared is not None:
        if declared not in found:
            place.refuse(
                "the columns are not separated as declared",
                allowed=f"a {delimiters[declared]} between columns",
                came=show(columns_line.strip()),
            )
        return declared
    if len(found) > 1:
        many = "both" if len(delimiters) == 2 else "several of them"
        words = list_allowed(f"{word}s" for word in delimiters.values())
        place.refuse(
            "the columns can be split in two ways",
            allowed=f"{words}, not {many}; or a head line delimiter",
            came=show(columns_line.strip()),
        )
    if not found:
        words = list_allowed(f"a {word}" for word in delimiters.values())
        place.refuse(
            "the columns cannot be split",
            allowed=f"{words} between columns",
            came=show(columns_line.strip()),
        )
    return found[0]


def read_records(
    lines: Sequence[str], start: int, delimiter: str, file: str
) -> Iterator[tuple[int, list[str]]]:
    """Yield the records of a table, each with its line number in the file.

    Parameters
    ----------
    lines : sequence of str
        All lines of the file.
    start : int
        Index of the line with the names of the columns.
    delimiter : str
        What separates cells.
    file : str
        Name for messages.

    Yields
    ------
    (int, list of str)
        Line number from 1 and trimmed cells; records without any content are left out.

    Raises
    ------
    TableFileError
        If quotes are wrong, a head line stands inside the table, or no cell has any content.
    """
    empty = True
    reader = csv.reader(lines[start:], delimiter=delimiter, strict=True, skipinitialspace=True)
    while True:
        row = start + reader.line_num + 1
        try:
            cells = list(map(str.strip, next(reader)))
        except StopIteration:
            break
        except csv.Error as error:
            _refuse_quotes(str(error), Place(file, row), lines[row - 1])
        if lines[row - 1].lstrip().startswith("#"):
            Place(file, row).refuse(
                "a head line stands inside the table",
                allowed="lines that begin with # above the columns only; a cell that does, quoted",
                came=show(lines[row - 1].strip()),
            )
        if any(cells):
            empty = False
            yield row, cells
    if empty:
        Place(file, start + 1).refuse(
            "the file has no table",
            allowed="a line with the names of the columns, then one line for each sample",
            came="nothing but empty cells",
        )


def _refuse_quotes(reason: str, place: Place, line: str) -> NoReturn:
    """Say in our own words what the csv module found."""
    if "unexpected end" in reason:
        wrong = "a quote is opened and never closed"
    elif "field limit" in reason:
        wrong = "a cell is too long"
    else:
        wrong = "text follows a closing quote"
    place.refuse(
        wrong,
        allowed='"text" with a quote inside it doubled, 131072 characters at most',
        came=show(line.strip()),
    )


def find_decimal(
    numbers: Iterable[NumberText], delimiter: str, *, possible: Collection[str]
) -> str:
    """Return the decimal sign that the numbers of a file show, a point where they show none.

    Parameters
    ----------
    numbers : iterable of NumberText
        Every cell and head value that should hold a number.
    delimiter : str
        What separates cells.
    possible : collection of str
        Decimal signs that may occur in the numbers at all. Where a caller has seen that only one
        does, a table of a million cells need not be looked through.

    Raises
    ------
    TableFileError
        If points and commas both appear, or if every number with one could as well be a whole
        number with its thousands grouped.
    """
    first: dict[str, NumberText] = {}
    grouped: NumberText | None = None
    only_grouped = True
    for number in numbers if possible else ():
        if not _NUMBER_LIKE.fullmatch(number.text):
            continue
        signs = [sign for sign in DECIMALS if sign in number.text]
        for sign in signs:
            first.setdefault(sign, number)
        if len(first) == 2:
            other = first["," if signs[-1] == "." else "."]
            number.place.refuse(
                "the decimal sign is ambiguous",
                allowed="points or commas, not both; or a head line decimal",
                came=f"{show(number.text)} here and {show(other.text)} in row {other.place.row}",
            )
        if not signs:
            continue
        if signs[0] in _GROUPS_THOUSANDS[delimiter] and _LIKE_THOUSANDS.fullmatch(number.text):
            grouped = grouped or number
        else:
            only_grouped = False
            if len(possible) == 1:
                break
    if grouped is not None and only_grouped:
        grouped.place.refuse(
            "the number may hold a decimal sign or a thousands separator",
            allowed="no thousands separator; a head line decimal where it is a decimal sign",
            came=show(grouped.text),
        )
    return "," if "," in first else "."


def read_number(text: str, decimal: str) -> float | None:
    """Return a plain decimal number, None where the text is not one.

    Digits are 0 to 9 only: no exponent, thousands separator, word, other script or underscore.
    """
    if not _NUMBER[decimal].fullmatch(text):
        return None
    # Adding zero makes "-0" the same minute as "0".
    return float(text.replace(",", ".")) + 0.0


def first_no_number(texts: Sequence[str], decimal: str) -> int | None:
    """Return the index of the first text that `read_number` does not take, empty ones apart."""
    # One look at all of them together takes a fifth of the time. NUL stands in no text of a file.
    if _NUMBERS[decimal].fullmatch("\0".join(texts)):
        return None
    whole = _NUMBER[decimal].fullmatch
    return next((at for at, text in enumerate(texts) if text and not whole(text)), None)


def why_no_number(text: str, decimal: str) -> str:
    """Say what is wrong with a text that `read_number` does not take."""
    other = "," if decimal == "." else "."
    if _EXPONENT.fullmatch(text):
        return "a number is written with an exponent"
    if _NUMBER_LIKE.fullmatch(text) and other in text:
        return f"a number holds a {DECIMALS[other]} where the decimal sign is a {DECIMALS[decimal]}"
    return "this is not a plain number"
