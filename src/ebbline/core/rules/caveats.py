"""What a reader must know beside a finding: each caveat is one small question to the curve."""

from dataclasses import dataclass

import numpy as np

from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.curve.curves import Curves
from ebbline.core.curve.measures import Measures
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpretation import Finding, StatementResult
from ebbline.core.rules.phrases import number
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


def caveats_of(case: Case, wording: Wording) -> tuple[str, ...]:
    """Return the caveats of one finding, the gravest first.

    Parameters
    ----------
    case : Case
        The finding and its test.
    wording : Wording
        Words and limits.

    Returns
    -------
    tuple of str
    """
    found: list[str] = []

    def say(name: str, **words: str) -> None:
        found.append(wording.caveats[name].format(**words))

    if case.question == "symptoms-provoked":
        _about_rows(case, wording, found)
        return tuple(found)
    limits = wording.limits
    h2 = case.measures["h2"]
    ch4 = case.measures["ch4"]
    substrate = case.test.substrate
    positive = case.finding == "positive"
    first = min((s.first_minute for s in case.statements if s.first_minute is not None), default=None)
    flat_h2 = h2.max_rise is not None and h2.max_rise <= limits["flat_rise_ppm"]
    rises = case.question in ("carbohydrate-malabsorption", "bacterial-overgrowth")
    if flat_h2 and not positive and rises:
        if ch4.peak is None:
            say("methane_not_measured")
        elif ch4.peak < limits["methane_producer_ppm"]:
            say("non_producer")
        if substrate == "lactulose":
            say("lactulose_flat")
    if positive and first is not None and case.question == "bacterial-overgrowth":
        if substrate == "lactulose" and first <= limits["lactulose_early_minute"]:
            say("lactulose_early", minute=number(first))
    if positive and first is not None and case.question == "carbohydrate-malabsorption":
        if first <= limits["sugar_early_minute"]:
            say("sugar_early", minute=number(first))
    if rises:
        early = _early_peak(case.curves, h2, limits["mouth_minute"], limits["mouth_rise_ppm"])
        if early is not None:
            say("mouth", minute=number(early[0]), rise=number(early[1]))
        if h2.baseline is not None and h2.baseline >= limits["high_fasting_h2_ppm"]:
            say("high_fasting", baseline=number(h2.baseline))
    if substrate == "glucose" and case.test.facts.get("surgery") == "yes":
        say("surgery")
    age = case.test.age_years
    if substrate == "fructose" and age is not None and age < limits["young_child_years"]:
        if case.question == "carbohydrate-malabsorption":
            say("young_child", years=number(limits["young_child_years"]))
    fall = _methane_fall(case.curves, ch4)
    uses_methane = any("ch4" in s.gas for s in case.statements)
    if fall is not None and fall >= limits["methane_dip_ppm"] and uses_methane:
        say("methane_dip", fall=number(fall))
    if case.test.facts.get("rinse") == "baseline":
        say("rinse_once")
    _about_rule_set(case, wording, found)
    _about_rows(case, wording, found)
    return tuple(found)


def _about_rule_set(case: Case, wording: Wording, found: list[str]) -> None:
    """Say where the rule set was written for somebody or something else."""
    age = case.test.age_years
    adult = wording.limits["adult_years"]
    population = case.rule_set.population
    if age is not None and population == "children" and age >= adult:
        found.append(wording.caveats["children_only"].format(years=number(age)))
    if age is not None and population == "adults" and age < adult:
        found.append(wording.caveats["adults_only"].format(years=number(age)))
    dose = case.test.dose_g
    names = {s.statement for s in case.statements}
    doses = [row.doses_g for row in case.rule_set.statements if row.id in names and row.doses_g]
    child = age is not None and age < adult
    if dose is None or child:
        return
    for published in dict.fromkeys(doses):
        if not min(published) <= dose <= max(published):
            text = " to ".join(number(value) for value in published)
            found.append(wording.caveats["dose"].format(doses=text, dose=number(dose)))


def _about_rows(case: Case, wording: Wording, found: list[str]) -> None:
    """Say what is shaky about the statements themselves."""
    caveats = wording.caveats
    if case.raw_finding != case.finding:
        found.append(caveats["normalised"].format(finding=case.raw_finding))
    for row in case.statements:
        if row.late and row.first_minute is not None:
            tolerance = number(case.minute_tolerance)
            minute = number(row.first_minute)
            found.append(caveats["late"].format(minute=minute, tolerance=tolerance))
    edge = wording.limits["borderline_chance"]
    close = [s.chance for s in case.statements if s.chance is not None and edge < s.chance < 1 - edge]
    if close:
        text = " and ".join(f"{chance:.2f}" for chance in close)
        found.append(caveats["borderline"].format(chance=text))
    unchecked = [row.statement for row in case.statements if not row.checked]
    if unchecked:
        found.append(caveats["unchecked"].format(rows=", ".join(unchecked)))


def _early_peak(
    curves: Curves, h2: Measures, by_minute: float, rise_ppm: float
) -> tuple[float, float] | None:
    """Return minute and rise of an early hydrogen sample that falls back at once, if there is one.

    It falls back if the next sample keeps less than half of its rise.
    """
    if h2.baseline is None:
        return None
    usable = np.flatnonzero(~np.isnan(curves.h2_ppm[0]))
    minute = curves.minute[0][usable]
    rise = curves.h2_ppm[0][usable] - h2.baseline
    for here in range(len(usable) - 1):
        early = 0.0 < minute[here] <= by_minute
        if early and rise[here] >= rise_ppm and rise[here + 1] < rise[here] / 2.0:
            return float(minute[here]), float(rise[here])
    return None


def _methane_fall(curves: Curves, ch4: Measures) -> float | None:
    """Return how far methane fell below its baseline after the drink, ppm."""
    if ch4.baseline is None:
        return None
    after = curves.ch4_ppm[0][curves.minute[0] > 0.0]
    after = after[~np.isnan(after)]
    return float(ch4.baseline - after.min()) if after.size else None
