"""The dose of one patient by one rule, with its arithmetic in words.

The rule is always passed in: published doses for children differ, and none is a default.
"""

import math
from dataclasses import dataclass
from decimal import Decimal

from ebbline.core.clinic.dose_table import (
    AmountByWeight,
    DoseRule,
    DrinkByVolume,
    FixedAmount,
    Tolerance,
)
from ebbline.core.errors import ClinicError, FieldError


@dataclass(frozen=True, slots=True)
class Dose:
    """A dose and how it came about.

    ``g_per_kg``, ``cap_g`` and ``weight_kg`` are None where they play no part; ``volume_ml`` is
    that of the drink as it is drunk. ``checked`` says whether the rule was read in its source.
    """

    rule: str
    substrate: str
    dose_g: float
    g_per_kg: float | None
    cap_g: float | None
    cap_used: bool
    weight_kg: float | None
    volume_ml: float
    concentration_g_per_ml: float
    arithmetic: str
    needs_second_check: bool
    checked: bool


def dose_for(rule: DoseRule, *, age_years: float, weight_kg: float | None) -> Dose:
    """Return the dose of one patient.

    A dose by weight is the product of both, at most the cap, rounded down to what the balance
    shows: rounding never gives more than the rule says. It is computed in decimal numbers, as by
    hand.

    Parameters
    ----------
    rule : DoseRule
        The rule that a person chose.
    age_years : float
        Age on the day.
    weight_kg : float or None
        Weight on the day; None only where an adult was not weighed.

    Returns
    -------
    Dose

    Raises
    ------
    FieldError
        If the rule is not for this age, or the weight is missing where it is needed, is not above
        0, or is too small to weigh out a dose.
    """
    if not (math.isfinite(age_years) and rule.fits_age(age_years)):
        raise FieldError(
            field="age_years",
            wrong=f"the rule {rule.id} is not for this age",
            allowed=_ages_in_words(rule),
            came=f"{age_years:g}",
        )
    if weight_kg is not None and not (math.isfinite(weight_kg) and weight_kg > 0):
        raise FieldError(
            field="weight_kg", wrong="not a weight", allowed="above 0 kg", came=f"{weight_kg:g}"
        )
    if weight_kg is None and rule.who == "child":
        raise _missing(rule)
    amount = rule.amount
    if isinstance(amount, FixedAmount):
        arithmetic = f"{amount.dose_g:g} g, the same at every weight"
        return _dose(rule, amount.dose_g, cap_used=False, weight_kg=weight_kg, words=arithmetic)
    if weight_kg is None:
        raise _missing(rule)
    dose_g, cap_used, arithmetic = _by_weight(amount, weight_kg, rule.resolution_g)
    return _dose(rule, dose_g, cap_used=cap_used, weight_kg=weight_kg, words=arithmetic)


def check_prepared(dose: Dose, *, prepared_g: float, tolerance: Tolerance) -> str:
    """Return in words how the dose as weighed out compares, or refuse it.

    Parameters
    ----------
    dose : Dose
        What was to be weighed out.
    prepared_g : float
        What the balance shows.
    tolerance : Tolerance
        How far it may be off.

    Returns
    -------
    str

    Raises
    ------
    FieldError
        If it is further off.
    """
    off_g = _allowed_off(dose, tolerance)
    low, high = _decimal(dose.dose_g) - off_g, _decimal(dose.dose_g) + off_g
    if not (math.isfinite(prepared_g) and low <= _decimal(prepared_g) <= high):
        raise FieldError(
            field="prepared_g",
            wrong=f"not the dose of {dose.dose_g:g} g",
            allowed=f"{float(low):g} to {float(high):g} g",
            came=f"{prepared_g:g}",
        )
    return f"{prepared_g:g} g weighed out for {dose.dose_g:g} g"


def check_second(first_user_id: str | None, second_user_id: str | None) -> None:
    """Refuse a second check that was not made by a second person.

    Parameters
    ----------
    first_user_id, second_user_id : str or None
        Who prepared the dose and who checked it; None where nobody did.

    Raises
    ------
    ClinicError
        If one of them is missing or both are the same.
    """
    for who, user_id in (("first", first_user_id), ("second", second_user_id)):
        if user_id is None or not user_id.strip():
            raise ClinicError(
                field="second_check",
                wrong=f"the {who} person is missing",
                allowed="two different people",
                came="nobody",
            )
    if first_user_id == second_user_id:
        raise ClinicError(
            field="second_check",
            wrong="one person prepared the dose and checked it",
            allowed="two different people",
            came=f"{first_user_id} twice",
        )


def _missing(rule: DoseRule) -> FieldError:
    return FieldError(
        field="weight_kg",
        wrong=f"the weight is missing, and the rule {rule.id} needs it",
        allowed="the weight on the day, kg",
        came="nothing",
    )


def _ages_in_words(rule: DoseRule) -> str:
    if rule.below_years is None:
        return f"{rule.from_years:g} years and over"
    return f"{rule.from_years:g} to below {rule.below_years:g} years"


def _decimal(value: float) -> Decimal:
    """Return the number as it is written, so that 0.1 is a tenth."""
    return Decimal(repr(float(value)))


def _by_weight(
    amount: AmountByWeight, weight_kg: float, resolution_g: float
) -> tuple[float, bool, str]:
    """Return the dose, whether the cap made it, and the arithmetic."""
    product = _decimal(amount.g_per_kg) * _decimal(weight_kg)
    cap = _decimal(amount.cap_g)
    step = _decimal(resolution_g)
    exact = min(product, cap)
    dose = exact // step * step
    words = f"{amount.g_per_kg:g} g/kg × {_written(_decimal(weight_kg))} kg = {_written(product)} g"
    reached = "used" if product > cap else "just reached" if product == cap else "not reached"
    words += f"; cap {amount.cap_g:g} g {reached}"
    if dose != exact:
        words += f"; rounded down to {_written(dose)} g, in steps of {resolution_g:g} g"
    if dose == 0:
        raise FieldError(
            field="weight_kg",
            wrong="too small to weigh out a dose",
            allowed=f"a weight that gives at least {resolution_g:g} g",
            came=words,
        )
    return float(dose), product > cap, words


def _written(value: Decimal) -> str:
    """Return a decimal number without an exponent and without idle noughts."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _dose(
    rule: DoseRule, dose_g: float, *, cap_used: bool, weight_kg: float | None, words: str
) -> Dose:
    amount = rule.amount if isinstance(rule.amount, AmountByWeight) else None
    volume_ml, concentration_g_per_ml = _drink(rule, dose_g)
    return Dose(
        rule=rule.id,
        substrate=rule.substrate,
        dose_g=dose_g,
        g_per_kg=None if amount is None else amount.g_per_kg,
        cap_g=None if amount is None else amount.cap_g,
        cap_used=cap_used,
        weight_kg=weight_kg,
        volume_ml=volume_ml,
        concentration_g_per_ml=concentration_g_per_ml,
        arithmetic=words,
        needs_second_check=rule.who == "child",
        checked=rule.checked,
    )


def _drink(rule: DoseRule, dose_g: float) -> tuple[float, float]:
    """Return the volume in ml and the concentration in g/ml."""
    if isinstance(rule.drink, DrinkByVolume):
        return rule.drink.volume_ml, dose_g / rule.drink.volume_ml
    share = _decimal(rule.drink.concentration_pct) / 100
    return float(_decimal(dose_g) / share), float(share)


def _allowed_off(dose: Dose, tolerance: Tolerance) -> Decimal:
    share = _decimal(dose.dose_g) * _decimal(tolerance.share_pct) / 100
    return max(share, _decimal(tolerance.least_g))
