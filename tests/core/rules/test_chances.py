from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import special

from ebbline.core.curve.curves import Spread
from tests.core.rules.rows import symptom_row
from tests.helpers import (
    QUIET,
    VALID,
    Float,
    Numbers,
    chances_of,
    one_curve,
    rule_set,
    spread_of,
    stacked,
    statement_row,
    table_of,
)

MINUTES = [-10, 0, 30, 60, 90]


def chance(
    h2: Numbers,
    ch4: Numbers | None = None,
    *,
    minutes: Numbers | None = None,
    tolerance: float = 0.0,
    **row: Any,
) -> float:
    """Return the chance of one row, by 90 min unless it says otherwise."""
    row = row if "needs_minutes" in row else {"by_minute": 90, **row}
    curves = one_curve(minutes or MINUTES, h2, ch4)
    table = table_of(rule_set(statement_row(**row)))
    return float(chances_of(curves, spread_of(curves, QUIET), table, tolerance=tolerance)[0, 0])


def test_a_sample_after_the_window_does_not_count() -> None:
    """It adds nothing to the chance, as it adds nothing to the verdict."""
    inside = chance([5, 6, 9, 22, 20])
    assert chance([5, 6, 9, 22, 20, 24], minutes=[*MINUTES, 120]) == inside
    assert chance([5, 6, 9, 22, 20, 24], minutes=[*MINUTES, 120], tolerance=30) > inside


def test_where_any_sample_counts_all_of_them_enter() -> None:
    """needs_minutes closes no window."""
    longer = chance([5, 6, 9, 22, 20, 24], minutes=[*MINUTES, 120], needs_minutes=90)
    assert longer > chance([5, 6, 9, 22, 20], needs_minutes=90)


def test_a_missing_value_is_passed_over() -> None:
    """Nothing is made up in between."""
    assert chance([5, 6, None, 22, 20]) == chance([5, 6, 22, 20], minutes=[-10, 0, 60, 90])


@pytest.mark.parametrize(
    ("h2", "minutes"),
    [([5, 6, 9, 12], MINUTES[:4]), ([None, None, 9, 12, 20], MINUTES), ([5, 6, 9, 9, None, 40],
     [*MINUTES, 120])],
)  # fmt: skip
def test_what_cannot_be_judged_has_no_chance(h2: Numbers, minutes: Numbers) -> None:
    """Stopped early, no fasting reading, key sample missed: there is no number to give."""
    assert np.isnan(chance(h2, minutes=minutes))


def test_symptoms_validity_rows_and_other_substrates_have_no_chance() -> None:
    """Only gases have a measurement uncertainty here, and only what was asked has a chance."""
    table = table_of(
        rule_set(
            statement_row(id="gas", by_minute=90),
            symptom_row(id="score"),
            statement_row(id="other", by_minute=90, substrates=["fructose"]),
            validity=[VALID],
        )
    )
    plain = one_curve(MINUTES, [5, 6, 9, 22, 20])
    curves = replace(plain, symptom_rise=np.array([[0.0, 0.0, 1.0, 3.0, 1.0]]))
    found = chances_of(curves, spread_of(curves, QUIET), table)
    assert_array_equal(np.isnan(found), [[False, True, True, True]])


def test_rows_that_ask_the_same_have_the_same_chance() -> None:
    """It is computed once."""
    one, two = rule_set(id="one"), rule_set(statement_row(), statement_row(id="x", gas="ch4"),
                                            id="two")  # fmt: skip
    curves = one_curve([0, 90, 180], [5, 24, 9], [2, 4, 3])
    found = chances_of(curves, spread_of(curves, QUIET), table_of(one, two))
    assert found[0, 0] == found[0, 1]
    assert found[0, 2] < found[0, 0]


def test_a_level_counts_fasting_readings_and_a_rise_does_not() -> None:
    """A fasting methane of 11 ppm alone is likely above 10."""
    methane = [11, 3, 3, 3, 3]
    assert chance([5] * 5, methane, measure="level", gas="ch4", threshold_ppm=10) > 0.6
    assert chance([5] * 5, methane, gas="ch4", threshold_ppm=10) < 0.01


def test_a_rise_over_the_lowest_may_start_from_the_first_reading_of_all() -> None:
    """Without a fasting reading the first one after the drink only serves to count from."""
    lowest = "rise over lowest earlier"
    without = chance([None, None, 9, 29, 12], measure=lowest)
    fasting = chance([9, 29, 12], minutes=[0, 60, 90], measure=lowest)
    assert_allclose(without, fasting, rtol=0, atol=1e-9)


def test_the_noise_of_a_sum_holds_four_times_the_noise_of_methane() -> None:
    """Source: sd of H2 + 4 CH4 = sqrt(u² + 16 u²), by hand; for one pair Phi of the difference."""
    curves = one_curve([0, 180], [5, 10], [2, 5])
    spread = Spread(
        h2_sd=np.full((1, 2), 1.0),
        ch4_sd=np.full((1, 2), 1.0),
        scale_u=np.zeros((1, 2)),
        normalised=np.zeros((1, 2), dtype=np.bool_),
        reference_u=np.zeros(1),
    )
    table = table_of(rule_set(statement_row(gas="h2_plus_4ch4")))
    found = chances_of(curves, spread, table)
    assert_allclose(found, [[special.ndtr((17.0 - 20.0) / np.sqrt(2 * 17.0))]], rtol=0, atol=1e-5)


def shared(ambient: float) -> Float:
    """Return the chance of a rise where everything is normalised and only the reference errs."""
    curves = one_curve([0, 180], [10, 31])
    spread = Spread(
        h2_sd=np.full((1, 2), 0.5),
        ch4_sd=np.full((1, 2), np.nan),
        scale_u=np.zeros((1, 2)),
        normalised=np.ones((1, 2), dtype=np.bool_),
        reference_u=np.array([0.1]),
    )
    return chances_of(curves, spread, table_of(rule_set()), ambient_h2=ambient)


def test_an_error_of_the_alveolar_reference_scales_a_rise_whatever_is_in_the_room() -> None:
    """The room's part is in both readings and cancels in their difference."""
    assert_allclose(shared(0.0), shared(8.0), rtol=0, atol=1e-5)
    assert 0.6 < float(shared(0.0)[0, 0]) < 0.75


def test_two_tests_of_a_table_have_the_chances_of_each() -> None:
    """Tests do not see each other."""
    a, b = one_curve(MINUTES, [5, 6, 9, 22, 20]), one_curve(MINUTES, [5, 6, 9, 30, 20])
    both = stacked(a, b)
    table = table_of(rule_set(statement_row(by_minute=90)))
    found = chances_of(both, spread_of(both, QUIET), table)
    alone = [chances_of(one, spread_of(one, QUIET), table)[0] for one in (a, b)]
    assert_array_equal(found, alone)
