from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ebbline.core.clinic.dose import check_prepared, check_second, dose_for
from ebbline.core.clinic.dose_table import AmountByWeight, DoseRule, Tolerance
from ebbline.core.errors import ClinicError, FieldError
from tests.core.clinic.prepared_rows import DOSES, rule_of

CHILD_RULES = tuple(rule for rule in DOSES.rules if rule.who == "child")
WEIGHT = st.floats(1.0, 150.0)
HARBOUR = replace(
    rule_of("lactose-child-1-25"),
    amount=AmountByWeight(g_per_kg=1.0, cap_g=25.0),
    resolution_g=0.1,
)


def refusal(rule: str, *, age: float, weight: float | None) -> str:
    """Return the text with which a dose is refused."""
    with pytest.raises(FieldError) as caught:
        dose_for(rule_of(rule), age_years=age, weight_kg=weight)
    return str(caught.value)


def test_the_arithmetic_is_said_in_words() -> None:
    """Ben Shore, invented, 6 years, 18.4 kg."""
    dose = dose_for(HARBOUR, age_years=6.0, weight_kg=18.4)
    assert dose.arithmetic == "1 g/kg × 18.4 kg = 18.4 g; cap 25 g not reached"
    assert (dose.dose_g, dose.cap_used, dose.g_per_kg, dose.cap_g) == (18.4, False, 1.0, 25.0)
    assert (dose.weight_kg, dose.volume_ml, dose.concentration_g_per_ml) == (18.4, 184.0, 0.1)
    assert (dose.rule, dose.substrate) == ("lactose-child-1-25", "lactose")


@pytest.mark.parametrize(
    ("weight", "words"),
    [
        (31.0, "1 g/kg × 31 kg = 31 g; cap 25 g used"),
        (25.0, "1 g/kg × 25 kg = 25 g; cap 25 g just reached"),
        (18.43, ("1 g/kg × 18.43 kg = 18.43 g; cap 25 g not reached; rounded down to 18.4 g, "
         "in steps of 0.1 g")),
        (100.0, "1 g/kg × 100 kg = 100 g; cap 25 g used"),
    ],
)  # fmt: skip
def test_the_words_say_whether_the_cap_or_the_balance_made_the_dose(
    weight: float, words: str
) -> None:
    """Used, just reached or not reached; rounded or not."""
    assert dose_for(HARBOUR, age_years=6.0, weight_kg=weight).arithmetic == words


def test_a_fixed_dose_needs_no_weight_in_an_adult() -> None:
    """25 g in 240 ml."""
    dose = dose_for(rule_of("lactose-adult-25"), age_years=40.0, weight_kg=None)
    assert dose.arithmetic == "25 g, the same at every weight"
    assert (dose.dose_g, dose.volume_ml, dose.cap_used) == (25.0, 240.0, False)
    assert (dose.g_per_kg, dose.cap_g, dose.weight_kg) == (None, None, None)
    assert dose.concentration_g_per_ml == pytest.approx(25 / 240)
    assert dose_for(rule_of("lactose-adult-25"), age_years=40.0, weight_kg=71.0).weight_kg == 71.0


def test_a_child_needs_a_second_check_and_an_adult_does_not() -> None:
    """Also the word checked is carried along."""
    child = dose_for(rule_of("lactose-child-2-20"), age_years=6.0, weight_kg=18.0)
    adult = dose_for(rule_of("lactose-adult-25"), age_years=40.0, weight_kg=None)
    memory = dose_for(rule_of("lactose-child-1-25"), age_years=6.0, weight_kg=18.0)
    assert (child.needs_second_check, adult.needs_second_check) == (True, False)
    assert (child.checked, adult.checked, memory.checked) == (True, True, False)


@pytest.mark.parametrize("rule", [rule.id for rule in CHILD_RULES])
def test_a_child_without_a_weight_is_refused(rule: str) -> None:
    """No dose for a child without weighing."""
    assert refusal(rule, age=6.0, weight=None) == (
        f"weight_kg: the weight is missing, and the rule {rule} needs it; allowed: the weight on "
        "the day, kg; came: nothing"
    )


def test_a_fixed_dose_for_a_child_needs_the_weight_too() -> None:
    """It is no part of the arithmetic, and yet a child is weighed."""
    rule = replace(rule_of("lactose-adult-25"), who="child", from_years=0.0, id="fixed")
    with pytest.raises(FieldError, match="the weight is missing, and the rule fixed needs it"):
        dose_for(rule, age_years=6.0, weight_kg=None)
    assert dose_for(rule, age_years=6.0, weight_kg=20.0).dose_g == 25.0


def test_an_adult_whose_dose_is_by_weight_needs_the_weight() -> None:
    """The arithmetic asks for it."""
    rule = replace(HARBOUR, who="adult", below_years=None)
    with pytest.raises(FieldError, match="the weight is missing"):
        dose_for(rule, age_years=40.0, weight_kg=None)


@pytest.mark.parametrize(
    ("rule", "age", "allowed"),
    [
        ("lactose-adult-25", 17.9, "18 years and over"),
        ("lactose-child-2-20", 18.0, "0 to below 18 years"),
        ("lactose-child-2-20", -1.0, "0 to below 18 years"),
        ("lactose-adult-25", float("nan"), "18 years and over"),
        ("lactose-adult-25", float("inf"), "18 years and over"),
    ],
)
def test_a_rule_for_another_age_is_refused(rule: str, age: float, allowed: str) -> None:
    """A child never gets an adult's dose by a slip."""
    assert refusal(rule, age=age, weight=20.0) == (
        f"age_years: the rule {rule} is not for this age; allowed: {allowed}; came: {age:g}"
    )


@pytest.mark.parametrize("weight", [0.0, -3.0, float("nan"), float("inf"), float("-inf")])
@pytest.mark.parametrize(("rule", "age"), [("lactose-child-2-20", 6.0), ("lactose-adult-25", 40.0)])
def test_what_is_no_weight_is_refused(rule: str, age: float, weight: float) -> None:
    """Also where the dose is fixed: it goes into the record."""
    assert refusal(rule, age=age, weight=weight) == (
        f"weight_kg: not a weight; allowed: above 0 kg; came: {weight:g}"
    )


def test_a_weight_too_small_for_the_balance_is_refused() -> None:
    """A dose of nothing is no dose."""
    assert refusal("lactose-child-1-25", age=0.1, weight=0.05) == (
        "weight_kg: too small to weigh out a dose; allowed: a weight that gives at least 0.1 g; "
        "came: 1 g/kg × 0.05 kg = 0.05 g; cap 25 g not reached; rounded down to 0 g, in steps of "
        "0.1 g"
    )


def test_a_cap_between_two_steps_of_the_balance_is_not_passed() -> None:
    """10.25 g on a balance that shows 0.1 g: 10.2 g, not 10.3 g."""
    rule = replace(HARBOUR, amount=AmountByWeight(g_per_kg=1.0, cap_g=10.25))
    dose = dose_for(rule, age_years=6.0, weight_kg=20.0)
    assert dose.dose_g == 10.2
    assert dose.arithmetic == (
        "1 g/kg × 20 kg = 20 g; cap 10.25 g used; rounded down to 10.2 g, in steps of 0.1 g"
    )


@given(
    weight=st.floats(0.5, 500.0),
    g_per_kg=st.floats(0.05, 5.0),
    cap=st.floats(1.0, 150.0),
    step=st.sampled_from([0.001, 0.01, 0.1, 0.5, 1.0]),
)
def test_no_dose_is_above_the_cap_or_above_the_arithmetic(
    weight: float, g_per_kg: float, cap: float, step: float
) -> None:
    """For whatever rule and weight; at most one step of the balance is lost."""
    rule = replace(HARBOUR, amount=AmountByWeight(g_per_kg=g_per_kg, cap_g=cap), resolution_g=step)
    exact = min(g_per_kg * weight, cap)
    if exact < step:
        return
    dose = dose_for(rule, age_years=6.0, weight_kg=weight)
    assert dose.dose_g <= cap
    assert exact - step * (1 + 1e-9) <= dose.dose_g <= exact * (1 + 1e-12)
    assert dose.cap_used == (dose.arithmetic.count(" used") == 1)


@given(weights=st.tuples(WEIGHT, WEIGHT), rule=st.sampled_from(CHILD_RULES))
def test_a_heavier_child_never_gets_less(weights: tuple[float, float], rule: DoseRule) -> None:
    """Dose and volume rise with the weight until the cap."""
    light, heavy = (dose_for(rule, age_years=6.0, weight_kg=one) for one in sorted(weights))
    assert light.dose_g <= heavy.dose_g
    assert light.volume_ml <= heavy.volume_ml


@pytest.mark.parametrize("prepared", [24.75, 25.0, 25.25])
def test_a_dose_as_weighed_out_within_the_tolerance_passes(prepared: float) -> None:
    """1 % of 25 g is 0.25 g, both ends included."""
    dose = dose_for(rule_of("lactose-adult-25"), age_years=40.0, weight_kg=None)
    assert check_prepared(dose, prepared_g=prepared, tolerance=DOSES.tolerance) == (
        f"{prepared:g} g weighed out for 25 g"
    )


@pytest.mark.parametrize("prepared", [24.74, 25.26, 2.5, 250.0, 0.0, -25.0, float("nan")])
def test_a_dose_as_weighed_out_beyond_the_tolerance_is_refused(prepared: float) -> None:
    """A slipped digit or a missing number is seen."""
    dose = dose_for(rule_of("lactose-adult-25"), age_years=40.0, weight_kg=None)
    with pytest.raises(FieldError) as caught:
        check_prepared(dose, prepared_g=prepared, tolerance=DOSES.tolerance)
    assert str(caught.value) == (
        f"prepared_g: not the dose of 25 g; allowed: 24.75 to 25.25 g; came: {prepared:g}"
    )


def test_a_small_dose_has_the_tolerance_of_the_balance() -> None:
    """1 % of 2.5 g would be finer than the balance shows: 0.1 g counts."""
    dose = dose_for(rule_of("lactose-child-1-25"), age_years=0.1, weight_kg=2.5)
    tolerance = Tolerance(share_pct=1.0, least_g=0.1, source="invented", provenance="read")
    assert check_prepared(dose, prepared_g=2.6, tolerance=tolerance)
    with pytest.raises(FieldError, match=r"allowed: 2\.4 to 2\.6 g; came: 2\.7"):
        check_prepared(dose, prepared_g=2.7, tolerance=tolerance)


def test_two_people_pass_the_second_check() -> None:
    """Invented people of the Harbour Clinic."""
    check_second("mara-quay", "tom-reef")


@pytest.mark.parametrize(
    ("first", "second", "text"),
    [
        ("mara-quay", "mara-quay", ("one person prepared the dose and checked it; allowed: two "
         "different people; came: mara-quay twice")),
        ("mara-quay", None, ("the second person is missing; allowed: two different people; "
         "came: nobody")),
        ("mara-quay", " ", ("the second person is missing; allowed: two different people; "
         "came: nobody")),
        (None, "tom-reef", ("the first person is missing; allowed: two different people; "
         "came: nobody")),
        (None, None, "the first person is missing; allowed: two different people; came: nobody"),
    ],
)  # fmt: skip
def test_a_second_check_needs_a_second_person(
    first: str | None, second: str | None, text: str
) -> None:
    """The same person twice is one check."""
    with pytest.raises(ClinicError) as caught:
        check_second(first, second)
    assert str(caught.value) == f"second_check: {text}"
