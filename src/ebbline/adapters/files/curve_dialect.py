"""How one curve file writes its table: what stands between cells, and the decimal sign.

Both are declared in the file or plain to see; where two readings are possible the file is refused.
A wrong guess here would turn 1,234 ppm into 1.234 ppm without anybody noticing.
"""

import csv
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NoReturn

from ebbline.adapters.files.curve_text import Place, show

DELIMITERS = {",": "comma", ";": "semicolon"}
DECIMALS = {".": "point", ",": "comma"}

_QUOTED = re.compile('"[^"]*(?:"|$)')
_NUMBER = {sign: re.compile(rf"[+-]?[0-9]+(?:[{sign}][0-9]+)?") for sign in DECIMALS}
_EXPONENT = re.compile(r"[+-]?[0-9.,]+[eE][+-]?[0-9]+")
_NUMBER_LIKE = re.compile(r"[+-]?[0-9.,]*[0-9][0-9.,]*")
# Three digits after the sign, and a first group without leading zero: 1,234 or 12.345.
_LIKE_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:[.,][0-9]{3})+")
# A sign that groups thousands where the delimiter is the usual one: English and continental.
_GROUPS_THOUSANDS = {",": ",", ";": "."}


@dataclass(frozen=True, slots=True)
class NumberText:
    """A number as it stands in the file, and where."""

    place: Place
    text: str


def find_delimiter(columns_line: str, place: Place, declared: str | None) -> str:
    """Return what separates the cells of a table.

    Parameters
    ----------
    columns_line : str
        The line with the names of the columns.
    place : Place
        Where that line is.
    declared : {",", ";"} or None
        What the file or the user says; None where neither does.

    Raises
    ------
    CurveFileError
        If the line can be split in two ways or in none, or not by what is declared.
    """
    bare = _QUOTED.sub("", columns_line)
    found = [sign for sign in DELIMITERS if sign in bare]
    if declared is not None:
        if declared not in found:
            place.refuse(
                "the columns are not separated as declared",
                allowed=f"a {DELIMITERS[declared]} between columns",
                came=show(columns_line.strip()),
            )
        return declared
    if len(found) == 2:
        place.refuse(
            "the columns can be split in two ways",
            allowed="commas or semicolons, not both; or a head line delimiter",
            came=show(columns_line.strip()),
        )
    if not found:
        place.refuse(
            "the columns cannot be split",
            allowed="a comma or a semicolon between columns",
            came=show(columns_line.strip()),
        )
    return found[0]


def read_records(
    lines: Sequence[str], start: int, delimiter: str, file: str
) -> list[tuple[int, list[str]]]:
    """Return the table as cells, each record with its line number in the file.

    Parameters
    ----------
    lines : sequence of str
        All lines of the file.
    start : int
        Index of the line with the names of the columns.
    delimiter : {",", ";"}
        What separates cells.
    file : str
        Name for messages.

    Returns
    -------
    list of (int, list of str)
        Line number from 1 and trimmed cells; records without any content are left out.

    Raises
    ------
    CurveFileError
        If quotes are wrong or a head line stands inside the table.
    """
    reader = csv.reader(lines[start:], delimiter=delimiter, strict=True, skipinitialspace=True)
    records: list[tuple[int, list[str]]] = []
    while True:
        row = start + reader.line_num + 1
        try:
            cells = [cell.strip() for cell in next(reader)]
        except StopIteration:
            return records
        except csv.Error as error:
            _refuse_quotes(str(error), Place(file, row), lines[row - 1])
        if lines[row - 1].lstrip().startswith("#"):
            Place(file, row).refuse(
                "a head line stands inside the table",
                allowed="lines that begin with # above the columns only; a cell that does, quoted",
                came=show(lines[row - 1].strip()),
            )
        if any(cells):
            records.append((row, cells))


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


def find_decimal(numbers: Iterable[NumberText], delimiter: str) -> str:
    """Return the decimal sign that the numbers of a file show, a point where they show none.

    Parameters
    ----------
    numbers : iterable of NumberText
        Every cell and head value that should hold a number.
    delimiter : {",", ";"}
        What separates cells.

    Raises
    ------
    CurveFileError
        If points and commas both appear, or if every number with one could as well be a whole
        number with its thousands grouped.
    """
    first: dict[str, NumberText] = {}
    grouped: NumberText | None = None
    only_grouped = True
    for number in numbers:
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
        if signs == [_GROUPS_THOUSANDS[delimiter]] and _LIKE_THOUSANDS.fullmatch(number.text):
            grouped = grouped or number
        elif signs:
            only_grouped = False
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


def why_no_number(text: str, decimal: str) -> str:
    """Say what is wrong with a text that `read_number` does not take."""
    other = "," if decimal == "." else "."
    if _EXPONENT.fullmatch(text):
        return "a number is written with an exponent"
    if _NUMBER_LIKE.fullmatch(text) and other in text:
        return f"a number holds a {DECIMALS[other]} where the decimal sign is a {DECIMALS[decimal]}"
    return "this is not a plain number"
