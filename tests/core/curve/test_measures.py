import math

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from ebbline.core.curve.chance import LAST, LOWEST, MEAN
from ebbline.core.curve.measures import BASELINE_RULES, Measures, areas, baseline_of, measure
from tests.helpers import Numbers, array

RULES = [pytest.param(rule, id=name) for name, rule in BASELINE_RULES.items()]
NOTHING = Measures(None, None, None, None, None, None, None, None, None)


def measured(minutes: Numbers, values: Numbers, rule: int = MEAN) -> Measures:
    """Return the measures of one series."""
    return measure(array(minutes), array(values), rule)


@pytest.mark.parametrize(("rule", "base"), [(MEAN, 6.0), (LAST, 4.0), (LOWEST, 4.0)])
def test_the_baseline_is_made_of_the_readings_at_minute_0_and_before(
    rule: int, base: float
) -> None:
    """Readings after the drink never enter it."""
    assert baseline_of(array([-20, -10, 0, 15]), array([9, 5, 4, 1]), rule) == base


def test_the_last_fasting_reading_is_not_always_the_lowest() -> None:
    """The two rules differ."""
    minute, value = array([-10, 0]), array([4, 9])
    assert (baseline_of(minute, value, LAST), baseline_of(minute, value, LOWEST)) == (9.0, 4.0)


@pytest.mark.parametrize(("rule", "base"), [(MEAN, 7.0), (LAST, 5.0), (LOWEST, 5.0)])
def test_a_fasting_slot_without_a_value_is_passed_over(rule: int, base: float) -> None:
    """A missed last fasting sample leaves the one before it."""
    assert baseline_of(array([-20, -10, 0, 15]), array([9, 5, None, 1]), rule) == base


@pytest.mark.parametrize("rule", RULES)
def test_without_a_fasting_reading_nothing_rises_and_nothing_is_zero(rule: int) -> None:
    """Peak and total area can be told; all that needs a baseline is None."""
    found = measured([15, 45], [5, 9], rule)
    assert found == Measures(None, 9.0, 45.0, None, None, 4.0, 210.0, None, None)


@pytest.mark.parametrize("rule", RULES)
def test_one_fasting_reading_gives_a_baseline_and_a_peak_only(rule: int) -> None:
    """There is nothing after it, so no rise and no area."""
    assert measured([0], [5], rule) == Measures(5.0, 5.0, 0.0, None, None, None, None, None, None)


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("n", [0, 1, 4])
def test_a_test_without_any_value_measures_nothing(rule: int, n: int) -> None:
    """Every measure is None, never 0."""
    assert measured([30.0 * i for i in range(n)], [None] * n, rule) == NOTHING


def test_the_peak_may_be_a_fasting_reading_but_a_rise_may_not() -> None:
    """A high first reading is the peak; the rise is the largest after the drink, here a fall."""
    found = measured([0, 30, 60], [30, 10, 20])
    assert (found.peak, found.peak_minute) == (30.0, 0.0)
    assert (found.max_rise, found.max_rise_minute, found.max_rise_over_lowest) == (
        -10.0,
        60.0,
        10.0,
    )


def test_of_equal_peaks_the_first_is_told() -> None:
    """The minute is that of the first time."""
    found = measured([0, 30, 60, 90], [5, 20, 20, 9])
    assert (found.peak_minute, found.max_rise_minute) == (30.0, 30.0)


def test_a_rise_over_the_lowest_counts_from_fasting_readings_too() -> None:
    """The lowest may lie before or after the drink."""
    assert measured([-10, 0, 30], [2, 8, 12]).max_rise_over_lowest == 10.0
    assert measured([0, 30, 60], [8, 2, 12]).max_rise_over_lowest == 10.0


def test_a_lowest_that_comes_later_does_not_count() -> None:
    """Only earlier readings are looked at."""
    assert measured([0, 30, 60], [8, 12, 1]).max_rise_over_lowest == 4.0


@pytest.mark.parametrize("rule", RULES)
def test_slots_with_nan_as_their_minute_change_nothing(rule: int) -> None:
    """A shorter test in a table is padded at its end."""
    plain = measured([0, 30, 90], [5, 9, 30], rule)
    assert measured([0, 30, 90, None, None], [5, 9, 30, None, None], rule) == plain


def test_uneven_intervals_weigh_as_long_as_they_are() -> None:
    """10 ppm for 10 min and 20 ppm for 100 min are not 15 ppm for 110 min."""
    found = measured([0, 10, 110], [10, 10, 30])
    assert found.area_total_ppm_min == 10 * 10 + 20 * 100


def test_an_area_runs_over_a_missed_sample_in_one_piece() -> None:
    """No value is made up at the missed minute: the trapezoid joins its neighbours."""
    assert measured([0, 30, 60], [10, None, 30]).area_total_ppm_min == 20 * 60


def test_a_segment_that_crosses_the_baseline_is_split_there() -> None:
    """From 5 below to 15 above over 40 min, 30 min lie above: a triangle of 225 ppm·min."""
    minute, base = array([0, 40]), 10.0
    assert areas(minute, array([5, 25]), base) == (600.0, 200.0, 225.0)
    assert areas(minute, array([25, 5]), base) == (600.0, 200.0, 225.0)


def test_a_curve_below_its_baseline_has_a_negative_net_and_no_positive_area() -> None:
    """The net area may be negative; the positive one is then 0, which is known and not missing."""
    assert areas(array([0, 30, 60]), array([10, 4, 6]), 10.0) == (360.0, -240.0, 0.0)


def test_a_segment_from_the_baseline_up_and_back_counts_whole() -> None:
    """Touching the baseline is no crossing."""
    assert areas(array([0, 30, 60]), array([10, 20, 10]), 10.0) == (900.0, 300.0, 300.0)


def test_areas_start_at_the_first_reading_where_there_is_no_fasting_one() -> None:
    """The time before it is not counted."""
    total, net, positive = areas(array([0, 30, 60]), array([None, 10, 20]), 5.0)
    assert (total, net, positive) == (450.0, 300.0, 300.0)


@pytest.mark.parametrize("values", [[None, None], [5.0, None]])
def test_fewer_than_two_readings_have_no_area(values: Numbers) -> None:
    """An area needs two ends."""
    assert_array_equal(areas(array([0, 30]), array(values), 5.0), [math.nan] * 3)


def test_measures_are_plain_numbers() -> None:
    """What goes to a document is a float of Python."""
    found = measured([0, 30], [5, 9])
    assert all(type(getattr(found, name)) is float for name in Measures.__dataclass_fields__)


def test_the_rules_go_by_the_names_of_protocols() -> None:
    """Names in protocols and reports."""
    assert BASELINE_RULES == {"mean": MEAN, "last": LAST, "lowest": LOWEST}
    assert np.isnan(baseline_of(array([15]), array([5]), MEAN))
