"""The decision on the fasting readings: which limits they pass, and what each choice would make.

Nothing is chosen here. `judge_baselines` lays out what there is to choose between, and
`check_choice` refuses a choice that leaves open what was decided or why.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from ebbline.core.clinic.baseline_table import CHOICES, BaselineTable, ChoiceRow
from ebbline.core.curve.curves import WEIGHTS
from ebbline.core.curve.measures import BASELINE_RULES, baseline_of
from ebbline.core.curve.protocol import BaselineRule
from ebbline.core.errors import FieldError, list_allowed

COMPARISONS = ("at least", "more than")
"""How a limit is compared, as in a rule set."""

# Readings are decimals, their means are not exact in binary: 15.0 must be 15, as in the verdicts.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Fasting:
    """One fasting reading; ``minute`` is 0 or negative, from T0 or from now while there is none."""

    sample: str
    minute: float
    h2_ppm: float
    ch4_ppm: float | None


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of the adopted rule set: a gas or sum of gases, as in its file."""

    gas: str
    comparison: str
    threshold_ppm: float
    says: str
    source: str


@dataclass(frozen=True, slots=True)
class Excess:
    """A value past a limit."""

    limit: Limit
    value_ppm: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """A baseline that could be chosen: rule, samples, its value for each gas, limits it passes."""

    rule: BaselineRule
    uses: tuple[str, ...]
    h2_ppm: float | None
    ch4_ppm: float | None
    excesses: tuple[Excess, ...]


@dataclass(frozen=True, slots=True)
class BaselineAdvice:
    """What there is to decide between.

    ``by_sample`` holds, for each reading in order of time, the limits that it passes;
    ``candidates`` are the baselines that ``go`` could use: each rule over all readings, then each
    reading alone. The other choices in ``choices`` make no baseline before another reading is in.
    """

    by_sample: tuple[tuple[Fasting, tuple[Excess, ...]], ...]
    candidates: tuple[Candidate, ...]
    choices: tuple[ChoiceRow, ...]

    @property
    def past_a_limit(self) -> bool:
        """Whether any fasting reading passes any limit."""
        return any(excesses for _, excesses in self.by_sample)


@dataclass(frozen=True, slots=True)
class BaselineChoice:
    """What a person decided; ``rule`` is None and ``uses`` empty unless the choice is ``go``."""

    choice: str
    rule: str | None
    uses: tuple[str, ...]
    why: str
    by: str


def judge_baselines(
    readings: Sequence[Fasting], limits: Sequence[Limit], *, table: BaselineTable
) -> BaselineAdvice:
    """Return which limits the fasting readings pass, and what each choice would make.

    Parameters
    ----------
    readings : sequence of Fasting
        All fasting readings that count, B1, B2 and so on.
    limits : sequence of Limit
        Those of the adopted rule set for this substrate; none where it has none.
    table : BaselineTable
        The choices in words.

    Returns
    -------
    BaselineAdvice

    Raises
    ------
    FieldError
        If there is no reading, or one of them is no fasting reading; if a limit cannot be compared.
    """
    ordered = _in_order(readings)
    for limit in limits:
        _check_limit(limit)
    every: list[tuple[BaselineRule, list[Fasting]]] = [
        ("mean", ordered),
        ("last", ordered),
        ("lowest", ordered),
    ]
    if len(ordered) > 1:
        every += [("last", [one]) for one in ordered]
    return BaselineAdvice(
        by_sample=tuple((one, _excesses([one], "last", limits)) for one in ordered),
        candidates=tuple(_candidate(rule, used, limits) for rule, used in every),
        choices=table.choices,
    )


def check_choice(
    choice: BaselineChoice, readings: Sequence[Fasting], *, limits: Sequence[Limit]
) -> None:
    """Refuse a choice that leaves open what was decided, by whom or why.

    Parameters
    ----------
    choice : BaselineChoice
        What a person decided.
    readings : sequence of Fasting
        All fasting readings that count.
    limits : sequence of Limit
        Those of the adopted rule set for this substrate.

    Raises
    ------
    FieldError
        For an unknown choice, rule or sample; for ``go`` without a rule or samples, and for a rule
        or samples without ``go``; for ``go`` without a reason where any reading passes a limit;
        for a choice that nobody made; and as `judge_baselines`.
    """
    ordered = _in_order(readings)
    for limit in limits:
        _check_limit(limit)
    _among("choice", choice.choice, CHOICES)
    if not choice.by.strip():
        raise FieldError(
            field="by", wrong="nobody decided", allowed="the name of a person", came="nothing"
        )
    if choice.choice != "go":
        if choice.rule is not None or choice.uses:
            came = ", ".join((*([choice.rule] if choice.rule else []), *choice.uses))
            raise FieldError(
                field="rule",
                wrong=f"{choice.choice} makes no baseline",
                allowed="no rule and no samples unless the choice is go",
                came=came,
            )
        return
    _among("rule", choice.rule or "nothing", BASELINE_RULES)
    known = [one.sample for one in ordered]
    if not choice.uses or len(set(choice.uses)) != len(choice.uses):
        raise FieldError(
            field="uses",
            wrong="not the samples that make the baseline",
            allowed=f"one or more of {list_allowed(known)}, each once",
            came=", ".join(choice.uses) or "nothing",
        )
    for sample in choice.uses:
        _among("uses", sample, known)
    past = [excess for one in ordered for excess in _excesses([one], "last", limits)]
    if past and not choice.why.strip():
        raise FieldError(
            field="why",
            wrong="a fasting reading is past a limit and no reason is given to go ahead",
            allowed="a reason",
            came="nothing",
        )


def _among(field: str, value: str, allowed: Collection[str]) -> None:
    if value not in allowed:
        raise FieldError(field=field, wrong="unknown", allowed=list_allowed(allowed), came=value)


def _in_order(readings: Sequence[Fasting]) -> list[Fasting]:
    """Return the readings in order of time, or refuse what no fasting reading can be."""
    if not readings:
        raise FieldError(
            field="readings", wrong="no fasting reading", allowed="one or more", came="none"
        )
    seen: set[str] = set()
    for one in readings:
        if one.sample in seen:
            raise FieldError(
                field="sample", wrong="repeated", allowed="each sample once", came=one.sample
            )
        seen.add(one.sample)
        if not one.minute <= 0.0:
            raise FieldError(
                field="minute",
                wrong=f"{one.sample} is not a fasting reading",
                allowed="0 or less",
                came=f"{one.minute:g}",
            )
        for field, value in (("h2_ppm", one.h2_ppm), ("ch4_ppm", one.ch4_ppm)):
            if value is not None and not math.isfinite(value):
                raise FieldError(
                    field=field,
                    wrong=f"{one.sample} has no value",
                    allowed="a number in ppm",
                    came=f"{value:g}",
                )
    return sorted(readings, key=lambda one: one.minute)


def _check_limit(limit: Limit) -> None:
    _among("gas", limit.gas, WEIGHTS)
    _among("comparison", limit.comparison, COMPARISONS)


def _value(used: Sequence[Fasting], rule: BaselineRule, gas: str) -> float | None:
    """Return the baseline of a gas or sum, ppm, by the rule that the verdicts use too."""
    h2, ch4 = WEIGHTS[gas]
    missing = [ch4 != 0.0 and one.ch4_ppm is None for one in used]
    value = baseline_of(
        np.array([one.minute for one in used], dtype=np.float64),
        np.array(
            [
                math.nan if gone else h2 * one.h2_ppm + ch4 * (one.ch4_ppm or 0.0)
                for one, gone in zip(used, missing, strict=True)
            ]
        ),
        BASELINE_RULES[rule],
    )
    return None if math.isnan(value) else float(value)


def _excesses(
    used: Sequence[Fasting], rule: BaselineRule, limits: Sequence[Limit]
) -> tuple[Excess, ...]:
    """Return the limits that a baseline passes; one without a value passes none."""
    found = []
    for limit in limits:
        value = _value(used, rule, limit.gas)
        margin = _ROUNDING if limit.comparison == "more than" else -_ROUNDING
        if value is not None and value >= limit.threshold_ppm + margin:
            found.append(Excess(limit=limit, value_ppm=value))
    return tuple(found)


def _candidate(rule: BaselineRule, used: Sequence[Fasting], limits: Sequence[Limit]) -> Candidate:
    return Candidate(
        rule=rule,
        uses=tuple(one.sample for one in used),
        h2_ppm=_value(used, rule, "h2"),
        ch4_ppm=_value(used, rule, "ch4"),
        excesses=_excesses(used, rule, limits),
    )
