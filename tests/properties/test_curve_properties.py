"""What holds for the measures of every curve."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from ebbline.core.curve.measures import BASELINE_RULES, Measures, measure
from tests.helpers import reported_of, verdicts_of
from tests.properties.curves import PLACE, RISES, TABLE, Drawn, drawn_tests

RULES = st.sampled_from(sorted(BASELINE_RULES.values()))


def measured(drawn: Drawn, rule: int) -> Measures:
    """Return the measures of hydrogen."""
    curves = drawn.curves()
    return measure(curves.minute[0], curves.h2_ppm[0], rule)


def shifted(drawn: Drawn, by: float) -> Drawn:
    """Return the test with every hydrogen reading higher by so much."""
    return drawn.with_h2([None if value is None else value + by for value in drawn.h2])


def numbers(*values: float | None) -> list[float]:
    """Return values with NaN for None."""
    return [np.nan if value is None else value for value in values]


@settings(max_examples=60)
@given(drawn_tests(), RULES, st.integers(1, 40))
def test_adding_a_constant_to_every_reading_leaves_rises_alone(
    drawn: Drawn, rule: int, by: int
) -> None:
    """A rise is a difference: only the baseline, the peak and the total area move."""
    before, after = measured(drawn, rule), measured(shifted(drawn, by), rule)
    for name in ("max_rise", "max_rise_over_lowest", "max_rise_minute", "peak_minute"):
        assert_allclose(
            numbers(getattr(after, name)), numbers(getattr(before, name)), rtol=0, atol=1e-9
        )
    for name in ("area_net_ppm_min", "area_positive_ppm_min"):
        assert_allclose(
            numbers(getattr(after, name)), numbers(getattr(before, name)), rtol=0, atol=1e-6
        )
    assert_allclose(numbers(after.baseline, after.peak), np.array(
        numbers(before.baseline, before.peak)) + by, rtol=0, atol=1e-9)  # fmt: skip


@settings(max_examples=60)
@given(drawn_tests(), RULES, st.integers(1, 40))
def test_adding_a_constant_to_every_reading_leaves_results_by_rises_alone(
    drawn: Drawn, rule: int, by: int
) -> None:
    """What is judged by a rise of hydrogen does not depend on where the curve lies."""
    before = verdicts_of(drawn.curves(), TABLE, baseline_rule=rule)
    after = verdicts_of(shifted(drawn, by).curves(), TABLE, baseline_rule=rule)
    rows = [PLACE[name] for name in RISES]
    assert_array_equal(after.result[:, rows], before.result[:, rows])
    assert_array_equal(after.reason[:, rows], before.reason[:, rows])
    assert_array_equal(after.at[:, rows], before.at[:, rows])
    for row in rows:
        rise, at = reported_of(shifted(drawn, by).curves(), TABLE, row, baseline_rule=rule)
        same, there = reported_of(drawn.curves(), TABLE, row, baseline_rule=rule)
        assert_allclose(rise, same, rtol=0, atol=1e-9)
        assert at == there


@settings(max_examples=60)
@given(drawn_tests(), RULES, st.sampled_from([0.5, 2.0, 3.0]))
def test_stretching_time_stretches_areas_and_minutes_and_nothing_else(
    drawn: Drawn, rule: int, factor: float
) -> None:
    """Values do not depend on time; areas are ppm times minutes."""
    slow = Drawn(tuple(minute * factor for minute in drawn.minutes), drawn.h2, drawn.ch4, 1)
    before, after = measured(drawn, rule), measured(slow, rule)
    assert (after.baseline, after.peak, after.max_rise, after.max_rise_over_lowest) == (
        before.baseline, before.peak, before.max_rise, before.max_rise_over_lowest
    )  # fmt: skip
    scaled = ("peak_minute", "max_rise_minute", "area_total_ppm_min", "area_net_ppm_min",
              "area_positive_ppm_min")  # fmt: skip
    for name in scaled:
        assert_allclose(
            numbers(getattr(after, name)),
            np.array(numbers(getattr(before, name))) * factor,
            rtol=1e-12,
            atol=1e-9,
        )


@settings(max_examples=60)
@given(drawn_tests(), RULES)
def test_positive_area_is_never_below_net_area_nor_below_zero(drawn: Drawn, rule: int) -> None:
    """What lies below the baseline is taken off the net area only."""
    found = measured(drawn, rule)
    if found.area_net_ppm_min is not None:
        assert found.area_positive_ppm_min is not None
        assert found.area_positive_ppm_min >= max(found.area_net_ppm_min, 0.0) - 1e-9


@settings(max_examples=60)
@given(drawn_tests(), RULES)
def test_missing_samples_are_passed_over_and_never_filled_in(drawn: Drawn, rule: int) -> None:
    """A test with missing slots measures the same as the test without those slots."""
    kept = [i for i, value in enumerate(drawn.h2) if value is not None]
    short = Drawn(
        tuple(drawn.minutes[i] for i in kept),
        tuple(drawn.h2[i] for i in kept),
        tuple(drawn.ch4[i] for i in kept),
        drawn.fasting,
    )
    assert measured(drawn, rule) == measured(short, rule)
