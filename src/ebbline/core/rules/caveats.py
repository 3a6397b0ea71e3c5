"""What a reader must know beside a finding: each caveat is one small question to the curve."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.curve.curves import Curves
from ebbline.core.curve.measures import Measures
from ebbline.core.rules.codes import Finding
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpretation import StatementResult
from ebbline.core.rules.phrases import UNCHECKED, number
from ebbline.core.rules.wording import Wording


@dataclass(frozen=True, slots=True)
class Case:
    """One finding with all that its caveats may ask about.

    ``raw_finding`` is what raw values in place of normalised ones would say; ``measures`` are by
    series; ``statements`` are those of this finding.
    """

    test: BreathTest
    rule_set: RuleSet
    question: str
    finding: Finding
    raw_finding: Finding
    statements: tuple[StatementResult, ...]
    curves: Curves
    measures: dict[str, Measures]
    minute_tolerance: float

    @property
    def about_a_rise(self) -> bool:
        """Whether the question is answered by a rise of gas from the sugar."""
        return self.question in ("carbohydrate-malabsorption", "bacterial-overgrowth")

    @property
    def first_minute(self) -> float | None:
        """Minute of the first crossing of a positive finding."""
        if self.finding != "positive":
            return None
        minutes = [s.first_minute for s in self.statements if s.first_minute is not None]
        return min(minutes, default=None)


def caveats_of(case: Case, wording: Wording) -> tuple[str, ...]:
    """Return the caveats of one finding.

    Parameters
    ----------
    case : Case
        The finding and its test.
    wording : Wording
        Words and limits.

    Returns
    -------
    tuple of str
        In the order of `QUESTIONS_TO_THE_CURVE` and `QUESTIONS_TO_THE_RULES`.
    """
    questions = QUESTIONS_TO_THE_RULES
    if case.question != "symptoms-provoked":
        questions = QUESTIONS_TO_THE_CURVE + QUESTIONS_TO_THE_RULES
    return tuple(text for ask in questions for text in ask(case, wording))


def _flat(case: Case, wording: Wording) -> Iterator[str]:
    rise = case.measures["h2"].max_rise
    methane = case.measures["ch4"].peak
    if not case.about_a_rise or case.finding == "positive":
        return
    if rise is None or rise > wording.limits["flat_rise_ppm"]:
        return
    if methane is None:
        yield wording.caveats["methane_not_measured"]
    elif case.finding == "negative" and methane < wording.limits["methane_producer_ppm"]:
        yield wording.caveats["non_producer"]
    if case.test.substrate == "lactulose":
        yield wording.caveats["lactulose_flat"]


def _early_rise(case: Case, wording: Wording) -> Iterator[str]:
    first = case.first_minute
    if first is None:
        return
    lactulose = case.test.substrate == "lactulose" and case.question == "bacterial-overgrowth"
    if lactulose and first <= wording.limits["lactulose_early_minute"]:
        yield wording.caveats["lactulose_early"].format(minute=number(first))
    sugar = case.question == "carbohydrate-malabsorption"
    if sugar and first <= wording.limits["sugar_early_minute"]:
        yield wording.caveats["sugar_early"].format(minute=number(first))


def _mouth(case: Case, wording: Wording) -> Iterator[str]:
    """Tell of an early sample that rises alone: the next keeps less than half of its rise."""
    baseline = case.measures["h2"].baseline
    if not case.about_a_rise or baseline is None:
        return
    usable = np.flatnonzero(~np.isnan(case.curves.h2_ppm[0]))
    minute = case.curves.minute[0][usable]
    rise = case.curves.h2_ppm[0][usable] - baseline
    for here in range(len(usable) - 1):
        early = 0.0 < minute[here] <= wording.limits["mouth_minute"]
        high = rise[here] >= wording.limits["mouth_rise_ppm"]
        if early and high and rise[here + 1] < rise[here] / 2.0:
            yield wording.caveats["mouth"].format(
                minute=number(float(minute[here])), rise=number(float(rise[here]))
            )
            return


def _high_fasting(case: Case, wording: Wording) -> Iterator[str]:
    baseline = case.measures["h2"].baseline
    limit = wording.limits["high_fasting_h2_ppm"]
    if case.about_a_rise and baseline is not None and baseline >= limit:
        yield wording.caveats["high_fasting"].format(baseline=number(baseline))


def _surgery(case: Case, wording: Wording) -> Iterator[str]:
    if case.test.substrate == "glucose" and case.test.facts.get("surgery") == "yes":
        yield wording.caveats["surgery"]


def _young_child(case: Case, wording: Wording) -> Iterator[str]:
    age = case.test.age_years
    limit = wording.limits["young_child_years"]
    fructose = case.test.substrate == "fructose" and case.question == "carbohydrate-malabsorption"
    if fructose and age is not None and age < limit:
        yield wording.caveats["young_child"].format(years=number(limit))


def _methane_dip(case: Case, wording: Wording) -> Iterator[str]:
    baseline = case.measures["ch4"].baseline
    if baseline is None or not any("ch4" in row.gas for row in case.statements):
        return
    after = case.curves.ch4_ppm[0][case.curves.minute[0] > 0.0]
    after = after[~np.isnan(after)]
    fall = float(baseline - after.min()) if after.size else 0.0
    if fall >= wording.limits["methane_dip_ppm"]:
        yield wording.caveats["methane_dip"].format(fall=number(fall))


def _rinse_once(case: Case, wording: Wording) -> Iterator[str]:
    if case.test.facts.get("rinse") == "baseline":
        yield wording.caveats["rinse_once"]


def _population(case: Case, wording: Wording) -> Iterator[str]:
    age = case.test.age_years
    if age is None or case.rule_set.population == "any":
        return
    adult = age >= wording.limits["adult_years"]
    if adult != (case.rule_set.population == "adults"):
        yield wording.caveats[f"{case.rule_set.population}_only"].format(years=number(age))


def _dose(case: Case, wording: Wording) -> Iterator[str]:
    """Say where an adult's dose differs from the published one; a child's follows the weight."""
    age = case.test.age_years
    dose = case.test.dose_g
    if dose is None or (age is not None and age < wording.limits["adult_years"]):
        return
    names = {row.statement for row in case.statements}
    published = [row.doses_g for row in case.rule_set.statements if row.id in names]
    for doses in dict.fromkeys(filter(None, published)):
        if not min(doses) <= dose <= max(doses):
            text = " to ".join(number(value) for value in doses)
            yield wording.caveats["dose"].format(doses=text, dose=number(dose))


def _raw_differs(case: Case, wording: Wording) -> Iterator[str]:
    if case.raw_finding != case.finding:
        yield wording.caveats["normalised"].format(finding=case.raw_finding)


def _late(case: Case, wording: Wording) -> Iterator[str]:
    for row in case.statements:
        if row.late and row.first_minute is not None:
            yield wording.caveats["late"].format(
                minute=number(row.first_minute), tolerance=number(case.minute_tolerance)
            )


def _borderline(case: Case, wording: Wording) -> Iterator[str]:
    edge = wording.limits["borderline_chance"]
    chances = [row.chance for row in case.statements if row.chance is not None]
    close = [f"{chance:.2f}" for chance in chances if edge < chance < 1.0 - edge]
    if close:
        yield wording.caveats["borderline"].format(chance=" and ".join(close))


def _unchecked(case: Case, _: Wording) -> Iterator[str]:
    rows = [row.statement for row in case.statements if not row.checked]
    if rows:
        yield f"{UNCHECKED}: {', '.join(rows)}."


Ask = Callable[[Case, Wording], Iterator[str]]

QUESTIONS_TO_THE_CURVE: tuple[Ask, ...] = (
    _flat,
    _early_rise,
    _mouth,
    _high_fasting,
    _surgery,
    _young_child,
    _methane_dip,
    _rinse_once,
    _raw_differs,
)
"""Asked of findings on gases, the gravest first."""

QUESTIONS_TO_THE_RULES: tuple[Ask, ...] = (_population, _dose, _late, _borderline, _unchecked)
"""Asked of every finding."""
