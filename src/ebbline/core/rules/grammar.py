"""The grammar of a rule set: what its file may hold, as frozen rows.

A rule set is one published document's criteria, or a service's own. `parse_rule_set` takes the
table that a TOML file holds and refuses it, with line, key and what was allowed, unless every row
is complete. docs/reference/rule-sets.md is written from `SET_KEYS`, `STATEMENT_KEYS` and
`VALIDITY_KEYS`.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from ebbline.core.curve.curves import GASES
from ebbline.core.rules.fields import Field, Row

Measure = Literal["level", "rise over baseline", "rise over lowest earlier", "baseline"]
Comparison = Literal["at least", "more than"]
Provenance = Literal["read", "reported", "memory"]

QUESTIONS = (
    "carbohydrate-malabsorption",
    "bacterial-overgrowth",
    "methanogen-overgrowth",
    "symptoms-provoked",
)
MEASURES = ("level", "rise over baseline", "rise over lowest earlier")
COMPARISONS = ("at least", "more than")
PROVENANCES = ("read", "reported", "memory")

SET_KEYS = (
    Field("id", "id", True, "short name in lower case, joined by hyphens"),
    Field("version", "text", True, "changes whenever a row changes"),
    Field("title", "text", True, "name as reports print it"),
    Field("source", "text", True, "the document, with authors, journal and year"),
    Field("population", "choice", False, "who it was written for", ("any", "adults", "children")),
    Field("note", "text", False, "what a reader should know"),
)
_CRITERION = (
    Field("id", "id", True, "name of the row, unique in the set"),
    Field("substrates", "substrates", True, "sugars it covers"),
    Field("gas", "choice", True, "gas, sum of gases, or symptoms", GASES),
    Field("comparison", "choice", True, "how the threshold is compared", COMPARISONS),
    Field("threshold_ppm", "number", False, "threshold for a gas", (0.1, 2000.0)),
    Field("source", "text", True, "table or page"),
    Field(
        "provenance",
        "choice",
        True,
        "read in the document, reported by another, or memory",
        PROVENANCES,
    ),
    Field("confirmed_by", "text", False, "who checked a row from memory against the paper"),
    Field("confirmed_on", "date", False, "when they did"),
)
STATEMENT_KEYS = (
    *_CRITERION,
    Field("question", "choice", True, "question it answers", QUESTIONS),
    Field("measure", "choice", True, "what is compared", MEASURES),
    Field("threshold_points", "number", False, "threshold for symptoms", (0.1, 10.0)),
    Field("by_minute", "number", False, "only samples up to this minute count", (1.0, 1440.0)),
    Field("needs_minutes", "number", False, "readings must reach this minute", (1.0, 1440.0)),
    Field("needs_provenance", "choice", False, "provenance of needs_minutes", PROVENANCES),
    Field("undecided_from_ppm", "number", False, "below the threshold, open", (0.1, 2000.0)),
    Field("doses_g", "numbers", False, "doses it was published for, g", (0.1, 200.0)),
)
VALIDITY_KEYS = (
    *_CRITERION,
    Field("measure", "choice", True, "what is compared", ("baseline",)),
    Field("says", "text", True, "why the test is then invalid, as a sentence"),
)


@dataclass(frozen=True, slots=True)
class Statement:
    """One criterion. Thresholds in ppm (or points for symptoms), minutes from T0, doses in g."""

    id: str
    question: str
    substrates: tuple[str, ...]
    gas: str
    measure: Measure
    comparison: Comparison
    threshold: float
    by_minute: float | None
    needs_minutes: float | None
    undecided_from: float | None
    doses_g: tuple[float, ...]
    source: str
    provenance: Provenance
    needs_provenance: Provenance | None
    confirmed_by: str | None
    confirmed_on: str | None

    @property
    def unit(self) -> Literal["ppm", "points"]:
        """Unit of the threshold."""
        return "points" if self.gas == "symptoms" else "ppm"

    @property
    def checked(self) -> bool:
        """Whether the row was read or reported, or a named person has confirmed it."""
        return self.provenance != "memory" or self.confirmed_by is not None

    @property
    def end_minute(self) -> float:
        """The minute that readings must reach before the statement can be "not met"."""
        if self.by_minute is not None:
            return self.by_minute
        # parse_rule_set asks for one of the two.
        return math.inf if self.needs_minutes is None else self.needs_minutes


@dataclass(frozen=True, slots=True)
class Validity:
    """A condition under which the rule set itself calls the test invalid (threshold in ppm)."""

    id: str
    substrates: tuple[str, ...]
    gas: str
    comparison: Comparison
    threshold: float
    says: str
    source: str
    provenance: Provenance
    confirmed_by: str | None
    confirmed_on: str | None

    @property
    def checked(self) -> bool:
        """Whether the row was read or reported, or a named person has confirmed it."""
        return self.provenance != "memory" or self.confirmed_by is not None


@dataclass(frozen=True, slots=True)
class RuleSet:
    """One document's criteria, or a service's own."""

    id: str
    version: str
    title: str
    source: str
    population: Literal["any", "adults", "children"]
    note: str
    statements: tuple[Statement, ...]
    validity: tuple[Validity, ...]

    @property
    def unchecked(self) -> tuple[str, ...]:
        """Ids of the rows that nobody has checked against the paper."""
        rows: tuple[Statement | Validity, ...] = (*self.statements, *self.validity)
        return tuple(row.id for row in rows if not row.checked)

    def covers(self, substrate: str) -> bool:
        """Say whether any statement covers a substrate.

        Parameters
        ----------
        substrate : str
            Its name in data/substrates.toml.

        Returns
        -------
        bool
        """
        return any(substrate in row.substrates for row in self.statements)


def parse_rule_set(
    table: Mapping[str, Any],
    *,
    file: str,
    lines: Mapping[str, int],
    substrates: tuple[str, ...],
) -> RuleSet:
    """Return the rule set that a table holds, or refuse it whole.

    Parameters
    ----------
    table : mapping
        What the TOML file holds.
    file : str
        Its name, for messages.
    lines : mapping of str to int
        Line of each key path such as ``statement[2].gas``, counted from 1, where known.
    substrates : tuple of str
        Substrates that may be named.

    Returns
    -------
    RuleSet

    Raises
    ------
    RuleError
        With line, key, what was allowed and what came.
    """
    top = Row(table, "", file, lines, substrates)
    top.check_keys(SET_KEYS, also=("statement", "validity"))
    statements = tuple(_statement(row) for row in top.rows("statement", STATEMENT_KEYS, least=1))
    validity = tuple(_validity(row) for row in top.rows("validity", VALIDITY_KEYS, least=0))
    rows: tuple[Statement | Validity, ...] = (*statements, *validity)
    seen: set[str] = set()
    names = [f"statement[{i + 1}].id" for i in range(len(statements))]
    names += [f"validity[{i + 1}].id" for i in range(len(validity))]
    for path, row in zip(names, rows, strict=True):
        if row.id in seen:
            raise top.error(path, "repeated", "an id that no other row has", repr(row.id))
        seen.add(row.id)
    return RuleSet(
        id=top.text("id"),
        version=top.text("version"),
        title=top.text("title"),
        source=top.text("source"),
        population=top.get("population") or "any",
        note=top.get("note") or "",
        statements=statements,
        validity=validity,
    )


def _statement(row: Row) -> Statement:
    gas = row.text("gas")
    if (gas == "symptoms") != (row.get("question") == "symptoms-provoked"):
        raise row.error(
            "question",
            "symptoms and gases answer different questions",
            "symptoms-provoked for symptoms, and only for them",
            f"{row.get('question')!r} with gas {gas!r}",
        )
    if gas == "symptoms" and row.get("measure") != "level":
        raise row.error("measure", "not for symptoms", "'level'", repr(row.get("measure")))
    unit = "points" if gas == "symptoms" else "ppm"
    other = "ppm" if unit == "points" else "points"
    threshold = row.needed(f"threshold_{unit}", f"a number in {unit} for gas {gas!r}")
    row.forbid(f"threshold_{other}", f"threshold_{unit} for gas {gas!r}")
    if gas == "symptoms":
        row.forbid("undecided_from_ppm", "no band for symptoms")
    by_minute = row.get("by_minute")
    if by_minute is None:
        row.needed("needs_minutes", "by_minute, or needs_minutes where any sample counts")
    else:
        row.forbid("needs_minutes", "only one of by_minute and needs_minutes")
    undecided = row.get("undecided_from_ppm")
    if undecided is not None and not undecided < threshold:
        raise row.error(
            "undecided_from_ppm",
            "no band",
            f"less than the threshold {threshold:g}",
            repr(undecided),
        )
    return Statement(
        id=row.text("id"),
        question=row.text("question"),
        substrates=tuple(row.get("substrates")),
        gas=gas,
        measure=row.get("measure"),
        comparison=row.get("comparison"),
        threshold=threshold,
        by_minute=by_minute,
        needs_minutes=row.get("needs_minutes"),
        undecided_from=undecided,
        doses_g=tuple(row.get("doses_g") or ()),
        source=row.text("source"),
        provenance=row.get("provenance"),
        needs_provenance=row.get("needs_provenance"),
        confirmed_by=row.get("confirmed_by"),
        confirmed_on=_confirmed_on(row),
    )


def _validity(row: Row) -> Validity:
    if row.text("gas") == "symptoms":
        raise row.error("gas", "not for a validity row", "a gas or a sum of gases", "'symptoms'")
    return Validity(
        id=row.text("id"),
        substrates=tuple(row.get("substrates")),
        gas=row.text("gas"),
        comparison=row.get("comparison"),
        threshold=row.needed("threshold_ppm", "a number in ppm"),
        says=row.text("says"),
        source=row.text("source"),
        provenance=row.get("provenance"),
        confirmed_by=row.get("confirmed_by"),
        confirmed_on=_confirmed_on(row),
    )


def _confirmed_on(row: Row) -> str | None:
    """Return the day of a confirmation: it needs a name and a day, or neither."""
    if row.get("confirmed_by") is not None:
        row.needed("confirmed_on", "a date beside confirmed_by")
    else:
        row.forbid("confirmed_on", "confirmed_by beside it")
    day = row.get("confirmed_on")
    return None if day is None else str(day)
