"""Lay out the decision on the fasting readings. A person makes it."""

from ebbline.core.clinic.baseline import BaselineAdvice, judge_baselines
from ebbline.core.clinic.record.visit import Test
from ebbline.services.clinic.bench.baselines import baseline_limits, fasting_readings
from ebbline.services.clinic.desk import Actor, Clinic


def advise_baseline(clinic: Clinic, who: Actor, *, test_id: str) -> BaselineAdvice:
    """Return which limits the fasting readings pass, and what each choice would make.

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
    BaselineAdvice
        Samples are named by their ids.

    Raises
    ------
    ClinicError
        If there is no fasting reading yet.
    """
    with clinic.look(who) as look:
        test = look.get(Test, test_id).entry
        return judge_baselines(
            fasting_readings(look, test),
            baseline_limits(clinic, look, test),
            table=clinic.rules.baselines,
        )
