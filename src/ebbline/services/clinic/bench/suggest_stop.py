"""Say that a test could be stopped early, where the service's rule is met. A person decides."""

from dataclasses import replace

from ebbline.core.clinic import early_stop
from ebbline.core.clinic.early_stop import StopRule, Suggestion
from ebbline.core.clinic.record.bench import Symptoms
from ebbline.core.curve.breath_test import BreathTest, Try
from ebbline.core.errors import FieldError, list_allowed
from ebbline.core.rules.grammar import RuleSet
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.needs import missing_minutes
from ebbline.services.clinic.report.adopted_rules import adopted_rules, judged_by
from ebbline.services.clinic.report.as_breath_test import as_breath_test
from ebbline.services.clinic.service.settings_on_record import settings_on_record
from ebbline.services.clinic.steps import standing_in

NO_RULE = "none"
_RISES = ("rise over baseline", "rise over lowest earlier")


def suggest_stop(clinic: Clinic, who: Actor, *, test_id: str) -> Suggestion | None:
    """Return the suggestion to stop a test, or None.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who asks.
    test_id : str
        The test, while samples are taken.

    Returns
    -------
    Suggestion or None
        None where the service has chosen no rule, or the rule is not met by the curve so far.

    Raises
    ------
    ClinicError
        If no samples are being taken in this test.
    FieldError
        If the service has chosen a rule that is not known any more.
    """
    with clinic.look(who) as look:
        test = standing_in(look, test_id, states=("sampling",)).entry
        chosen = str(settings_on_record(look).get("stop_rule", NO_RULE))
        if chosen == NO_RULE:
            return None
        rule = _rule(clinic, chosen)
        recorded = as_breath_test(clinic, look, test)
        adopted = adopted_rules(clinic, look, test)
        left = missing_minutes(clinic, look, test)
        scored = {one.entry.planned_minute for one in look.find(Symptoms, {"test_id": test_id})}
    planned = {one.planned_minute for one in recorded.tries if not _fasting(one)}
    sampled = sorted(minute for minute in planned if minute is not None and minute not in left)
    met = [minute for minute in sampled if _past(clinic, recorded, adopted, minute)]
    return early_stop.suggest_stop(
        rule,
        clinic.rules.stops.losses,
        substrate=test.substrate,
        sampled_minutes=sampled,
        met_minutes=met,
        scored_minutes=[minute for minute in sampled if minute in scored],
        left_minutes=left,
    )


def _rule(clinic: Clinic, chosen: str) -> StopRule:
    for one in clinic.rules.stops.rules:
        if one.id == chosen:
            return one
    raise FieldError(
        field="stop_rule",
        wrong="no such rule",
        allowed=list_allowed([NO_RULE, *(one.id for one in clinic.rules.stops.rules)]),
        came=chosen,
    )


def _past(clinic: Clinic, test: BreathTest, adopted: RuleSet, minute: float) -> bool:
    """Whether the sample of a planned minute alone is past a rise that the adopted rule set asks.

    Levels, such as methane at any time, say nothing about how the test goes on.
    """
    alone = replace(
        test,
        tries=tuple(one for one in test.tries if _fasting(one) or one.planned_minute == minute),
    )
    found = judged_by(clinic, alone, rule_sets=(adopted,), criterion=adopted.id)
    return any(
        one.result == "met"
        for one in found.statements
        if one.measure in _RISES and one.unit == "ppm"
    )


def _fasting(one: Try) -> bool:
    return one.minute <= 0.0
