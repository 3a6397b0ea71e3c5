"""What another baseline would make of a test: the choice is shown together with its effect."""

from dataclasses import dataclass

from ebbline.core.clinic.baseline import judge_baselines
from ebbline.core.clinic.record.bench import BaselineDecision, SampleTry
from ebbline.core.clinic.record.visit import Test
from ebbline.core.curve.protocol import BaselineRule
from ebbline.services.clinic.bench.baselines import fasting_readings
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.report.adopted_rules import adopted_rules, judged_by
from ebbline.services.clinic.report.as_breath_test import breath_test_by, decided_baseline
from ebbline.services.clinic.steps import standing_in

SHOWN_IN = ("sampling", "finished", "stopped", "drafted", "signed", "amended")
"""Where a test stands that has something to be judged."""


@dataclass(frozen=True, slots=True)
class BaselineEffect:
    """What the adopted criterion finds with one baseline.

    ``uses`` are the labels of the fasting samples, ``findings`` question and finding in order;
    ``chosen`` is whether it is the baseline that was decided on.
    """

    rule: BaselineRule
    uses: tuple[str, ...]
    findings: tuple[tuple[str, str], ...]
    chosen: bool


def effects_of_baselines(clinic: Clinic, who: Actor, *, test_id: str) -> tuple[BaselineEffect, ...]:
    """Return what the adopted criterion finds with each baseline that could be chosen.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who asks.
    test_id : str
        The test.

    Returns
    -------
    tuple of BaselineEffect
        Each rule over all fasting samples, then each sample alone.

    Raises
    ------
    ClinicError
        If nothing was drunk yet, or there is no fasting reading.
    """
    with clinic.look(who) as look:
        return baseline_effects(clinic, look, standing_in(look, test_id, states=SHOWN_IN).entry)


def baseline_effects(clinic: Clinic, look: Look, test: Test) -> tuple[BaselineEffect, ...]:
    """Return the effects of a test's baselines; see `effects_of_baselines`.

    Parameters
    ----------
    clinic : Clinic
        Where.
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    tuple of BaselineEffect
    """
    decided = decided_baseline(look, test)
    readings = fasting_readings(look, test)
    labels = {one.sample: look.get(SampleTry, one.sample).entry.label for one in readings}
    advice = judge_baselines(readings, (), table=clinic.rules.baselines)
    effects = []
    for one in advice.candidates:
        decision = _decision(test, one.rule, one.uses)
        effects.append(
            BaselineEffect(
                rule=one.rule,
                uses=tuple(labels[sample] for sample in one.uses),
                findings=_findings(clinic, look, test, decision),
                chosen=decided is not None
                and (decided.rule, set(decided.uses)) == (one.rule, set(one.uses)),
            )
        )
    return tuple(effects)


def effect_in_words(clinic: Clinic, look: Look, test: Test) -> str:
    """Return in words what another baseline would make of a test.

    Parameters
    ----------
    clinic : Clinic
        Where.
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    str
        Empty where there is one fasting reading, or nobody has decided.
    """
    decided = decided_baseline(look, test)
    if decided is None or len(fasting_readings(look, test)) < 2:
        return ""
    stands = _findings(clinic, look, test, decided)
    told = []
    for one in baseline_effects(clinic, look, test):
        other = [
            f"{clinic.library.wording.questions[question].lower()} {finding}"
            for (question, finding), old in zip(one.findings, stands, strict=True)
            if (question, finding) != old
        ]
        if other:
            told.append(f"with the {one.rule} of {', '.join(one.uses)}: {', '.join(other)}")
    return "; ".join(told) or "the findings are the same with every other fasting sample"


def _decision(test: Test, rule: BaselineRule, uses: tuple[str, ...]) -> BaselineDecision:
    """Return a decision that nobody made, to see what it would lead to."""
    return BaselineDecision(
        id="", test_id=test.id, choice="go", rule=rule, uses=uses, over_limit=(), why="", by=""
    )


def _findings(
    clinic: Clinic, look: Look, test: Test, decision: BaselineDecision
) -> tuple[tuple[str, str], ...]:
    recorded = breath_test_by(clinic, look, test, decision=decision)
    adopted = adopted_rules(clinic, look, test)
    found = judged_by(clinic, recorded, rule_sets=(adopted,), criterion=adopted.id)
    return tuple((one.question, one.finding) for one in found.findings)
