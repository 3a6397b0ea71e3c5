"""The head of a curve file: lines ``# key: value`` above the table, and what they say."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from ebbline.adapters.files.curve_dialect import NumberText, read_number, why_no_number
from ebbline.adapters.files.curve_keys import KEYS, SIGN_WORDS, Key
from ebbline.adapters.files.curve_text import Place, clip, plain, show
from ebbline.core.errors import list_allowed

# A spreadsheet pads a line with separators up to the width of the table.
_BLANK = re.compile(r"[\s,;]*")
_QUOTED_LINE = re.compile(r'"((?:[^"]|"")*)"[\s,;]*')
_GAS = re.compile(r"(o2|co2)(?:\s+([0-9.,+-]+)\s*%?)?")
# What begins like this was meant as a gas, so a slip in it must not pass as somebody's own words.
_LIKE_GAS = re.compile(r"[\d.,+\-−]|c?o(?![a-z])|c?o[₂2]|oxygen|carbon|h2|ch4")
_REFERENCE_PCT = {"o2": (5.0, 20.0), "co2": (1.0, 10.0)}
_FIELDS = ("substrate", "dose_g", "weight_kg", "age_years", "protocol")
_DIALECT = ("delimiter", "decimal")


@dataclass(frozen=True, slots=True)
class HeadLine:
    """One ``# key: value`` line, as written, or one option of the caller that stands for it.

    ``noun`` names it in messages; ``place`` has a row only for a line of the file.
    """

    key: str
    value: str
    place: Place
    noun: str


@dataclass(frozen=True, slots=True)
class Head:
    """What the head and the caller's options say, checked; the parts of a `BreathTest`."""

    substrate: str
    dose_g: float | None
    weight_kg: float | None
    age_years: float | None
    protocol: str | None
    facts: Mapping[str, str] = field(default_factory=dict)
    unused: Mapping[str, str] = field(default_factory=dict)


def split_head(lines: Sequence[str], file: str) -> tuple[dict[str, HeadLine], int]:
    """Return the head lines by normal key, and the index of the line with the columns.

    Raises
    ------
    CurveFileError
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
        key = _normal(found.key)
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
    return HeadLine(key, value.strip(), place, f"head line {clip(key)}")


def _normal(key: str) -> str:
    return re.sub(r"[\s-]+", "_", key.lower())


def override(head: dict[str, HeadLine], options: Mapping[str, str], file: str) -> None:
    """Put the caller's options, by key, in place of the lines of the file."""
    for key, value in options.items():
        head[key] = HeadLine(key, value, Place(file), f"option {key}")


def take_sign(head: dict[str, HeadLine], key: str) -> str | None:
    """Return the sign that ``delimiter`` or ``decimal`` declares, None where it declares none.

    Raises
    ------
    CurveFileError
        If it is neither a sign that may stand there nor its word.
    """
    line = head.get(key)
    if line is None:
        return None
    value = line.value.rstrip(" ,;")
    if not value and line.value[:1] not in line.value[1:]:
        # Nothing but separators: the first is the sign, unless a spreadsheet wrote them all.
        value = line.value[:1]
    if not value:
        return None
    word = _read_choice(line, SIGN_WORDS.get(value, value), KEYS[key].choices)
    return next(sign for sign, name in SIGN_WORDS.items() if name == word)


def unpad(head: dict[str, HeadLine], delimiter: str) -> None:
    """Drop the separators with which a spreadsheet filled up the lines."""
    for key, line in head.items():
        value = line.value.rstrip(f"{delimiter} \t")
        head[key] = HeadLine(line.key, value, line.place, line.noun)


def head_numbers(head: Mapping[str, HeadLine]) -> Iterator[NumberText]:
    """Yield every value of the file's head that should hold a number."""
    for key, line in head.items():
        if line.place.row is None or key not in KEYS:
            continue
        if KEYS[key].kind == "number":
            yield NumberText(line.place, line.value)
        elif KEYS[key].kind == "reference":
            gas = _GAS.fullmatch(line.value.lower())
            if gas and gas.group(2):
                yield NumberText(line.place, gas.group(2))


def read_head(
    head: Mapping[str, HeadLine], *, decimal: str, substrates: tuple[str, ...], file: str
) -> Head:
    """Check the head and return what it says.

    Parameters
    ----------
    head : mapping of str to HeadLine
        Lines and options by normal key.
    decimal : {".", ","}
        Decimal sign of the file; options are written with a point.
    substrates : tuple of str
        Ids of the substrates that may be named.
    file : str
        Name for messages.

    Raises
    ------
    CurveFileError
        If a value of a known key cannot be used, or no substrate is named.
    """
    known: dict[str, str] = {}
    unused: dict[str, str] = {}
    for name, line in head.items():
        if name not in KEYS:
            unused[line.key] = line.value
        elif line.value and name not in _DIALECT:
            sign = "." if line.place.row is None else decimal
            key, text = _read_value(KEYS[name], line, sign, substrates)
            known[key] = text
    if "substrate" not in known:
        Place(file).refuse(
            "the substrate is not given", allowed=list_allowed(substrates), came="nothing"
        )
    dose, weight, age = (
        float(known[key]) if key in known else None for key in ("dose_g", "weight_kg", "age_years")
    )
    return Head(
        substrate=known["substrate"],
        dose_g=dose,
        weight_kg=weight,
        age_years=age,
        protocol=known.get("protocol"),
        facts={key: text for key, text in known.items() if key not in _FIELDS},
        unused=unused,
    )


def _read_value(
    key: Key, line: HeadLine, decimal: str, substrates: tuple[str, ...]
) -> tuple[str, str]:
    """Return the name under which a value is kept, and the value as normal text."""
    if key.kind == "number":
        return key.name, _read_quantity(key, line, decimal)
    if key.kind in ("choice", "substrate"):
        return key.name, _read_choice(line, line.value, key.choices or substrates)
    if key.kind == "reference":
        return _read_reference(line, decimal)
    return key.name, line.value


def _read_choice(line: HeadLine, value: str, choices: tuple[str, ...]) -> str:
    """Return a choice as it is listed, spelled with capitals, spaces or hyphens as a key may be."""
    found = next((choice for choice in choices if _normal(choice) == _normal(value)), None)
    if found is None:
        line.place.refuse(
            f"{line.noun} is not a choice", allowed=list_allowed(choices), came=show(line.value)
        )
    return found


def _read_quantity(key: Key, line: HeadLine, decimal: str) -> str:
    """Return a number within its limits as plain text."""
    first = f"more than {plain(key.low)} and" if key.above else f"{plain(key.low)} or more and"
    allowed = f"a plain number, {first} {plain(key.high)} or less"
    value = read_number(line.value, decimal)
    if value is None:
        wrong = why_no_number(line.value, decimal)
        line.place.refuse(f"{line.noun}: {wrong}", allowed=allowed, came=show(line.value))
    if not key.low <= value <= key.high or (key.above and value == key.low):
        line.place.refuse(f"{line.noun} is out of range", allowed=allowed, came=show(line.value))
    return plain(value)


def _read_reference(line: HeadLine, decimal: str) -> tuple[str, str]:
    """Return ``reference`` with a gas and its value, or ``own_reference`` with the file's words."""
    text = " ".join(line.value.lower().split())
    if text == "none":
        return "reference", text
    gas = _GAS.fullmatch(text)
    if gas is None and not _LIKE_GAS.match(text):
        return "own_reference", line.value
    if gas is not None and gas.group(2) is None:
        return "reference", text
    value = None if gas is None else read_number(gas.group(2), decimal)
    if gas is None or value is None:
        line.place.refuse(
            f"{line.noun} cannot be read",
            allowed="o2, o2 13.9, co2, co2 5.5, none, or a name of your own",
            came=show(line.value),
        )
    low, high = _REFERENCE_PCT[gas.group(1)]
    if not low <= value <= high:
        line.place.refuse(
            f"{line.noun} is out of range",
            allowed=f"{gas.group(1)} from {plain(low)} to {plain(high)} %",
            came=show(line.value),
        )
    return "reference", f"{gas.group(1)} {plain(value)}"
