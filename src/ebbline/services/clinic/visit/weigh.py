"""The body weight on the day, before a dose is worked out from it."""

from dataclasses import replace

from ebbline.core.clinic.record.visit import Test
from ebbline.core.clinic.weight import check_weight
from ebbline.core.errors import FieldError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.steps import standing_in


def weigh(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    version: int,
    weight_kg: float,
    second_kg: float | None,
    token: str | None,
) -> Test:
    """Record a body weight.

    A weight that is rare for the age is taken when a second weighing gave the same. A weight that
    nobody of that age has is not taken at all.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who weighed.
    test_id : str
        The test.
    version : int
        The version of the test that the person saw.
    weight_kg : float
        Weight.
    second_kg : float or None
        What a second weighing gave; None where there was none.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Test

    Raises
    ------
    FieldError
        If it cannot be the weight of a person of that age, is rare and was not weighed again, the
        second weighing gave another, or the age is not known.
    ClinicError
        If the patient has not arrived, or the drink was given.
    ConflictError
        If the test has changed since it was seen.
    """
    if second_kg is not None and second_kg != weight_kg:
        raise FieldError(
            field="second_kg",
            wrong="the second weighing gave another weight",
            allowed=f"{weight_kg:g} kg again, or both weighed anew",
            came=f"{second_kg:g}",
        )
    with clinic.act("weigh", who, why="", token=token) as act:
        if before := repeated(act, Test, token, same=lambda one: one.weight_kg == weight_kg):
            return before
        test = standing_in(act, test_id, states=("arrived", "cleared")).entry
        if test.age_years is None:
            raise FieldError(
                field="age_years", wrong="not known", allowed="a patient with a birth date",
                came="nothing",
            )  # fmt: skip
        checked = check_weight(
            weight_kg,
            age_years=test.age_years,
            table=clinic.rules.weights,
            weighed_again=second_kg is not None,
        )
        return act.revise(replace(test, weight_kg=checked), version=version)
