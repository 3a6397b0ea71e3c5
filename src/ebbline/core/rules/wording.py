"""Words as data: caveats, cautions and the names of questions, with the limits that call them."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution; ``substrates`` empty means that it is always shown."""

    text: str
    substrates: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Wording:
    """What data/wording.toml holds: words by name, and limits by name (units in the names)."""

    questions: Mapping[str, str]
    gases: Mapping[str, str]
    limits: Mapping[str, float]
    caveats: Mapping[str, str]
    cautions: tuple[Caution, ...]


def parse_wording(table: Mapping[str, Any]) -> Wording:
    """Return the words that a table holds; see data/wording.toml for its shape.

    Parameters
    ----------
    table : mapping
        What the TOML file holds.

    Returns
    -------
    Wording
    """
    return Wording(
        questions=table["question"],
        gases=table["gas"],
        limits=table["limit"],
        caveats=table["caveat"],
        cautions=tuple(
            Caution(row["text"], tuple(row.get("substrates", ()))) for row in table["caution"]
        ),
    )


def cautions_for(substrate: str, wording: Wording) -> tuple[str, ...]:
    """Return the cautions that belong on a report.

    Parameters
    ----------
    substrate : str
        What was drunk.
    wording : Wording
        Words.

    Returns
    -------
    tuple of str
    """
    return tuple(
        caution.text
        for caution in wording.cautions
        if not caution.substrates or substrate in caution.substrates
    )
