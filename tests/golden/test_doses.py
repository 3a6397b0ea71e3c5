"""Published doses, with the arithmetic done by hand.

Doses of the consensus: Rezaie A, et al. Am J Gastroenterol 2017;112:775-784, abstract. Children:
Jones HF, et al. J Pediatr Gastroenterol Nutr 2011;52:581-584; Veligati LN, et al. Am J
Gastroenterol 1994;89:758-761; Nose O, et al. Arch Dis Child 1979;54:436-440 (abstracts). Weights
are invented.
"""

import pytest

from ebbline.core.clinic.dose import dose_for
from ebbline.core.clinic.dose_table import AmountByWeight, FixedAmount
from tests.core.clinic.prepared_rows import rule_of


@pytest.mark.parametrize(
    ("rule", "dose_g"),
    [
        # Rezaie 2017, abstract: lactulose 10 g, glucose 75 g, fructose 25 g, lactose 25 g.
        ("lactulose-adult-10", 10),
        ("glucose-adult-75", 75),
        ("fructose-adult-25", 25),
        ("lactose-adult-25", 25),
        # Lexikon der Medizinischen Laboratoriumsdiagnostik, entry Laktose-H2-Atemtest: 50 g.
        ("lactose-adult-50", 50),
        # Kerlin and Wong 1988, abstract; Ghoshal 2010, methods; Pitcher 2022, abstract.
        ("glucose-adult-50", 50),
        ("glucose-adult-100", 100),
        ("lactulose-adult-16", 16),
    ],
)
def test_an_adult_gets_the_published_dose_at_every_weight(rule: str, dose_g: float) -> None:
    """The weight plays no part."""
    assert isinstance(rule_of(rule).amount, FixedAmount)
    for weight in (None, 38.0, 71.5, 160.0):
        dose = dose_for(rule_of(rule), age_years=18.0, weight_kg=weight)
        assert (dose.dose_g, dose.cap_used, dose.needs_second_check) == (dose_g, False, False)


@pytest.mark.parametrize(
    ("rule", "g_per_kg", "cap_g"),
    [
        ("lactose-child-2-20", 2, 20),  # Jones 2011
        ("fructose-child-0.5-10", 0.5, 10),  # Jones 2011
        ("lactose-child-2-50", 2, 50),  # Veligati 1994
        ("lactose-child-1-25", 1, 25),  # Nose 1979; the cap is from memory
        ("lactulose-child-0.5-10", 0.5, 10),  # Nose 1979; the cap is from memory
    ],
)
def test_a_rule_for_children_is_the_published_one(rule: str, g_per_kg: float, cap_g: float) -> None:
    """Dose by weight and cap as the abstracts give them."""
    assert rule_of(rule).amount == AmountByWeight(g_per_kg=g_per_kg, cap_g=cap_g)


# Rule, age, weight, dose and whether the cap made it; each product was worked out by hand.
CASES = [
    # 2 g/kg, at most 20 g (Jones 2011): the cap is reached at 10 kg.
    ("lactose-child-2-20", 0.1, 3.5, 7.0, False),
    ("lactose-child-2-20", 0.5, 6.4, 12.8, False),
    ("lactose-child-2-20", 0.9, 9.2, 18.4, False),
    ("lactose-child-2-20", 1.0, 9.9, 19.8, False),
    ("lactose-child-2-20", 1.0, 9.95, 19.9, False),
    ("lactose-child-2-20", 1.0, 9.97, 19.9, False),
    ("lactose-child-2-20", 1.2, 10.0, 20.0, False),
    ("lactose-child-2-20", 1.2, 10.01, 20.0, True),
    ("lactose-child-2-20", 3.0, 14.6, 20.0, True),
    ("lactose-child-2-20", 6.0, 20.8, 20.0, True),
    ("lactose-child-2-20", 17.9, 66.0, 20.0, True),
    # 0.5 g/kg, at most 10 g (Jones 2011): the cap is reached at 20 kg.
    ("fructose-child-0.5-10", 0.5, 7.0, 3.5, False),
    ("fructose-child-0.5-10", 1.0, 9.6, 4.8, False),
    ("fructose-child-0.5-10", 1.5, 11.0, 5.5, False),
    ("fructose-child-0.5-10", 2.0, 12.4, 6.2, False),
    ("fructose-child-0.5-10", 2.5, 13.3, 6.6, False),
    ("fructose-child-0.5-10", 3.0, 14.2, 7.1, False),
    ("fructose-child-0.5-10", 4.0, 16.1, 8.0, False),
    ("fructose-child-0.5-10", 5.0, 18.4, 9.2, False),
    ("fructose-child-0.5-10", 6.0, 19.9, 9.9, False),
    ("fructose-child-0.5-10", 6.0, 20.0, 10.0, False),
    ("fructose-child-0.5-10", 6.0, 20.1, 10.0, True),
    ("fructose-child-0.5-10", 12.0, 41.0, 10.0, True),
    # 2 g/kg, at most 50 g (Veligati 1994): the cap is reached at 25 kg.
    ("lactose-child-2-50", 0.5, 7.3, 14.6, False),
    ("lactose-child-2-50", 3.0, 14.25, 28.5, False),
    ("lactose-child-2-50", 4.0, 16.2, 32.4, False),
    ("lactose-child-2-50", 5.0, 18.4, 36.8, False),
    ("lactose-child-2-50", 6.0, 20.7, 41.4, False),
    ("lactose-child-2-50", 7.0, 22.9, 45.8, False),
    ("lactose-child-2-50", 7.0, 24.9, 49.8, False),
    ("lactose-child-2-50", 8.0, 25.0, 50.0, False),
    ("lactose-child-2-50", 8.0, 25.1, 50.0, True),
    ("lactose-child-2-50", 15.0, 56.0, 50.0, True),
    # 1 g/kg (Nose 1979), at most 25 g (from memory): the cap is reached at 25 kg.
    ("lactose-child-1-25", 0.1, 4.0, 4.0, False),
    ("lactose-child-1-25", 0.5, 7.05, 7.0, False),
    ("lactose-child-1-25", 1.0, 9.86, 9.8, False),
    ("lactose-child-1-25", 2.0, 12.3, 12.3, False),
    ("lactose-child-1-25", 3.0, 14.44, 14.4, False),
    ("lactose-child-1-25", 4.0, 16.7, 16.7, False),
    ("lactose-child-1-25", 6.0, 18.4, 18.4, False),
    ("lactose-child-1-25", 8.0, 24.99, 24.9, False),
    ("lactose-child-1-25", 8.0, 25.0, 25.0, False),
    ("lactose-child-1-25", 8.0, 25.05, 25.0, True),
    ("lactose-child-1-25", 16.0, 61.0, 25.0, True),
    # 0.5 g/kg (Nose 1979), at most 10 g (from memory): the cap is reached at 20 kg.
    ("lactulose-child-0.5-10", 0.5, 7.2, 3.6, False),
    ("lactulose-child-0.5-10", 2.0, 12.0, 6.0, False),
    ("lactulose-child-0.5-10", 3.0, 14.5, 7.2, False),
    ("lactulose-child-0.5-10", 5.0, 18.0, 9.0, False),
    ("lactulose-child-0.5-10", 9.0, 28.7, 10.0, True),
    # 1 g/kg, at most 50 g (from memory): the cap is reached at 50 kg.
    ("glucose-child-1-50", 4.0, 16.3, 16.3, False),
    ("glucose-child-1-50", 10.0, 32.1, 32.1, False),
    ("glucose-child-1-50", 14.0, 49.9, 49.9, False),
    ("glucose-child-1-50", 14.0, 50.0, 50.0, False),
    ("glucose-child-1-50", 17.0, 64.7, 50.0, True),
]


@pytest.mark.parametrize(("rule", "age", "weight", "dose_g", "cap_used"), CASES)
def test_a_child_gets_what_was_worked_out_by_hand(
    rule: str, age: float, weight: float, dose_g: float, cap_used: bool
) -> None:
    """Exactly, to the step of the balance; 10 % drink, so ten times as many millilitres."""
    dose = dose_for(rule_of(rule), age_years=age, weight_kg=weight)
    assert dose.dose_g == dose_g
    assert dose.cap_used == cap_used
    assert dose.volume_ml == pytest.approx(10 * dose_g, rel=1e-12)
    assert dose.concentration_g_per_ml == pytest.approx(0.1, rel=1e-12)
    assert dose.needs_second_check


def test_at_least_fifty_cases_were_worked_out() -> None:
    """So many were asked for."""
    assert len(set(CASES)) >= 50


@pytest.mark.parametrize(
    ("rule", "volume_ml", "share"),
    [
        ("lactose-adult-25-in-10-pct", 250, 0.1),  # Gasbarrini 2009, 10 %, from memory
        ("lactose-adult-50", 400, 0.125),  # the German entry: 50 g in 400 ml
        ("glucose-adult-75", 240, 0.3125),  # one cup, from memory
    ],
)
def test_volume_and_concentration_follow_one_from_the_other(
    rule: str, volume_ml: float, share: float
) -> None:
    """Grams in a millilitre of the drink."""
    dose = dose_for(rule_of(rule), age_years=40.0, weight_kg=None)
    assert dose.volume_ml == volume_ml
    assert dose.concentration_g_per_ml == pytest.approx(share, rel=1e-12)
