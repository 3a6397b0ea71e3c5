"""When stopping a test early may be suggested, and what would be lost: words, never an action."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ebbline.core.clinic.cells import PROVENANCES, Cells
from ebbline.core.clinic.life import FILE
from ebbline.core.errors import ClinicError, list_allowed

_ONLY_A_SUGGESTION = (
    "This is a suggestion only: the test goes on until a person stops it, and local protocol and a "
    "licensed clinician decide."
)


@dataclass(frozen=True, slots=True)
class StopRule:
    """A service's rule: so many of the latest samples in a row are past the reporting criterion.

    ``symptoms`` says whether symptom scores must be recorded for each of them as well.
    """

    id: str
    says: str
    in_a_row: int
    symptoms: bool
    source: str
    provenance: str


@dataclass(frozen=True, slots=True)
class StopLoss:
    """What stopping early loses, and with which substrates."""

    id: str
    says: str
    substrates: tuple[str, ...]
    source: str
    provenance: str


@dataclass(frozen=True, slots=True)
class StopTable:
    """All rules and losses, in the order of the file; a service chooses one rule, or none."""

    rules: tuple[StopRule, ...]
    losses: tuple[StopLoss, ...]


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A suggestion to a person, who decides: the rule that is met, and what stopping would lose.

    ``met`` are the minutes of the samples that met the rule, ``left`` the planned minutes that
    would not be sampled, ``lost`` the rows that apply, ``words`` all of it in sentences.
    """

    rule: StopRule
    met: tuple[float, ...]
    left: tuple[float, ...]
    lost: tuple[StopLoss, ...]
    words: tuple[str, ...]


def parse_early_stop(table: Mapping[str, Any], *, substrates: tuple[str, ...]) -> StopTable:
    """Return the rules and losses that a table holds, or refuse it whole.

    Parameters
    ----------
    table : mapping
        What data/test_life.toml holds.
    substrates : tuple of str
        Substrates that may be named.

    Returns
    -------
    StopTable

    Raises
    ------
    SettingError
        With row, key, what was allowed and what came.
    """
    top = Cells(table, file=FILE, path="")
    rules: dict[str, StopRule] = {}
    for row in top.rows("stop_rule"):
        row.only(("id", "says", "in_a_row", "symptoms", "source", "provenance"))
        name = _new_id(row, rules)
        in_a_row = row.number("in_a_row", 1, 20)
        if in_a_row != int(in_a_row):
            raise row.error("in_a_row", "not a count", "a whole number", in_a_row)
        rules[name] = StopRule(
            id=name,
            says=row.text("says"),
            in_a_row=int(in_a_row),
            symptoms=row.flag("symptoms"),
            source=row.text("source"),
            provenance=row.choice("provenance", PROVENANCES),
        )
    losses: dict[str, StopLoss] = {}
    for row in top.rows("stop_loss"):
        row.only(("id", "says", "substrates", "source", "provenance"))
        name = _new_id(row, losses)
        losses[name] = StopLoss(
            id=name,
            says=row.text("says"),
            substrates=_substrates(row, substrates),
            source=row.text("source"),
            provenance=row.choice("provenance", PROVENANCES),
        )
    if not losses:
        raise top.error("stop_loss", "no row", "one row or more", "none")
    return StopTable(rules=tuple(rules.values()), losses=tuple(losses.values()))


def suggest_stop(
    rule: StopRule,
    losses: Sequence[StopLoss],
    *,
    substrate: str,
    sampled_minutes: Sequence[float],
    met_minutes: Sequence[float],
    scored_minutes: Sequence[float],
    left_minutes: Sequence[float],
) -> Suggestion | None:
    """Return the suggestion to stop early, or None while the rule is not met.

    Parameters
    ----------
    rule : StopRule
        The rule that the service chose.
    losses : sequence of StopLoss
        What stopping can lose.
    substrate : str
        What was drunk.
    sampled_minutes : sequence of float, minutes
        Samples after the drink so far, missed ones included: a missed sample breaks a row.
    met_minutes, scored_minutes : sequence of float, minutes
        Those of them past the reporting criterion, and those with symptom scores.
    left_minutes : sequence of float, minutes
        Planned minutes that are still to come.

    Returns
    -------
    Suggestion or None
        None too where nothing is left to be stopped.

    Raises
    ------
    ClinicError
        If a minute is past the criterion or scored that was not sampled.
    """
    sampled = sorted(sampled_minutes)
    for field, minutes in (("met_minutes", met_minutes), ("scored_minutes", scored_minutes)):
        for minute in minutes:
            if minute not in sampled:
                raise ClinicError(
                    field=field,
                    wrong="not a sample of this test",
                    allowed=_listed(sampled) or "none, as nothing is sampled yet",
                    came=f"{minute:g}",
                )
    latest = tuple(sampled[-rule.in_a_row :])
    met = len(latest) == rule.in_a_row and set(latest) <= set(met_minutes)
    scored = not rule.symptoms or set(latest) <= set(scored_minutes)
    if not (left_minutes and met and scored):
        return None
    left = tuple(sorted(left_minutes))
    lost = tuple(row for row in losses if substrate in row.substrates)
    words = (
        f"A rule of this service is met at {_listed(latest)} min: {rule.says}.",
        _ONLY_A_SUGGESTION,
        f"Stopping now loses {len(left)} planned {_samples(len(left))}: {_listed(left)} min.",
        *(row.says for row in lost),
    )
    return Suggestion(rule=rule, met=latest, left=left, lost=lost, words=words)


def _new_id(row: Cells, earlier: Mapping[str, object]) -> str:
    name = row.text("id")
    if name in earlier:
        raise row.error("id", "given twice", "an id that no other row has", name)
    return name


def _substrates(row: Cells, substrates: tuple[str, ...]) -> tuple[str, ...]:
    """Return the substrates of a row; all stands for every one, and stands alone."""
    named = row.choices("substrates", (*substrates, "all"))
    if "all" not in named:
        return named
    if len(named) > 1:
        raise row.error("substrates", "all beside others", "all alone", list_allowed(named))
    return substrates


def _listed(minutes: Sequence[float]) -> str:
    return ", ".join(f"{minute:g}" for minute in minutes)


def _samples(count: int) -> str:
    return "sample" if count == 1 else "samples"
