"""The head keys of a trace file, one row each, and what a head says.

docs/reference/trace-file.md lists the same rows. Limits are of plausibility, set by ebbline to
catch a slip of the pen: common practice, no source.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from ebbline.adapters.files.table_dialect import NumberText
from ebbline.adapters.files.table_head import HeadLine, Key, read_choice, read_quantity

TraceKind = Literal["blow", "bag"]

SECONDS_ALLOWED = 1e10
"""Farthest time from zero, s: about 300 years, so that any clock may be used. ebbline's choice."""

_KINDS: dict[str, TraceKind] = {"blow": "blow", "bag": "bag"}
_ROWS = (
    # What the reduction needs to know.
    Key("kind", "choice", "whether a patient blew or a bag was emptied", choices=tuple(_KINDS)),
    Key(
        "begun_s",
        "number",
        "time in the table at which the blow began or the bag was opened, s",
        -SECONDS_ALLOWED,
        SECONDS_ALLOWED,
    ),
    Key("on_for_min", "number", "how long the analyser had been on at time 0, min", 0.0, 1e7),
    # How the file is written.
    Key("delimiter", "choice", "what separates cells", choices=("comma", "semicolon", "tab")),
    Key("decimal", "choice", "the decimal sign", choices=("point", "comma")),
    Key("invented", "choice", "whether the data are invented", choices=("yes", "no")),
    # Facts in words.
    Key("profile", "text", "name of the instrument's profile"),
    Key("analyser", "text", "the analyser, with its serial number"),
    Key("service", "text", "the service that recorded the trace"),
    Key("operator", "text", "who ran the analyser"),
    Key("date", "text", "date of the trace"),
    Key("started", "text", "clock time of time 0"),
    Key("note", "text", "what the operator wrote"),
)

KEYS = {key.name: key for key in _ROWS}
"""Every known head key by its name, in the order of the reference page."""

_TYPED = ("kind", "begun_s", "on_for_min", "delimiter", "decimal")
FACTS = tuple(name for name in KEYS if name not in _TYPED)
"""Keys whose value stays text."""


@dataclass(frozen=True, slots=True)
class Head:
    """What the head says, checked; the parts of a `TraceFile`."""

    kind: TraceKind | None
    begun_s: float | None
    on_for_min: float | None
    facts: Mapping[str, str]
    unused: Mapping[str, str]


def head_numbers(head: Mapping[str, HeadLine]) -> Iterator[NumberText]:
    """Yield every value of the head that should hold a number."""
    for name, line in head.items():
        if name in KEYS and KEYS[name].kind == "number":
            yield NumberText(line.place, line.value)


def read_head(head: Mapping[str, HeadLine], decimal: str) -> Head:
    """Check the head and return what it says.

    Parameters
    ----------
    head : mapping of str to HeadLine
        Lines by normal key.
    decimal : {".", ","}
        Decimal sign of the file.

    Raises
    ------
    TableFileError
        If a value of a known key cannot be used.
    """
    known: dict[str, str] = {}
    unused: dict[str, str] = {}
    for name, line in head.items():
        if name not in KEYS:
            unused[line.key] = line.value
        elif line.value and KEYS[name].kind == "number":
            known[name] = read_quantity(KEYS[name], line, decimal)
        elif line.value and KEYS[name].kind == "choice":
            known[name] = read_choice(line, line.value, KEYS[name].choices)
        elif line.value:
            known[name] = line.value
    begun_s, on_for_min = (
        float(known[name]) if name in known else None for name in ("begun_s", "on_for_min")
    )
    return Head(
        kind=_KINDS[known["kind"]] if "kind" in known else None,
        begun_s=begun_s,
        on_for_min=on_for_min,
        facts={name: text for name, text in known.items() if name in FACTS},
        unused=unused,
    )
