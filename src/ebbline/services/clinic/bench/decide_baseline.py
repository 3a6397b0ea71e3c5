"""Record what was decided on the fasting readings, by whom and why."""

from typing import Literal

from ebbline.core.clinic.baseline import BaselineChoice, check_choice, judge_baselines
from ebbline.core.clinic.record.bench import BaselineDecision
from ebbline.core.errors import FieldError
from ebbline.services.clinic.bench.baselines import baseline_limits, fasting_readings
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.steps import standing_in

_AFTERWARDS = ("dosed", "sampling", "finished", "stopped", "drafted")


def decide_baseline(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    choice: str,
    rule: Literal["mean", "last", "lowest", ""],
    uses: tuple[str, ...],
    why: str,
    token: str | None,
) -> BaselineDecision:
    """Record a decision; the last one counts.

    After the drink only the baseline itself can still be decided otherwise, with a reason.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who decides.
    test_id : str
        The test.
    choice : {"go", "rinse and repeat", "walk and repeat", "rebook"}
        What is done now.
    rule : {"mean", "last", "lowest", ""}
        How the baseline is made; empty unless ``go``.
    uses : tuple of str
        Ids of the fasting samples that make it; empty unless ``go``.
    why : str
        The reason; asked for where a reading is past a limit, and after the drink.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    BaselineDecision

    Raises
    ------
    ClinicError
        If there is no fasting reading, or the test stands where nothing is decided.
    FieldError
        If the choice leaves open what was decided, or why.
    """
    why = why.strip()
    with clinic.act("decide baseline", who, why=why, token=token) as act:

        def same(one: BaselineDecision) -> bool:
            return (one.test_id, one.choice, one.rule, one.uses) == (test_id, choice, rule, uses)

        before = repeated(act, BaselineDecision, token, same=same)
        if before is not None:
            return before
        test = standing_in(act, test_id, states=("cleared", *_AFTERWARDS)).entry
        readings = fasting_readings(act, test)
        limits = baseline_limits(clinic, act, test)
        user = clinic.user(act, who).entry
        decided = BaselineChoice(choice, rule or None, uses, why, user.name)
        check_choice(decided, readings, limits=limits)
        if test.state in _AFTERWARDS:
            _check_afterwards(choice, why)
        advice = judge_baselines(readings, limits, table=clinic.rules.baselines)
        over = {excess.limit.says: None for _, excesses in advice.by_sample for excess in excesses}
        return act.add(
            BaselineDecision(
                id=act.new_id(),
                test_id=test_id,
                choice=choice,
                rule=rule,
                uses=uses,
                over_limit=tuple(over),
                why=why,
                by=who.user_id,
            )
        )


def _check_afterwards(choice: str, why: str) -> None:
    if choice != "go":
        raise FieldError(
            field="choice",
            wrong="the patient has had the drink",
            allowed="go, with another baseline",
            came=choice,
        )
    if not why:
        raise FieldError(
            field="why",
            wrong="the baseline is decided otherwise after the drink and no reason is given",
            allowed="a reason",
            came="nothing",
        )
