"""What the head of a curve file says, and what the caller's options say instead."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from ebbline.adapters.files.curve_keys import KEYS
from ebbline.adapters.files.table_dialect import NumberText, read_number
from ebbline.adapters.files.table_head import HeadLine, Key, read_choice, read_quantity
from ebbline.adapters.files.table_text import Place, plain, show
from ebbline.core.errors import list_allowed

_GAS = re.compile(r"(o2|co2)(?:\s+([0-9.,+-]+)\s*%?)?")
# What begins like this was meant as a gas, so a slip in it must not pass as somebody's own words.
_LIKE_GAS = re.compile(r"[\d.,+\-−]|c?o(?![a-z])|c?o[₂2]|oxygen|carbon|h2|ch4")
_REFERENCE_PCT = {"o2": (5.0, 20.0), "co2": (1.0, 10.0)}
_FIELDS = ("substrate", "dose_g", "weight_kg", "age_years", "protocol")
_DIALECT = ("delimiter", "decimal")


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


def override(head: dict[str, HeadLine], options: Mapping[str, str], file: str) -> None:
    """Put the caller's options, by key, in place of the lines of the file."""
    for key, value in options.items():
        head[key] = HeadLine(key, value, Place(file), f"option {key}")


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
    TableFileError
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
        return key.name, read_quantity(key, line, decimal)
    if key.kind in ("choice", "substrate"):
        return key.name, read_choice(line, line.value, key.choices or substrates)
    if key.kind == "reference":
        return _read_reference(line, decimal)
    return key.name, line.value


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
