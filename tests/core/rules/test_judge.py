import math
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from ebbline.core.curve.chance import LAST, LOWEST, MEAN
from ebbline.core.rules.codes import (
    CANNOT_BE_JUDGED,
    INDETERMINATE,
    INVALID,
    KEY_MISSED,
    LATE_COUNTED,
    MET,
    NEGATIVE,
    NO_FASTING,
    NO_READING,
    NOT_ASKED,
    NOT_MET,
    PLAIN,
    POSITIVE,
    STOPPED_EARLY,
    UNDECIDED,
)
from ebbline.core.rules.judge import judge
from tests.helpers import (
    VALID,
    Numbers,
    one_curve,
    reported_of,
    rule_set,
    stacked,
    statement_row,
    table_of,
    verdicts_of,
)

MINUTES = [0, 30, 60, 90, 120]


def judged(
    h2: Numbers,
    *,
    minutes: Numbers | None = None,
    planned: Numbers | None = None,
    tolerance: float = 0.0,
    baseline_rule: int = MEAN,
    **row: Any,
) -> tuple[int, int, float, int]:
    """Return result, reason, value and sample of one row, by 90 min unless it says otherwise."""
    row = {"by_minute": 90, **row} if "needs_minutes" not in row else row
    curves = one_curve(minutes or MINUTES, h2, planned=planned)
    table = table_of(rule_set(statement_row(**row)))
    verdicts = verdicts_of(curves, table, tolerance=tolerance, baseline_rule=baseline_rule)
    value, at = reported_of(curves, table, 0, tolerance=tolerance, baseline_rule=baseline_rule)
    return int(verdicts.result[0, 0]), int(verdicts.reason[0, 0]), value, at


def test_a_statement_is_met_by_the_first_crossing_in_the_window() -> None:
    """The first sample that crosses decides, not the highest."""
    assert judged([5, 9, 27, 60, 80]) == (MET, PLAIN, 22.0, 2)


def test_a_statement_is_not_met_by_the_highest_that_counts() -> None:
    """The highest rise in the window is told, whatever comes after."""
    assert judged([5, 9, 20, 12, 80]) == (NOT_MET, PLAIN, 15.0, 2)


@pytest.mark.parametrize(
    ("rise", "comparison", "result"),
    [
        (19, "at least", NOT_MET),
        (20, "at least", MET),
        (20, "more than", NOT_MET),
        (21, "more than", MET),
    ],
)
def test_exactly_20_follows_the_comparison(rise: int, comparison: str, result: int) -> None:
    """At least 20 holds 20, more than 20 does not."""
    assert judged([5, 5, 5 + rise, 5, 5], comparison=comparison)[0] == result


@pytest.mark.parametrize(("comparison", "result"), [("at least", MET), ("more than", NOT_MET)])
@pytest.mark.parametrize("base", [0.1, 5.1, 7.3, 1 / 3])
def test_a_rise_that_is_20_in_decimals_is_20(base: float, comparison: str, result: int) -> None:
    """Binary fractions fall short of it or go beyond it; readings are decimals."""
    assert judged([base, 0, base + 20.0, 0, 0], comparison=comparison)[0] == result


def test_a_test_that_stopped_before_the_window_ended_cannot_be_negative() -> None:
    """Readings to 60 min say nothing of 90 min."""
    assert judged([5, 9, 12], minutes=[0, 30, 60]) == (CANNOT_BE_JUDGED, STOPPED_EARLY, 7.0, 2)


def test_a_test_that_stopped_early_can_be_positive() -> None:
    """A crossing needs nothing after it."""
    assert judged([5, 9, 30], minutes=[0, 30, 60]) == (MET, PLAIN, 25.0, 2)


@pytest.mark.parametrize(("last", "result"), [(179, CANNOT_BE_JUDGED), (180, NOT_MET)])
def test_where_any_sample_counts_readings_must_reach_the_end_of_the_test(
    last: float, result: int
) -> None:
    """needs_minutes is how long a test must last before it can be negative."""
    assert judged([5, 9, 12], minutes=[0, 90, last], needs_minutes=180)[0] == result


def test_where_any_sample_counts_a_late_crossing_counts() -> None:
    """needs_minutes closes no window."""
    assert judged([5, 9, 26], minutes=[0, 90, 300], needs_minutes=180) == (MET, PLAIN, 21.0, 2)


def test_a_reading_after_the_window_shows_that_the_test_did_not_stop() -> None:
    """Readings reach beyond 90 min; the one at 75 min is the last that counts."""
    assert judged([5, 9, 12], minutes=[0, 75, 105])[:2] == (NOT_MET, PLAIN)


def test_a_missed_sample_that_would_have_decided_leaves_it_open() -> None:
    """The next reading, after the window, crosses: at 90 min it may have crossed too."""
    assert judged([5, 9, 12, None, 40]) == (CANNOT_BE_JUDGED, KEY_MISSED, 35.0, 4)


def test_a_missed_sample_does_not_matter_where_the_next_reading_does_not_cross() -> None:
    """Had it crossed, the curve would have had to fall back at once."""
    assert judged([5, 9, 12, None, 15]) == (NOT_MET, PLAIN, 7.0, 2)


def test_a_missed_sample_does_not_matter_where_the_statement_is_met_without_it() -> None:
    """A crossing is a crossing."""
    assert judged([5, 9, 30, None, 40]) == (MET, PLAIN, 25.0, 2)


def test_a_missed_sample_does_not_matter_where_a_later_one_in_the_window_is_low() -> None:
    """The reading at 90 min decides, the one missed at 60 min does not."""
    assert judged([5, 9, None, 12, 40]) == (NOT_MET, PLAIN, 7.0, 3)


def test_a_missed_sample_after_the_window_does_not_matter() -> None:
    """It could not have decided."""
    assert judged([5, 9, 12, 14, None, 60], minutes=[0, 30, 60, 90, 105, 120])[:2] == (
        NOT_MET,
        PLAIN,
    )


def test_a_missed_last_sample_leaves_a_test_that_stopped_early() -> None:
    """Nothing after it says anything."""
    assert judged([5, 9, 12, None], minutes=MINUTES[:4]) == (
        CANNOT_BE_JUDGED,
        STOPPED_EARLY,
        7.0,
        2,
    )


def test_only_the_next_reading_after_the_window_tells_of_a_missed_one() -> None:
    """If that is low, a crossing half an hour later tells nothing of 90 min."""
    assert judged([5, 9, 12, None, 15, 60], minutes=[*MINUTES, 150])[:2] == (NOT_MET, PLAIN)


def test_a_key_sample_that_was_taken_too_late_is_as_good_as_missed() -> None:
    """Planned for 90 min, taken at 95 min, and crossing: at 90 min it may have crossed too."""
    found = judged([5, 9, 12, 40], minutes=[0, 30, 60, 95], planned=[0, 30, 60, 90])
    assert found == (CANNOT_BE_JUDGED, KEY_MISSED, 35.0, 3)


def test_a_key_sample_whose_reading_was_refused_is_as_good_as_missed() -> None:
    """Its slot stands at the actual minute, here within the window."""
    found = judged([5, 9, 12, None, 40], minutes=[0, 30, 60, 89, 121], planned=MINUTES)
    assert found[:2] == (CANNOT_BE_JUDGED, KEY_MISSED)


def test_a_crossing_after_the_window_with_nothing_planned_in_between_is_no_stopped_test() -> None:
    """Readings at 0 and 120 min only: 90 min cannot be judged, but the test did not stop."""
    result, reason, _, _ = judged([5, 40], minutes=[0, 120])
    assert result == CANNOT_BE_JUDGED
    assert reason != STOPPED_EARLY


@pytest.mark.parametrize(
    ("minutes", "h2", "expected"),
    [
        ([0, 15, 30, 45, 60, 75, 105], [5, 5, 6, 7, 8, 9, 40], (CANNOT_BE_JUDGED, KEY_MISSED)),
        ([0, 5, 120], [5, 6, 40], (CANNOT_BE_JUDGED, KEY_MISSED)),
        ([0, 20, 40, 60, 80, 100], [5, 5, 6, 7, 8, 40], (NOT_MET, PLAIN)),
        ([0, 30, 60, 105], [5, 6, 7, 40], (NOT_MET, PLAIN)),
        ([0, 30, 60, 106], [5, 6, 7, 40], (CANNOT_BE_JUDGED, KEY_MISSED)),
        ([0, 15, 30, 45, 60, 75, 90, 150], [5, 5, 6, 7, 8, 9, 9, 40], (NOT_MET, PLAIN)),
        ([0, 15, 30, 45, 60, 75, 105], [5, 5, 6, 7, 8, 9, 20], (NOT_MET, PLAIN)),
    ],
)
def test_a_sample_that_was_left_out_at_the_end_of_the_window_is_seen_by_the_longer_step(
    minutes: list[float], h2: list[float], expected: tuple[int, int]
) -> None:
    """A step half as long again as any before it left one out; a usual one left nothing out.

    Only where the next reading crosses, and only where the window was not sampled to its end.
    """
    assert judged(h2, minutes=minutes)[:2] == expected


@pytest.mark.parametrize(
    ("minute", "tolerance", "expected"),
    [
        (90, 0, (MET, PLAIN)),
        (92, 0, (CANNOT_BE_JUDGED, KEY_MISSED)),
        (92, 2, (MET, LATE_COUNTED)),
        (93, 2, (CANNOT_BE_JUDGED, KEY_MISSED)),
        (88, 2, (MET, PLAIN)),
    ],
)
def test_a_sample_after_the_by_minute_counts_within_the_tolerance_only(
    minute: float, tolerance: float, expected: tuple[int, int]
) -> None:
    """The actual minute decides; a sample that needed the tolerance is marked."""
    found = judged(
        [5, 9, 12, 40], minutes=[0, 30, 60, minute], planned=[0, 30, 60, 90], tolerance=tolerance
    )
    assert found[:2] == expected


def test_a_crossing_in_time_is_not_called_late_because_of_a_later_one() -> None:
    """The first crossing decides."""
    assert judged([5, 30, 40], minutes=[0, 60, 92], tolerance=5)[1] == PLAIN


def test_a_level_counts_from_the_first_sample() -> None:
    """Before the drink too."""
    assert judged([12, 9, 3, 3], minutes=[-10, 0, 60, 90], measure="level", threshold_ppm=10) == (
        MET,
        PLAIN,
        12.0,
        0,
    )


def test_a_level_needs_no_fasting_reading() -> None:
    """There is nothing to count from."""
    found = judged([9, 12], minutes=[30, 90], measure="level", threshold_ppm=10)
    assert found == (MET, PLAIN, 12.0, 1)


def test_a_fasting_reading_never_crosses_as_a_rise() -> None:
    """A fasting value far above the mean of the fasting ones is no rise."""
    assert judged([0, 60, 30, 31], minutes=[-10, 0, 60, 90]) == (NOT_MET, PLAIN, 1.0, 3)


@pytest.mark.parametrize("measure", ["level", "rise over baseline", "rise over lowest earlier"])
def test_a_test_without_readings_cannot_be_judged(measure: str) -> None:
    """There is nothing to say, and no value."""
    result, reason, value, at = judged([None] * 5, measure=measure)
    assert (result, at) == (CANNOT_BE_JUDGED, -1)
    assert reason == (NO_FASTING if measure == "rise over baseline" else NO_READING)
    assert math.isnan(value)


def test_a_rise_without_a_fasting_reading_cannot_be_judged() -> None:
    """Even where a later reading is high."""
    assert judged([None, 9, 60, 80, 90])[:2] == (CANNOT_BE_JUDGED, NO_FASTING)


def test_a_fasting_reading_alone_cannot_be_judged() -> None:
    """No reading after the drink, no rise."""
    assert judged([5], minutes=[0])[:2] == (CANNOT_BE_JUDGED, NO_READING)


def test_a_rise_over_the_lowest_needs_one_earlier_reading_of_any_kind() -> None:
    """Without a fasting reading the first one after the drink has nothing before it."""
    lowest = "rise over lowest earlier"
    assert judged([None, 9, 30, 9, 9], measure=lowest) == (MET, PLAIN, 21.0, 2)
    assert judged([40], minutes=[30], measure=lowest)[:2] == (CANNOT_BE_JUDGED, NO_READING)


def test_a_rise_over_the_lowest_counts_from_a_dip() -> None:
    """15, 2, 23: a rise of 8 over baseline is one of 21 over the lowest."""
    assert judged([15, 2, 23, 10, 10])[0] == NOT_MET
    assert judged([15, 2, 23, 10, 10], measure="rise over lowest earlier") == (MET, PLAIN, 21.0, 2)


@pytest.mark.parametrize(("rule", "value"), [(MEAN, 18.0), (LAST, 15.0), (LOWEST, 21.0)])
def test_the_baseline_rule_decides_what_a_rise_counts_from(rule: int, value: float) -> None:
    """Fasting readings of 4 and 10."""
    found = judged([4, 10, 25, 5], minutes=[-10, 0, 60, 90], baseline_rule=rule)
    assert found[2] == value
    assert found[0] == (MET if value >= 20 else NOT_MET)


@pytest.mark.parametrize(
    ("rise", "expected"),
    [(17, (NOT_MET, PLAIN)), (18, (NOT_MET, UNDECIDED)), (52, (NOT_MET, UNDECIDED)),
     (53, (MET, PLAIN))],
)  # fmt: skip
def test_a_rise_in_the_band_is_not_met_and_undecided(rise: int, expected: tuple[int, int]) -> None:
    """The band holds its start and ends below the threshold."""
    found = judged(
        [5, 5 + rise, 5], minutes=[0, 60, 180], threshold_ppm=53, undecided_from_ppm=18,
        needs_minutes=180,
    )  # fmt: skip
    assert found[:2] == expected


def test_a_band_is_not_looked_at_where_the_test_stopped_early() -> None:
    """What cannot be judged is not in a band either."""
    found = judged([5, 30], minutes=[0, 60], threshold_ppm=53, undecided_from_ppm=18,
                   needs_minutes=180)  # fmt: skip
    assert found[:2] == (CANNOT_BE_JUDGED, STOPPED_EARLY)


def test_a_long_test_keeps_the_place_of_its_crossing() -> None:
    """A sample a minute for three hours: the crossing is sample 150."""
    minutes = [float(minute) for minute in range(181)]
    h2 = [5.0] * 150 + [30.0] * 31
    assert judged(h2, minutes=minutes, needs_minutes=180) == (MET, PLAIN, 25.0, 150)


def findings(h2: Numbers, *rows: dict[str, Any], ch4: Numbers | None = None,
             validity: list[dict[str, Any]] | None = None) -> list[int]:  # fmt: skip
    """Return the findings of one rule set on one lactose test to 120 min."""
    curves = one_curve(MINUTES, h2, ch4 or [1] * 5)
    found = verdicts_of(curves, table_of(rule_set(*rows, validity=validity or [])))
    return [int(code) for code in found.finding[0]]


H2_ROW = statement_row(id="h2", needs_minutes=120)
CH4_ROW = statement_row(id="ch4", gas="ch4", threshold_ppm=10, needs_minutes=120)
LONG_ROW = statement_row(id="long", gas="ch4", threshold_ppm=10, needs_minutes=180)
BAND_ROW = statement_row(id="band", threshold_ppm=53, undecided_from_ppm=18, needs_minutes=120)


def test_one_statement_that_is_met_makes_a_finding_positive() -> None:
    """Whatever the others say, in whatever order."""
    assert findings([5, 5, 30, 5, 5], H2_ROW, LONG_ROW) == [POSITIVE]
    assert findings([5, 5, 30, 5, 5], LONG_ROW, H2_ROW) == [POSITIVE]
    assert findings([5, 5, 5, 5, 5], H2_ROW, CH4_ROW, ch4=[1, 1, 12, 1, 1]) == [POSITIVE]


def test_statements_that_are_all_not_met_make_it_negative() -> None:
    """Each of them must have been judged."""
    assert findings([5] * 5, H2_ROW, CH4_ROW) == [NEGATIVE]


def test_a_statement_that_cannot_be_judged_leaves_it_indeterminate() -> None:
    """One open statement is enough, in whatever order."""
    assert findings([5] * 5, H2_ROW, LONG_ROW) == [INDETERMINATE]
    assert findings([5] * 5, LONG_ROW, H2_ROW) == [INDETERMINATE]


def test_a_statement_in_its_band_leaves_it_indeterminate() -> None:
    """The rule set itself leaves that open; a higher one is positive."""
    assert findings([5, 5, 25, 5, 5], BAND_ROW) == [INDETERMINATE]
    assert findings([5, 5, 25, 5, 5], BAND_ROW, H2_ROW) == [POSITIVE]
    assert findings([5, 5, 60, 5, 5], BAND_ROW) == [POSITIVE]


def test_a_failed_validity_row_spoils_every_finding_of_its_own_rule_set() -> None:
    """A positive one too, and none of another rule set."""
    other = statement_row(id="level", gas="ch4", measure="level", threshold_ppm=10,
                          question="methanogen-overgrowth", needs_minutes=120)  # fmt: skip
    assert findings([16, 16, 40, 16, 16], H2_ROW, other, validity=[VALID]) == [INVALID, INVALID]
    assert findings([14, 14, 40, 14, 14], H2_ROW, other, validity=[VALID]) == [POSITIVE, NEGATIVE]
    two = table_of(rule_set(H2_ROW, validity=[VALID], id="one"), rule_set(H2_ROW, id="two"))
    found = verdicts_of(one_curve(MINUTES, [16, 16, 40, 16, 16]), two)
    assert_array_equal(found.finding, [[INVALID, POSITIVE]])


def test_a_validity_row_without_a_fasting_reading_spoils_nothing() -> None:
    """Nothing is known of the baseline, so nothing of it is too high."""
    level = statement_row(id="level", measure="level", needs_minutes=120)
    assert findings([None, 30, 30, 30, 30], level, validity=[VALID]) == [POSITIVE]


def test_a_validity_row_for_another_substrate_is_not_asked() -> None:
    """It stays silent, whatever the baseline."""
    row = {**VALID, "substrates": ["fructose"]}
    assert findings([40, 40, 40, 40, 40], H2_ROW, validity=[row]) == [NEGATIVE]


def test_a_rule_set_that_does_not_cover_the_substrate_says_nothing() -> None:
    """Not even that a test is invalid."""
    rows = rule_set(statement_row(substrates=["fructose"]), validity=[VALID])
    found = verdicts_of(one_curve(MINUTES, [40] * 5), table_of(rows))
    assert_array_equal(found.result[0, :1], [NOT_ASKED])
    assert_array_equal(found.finding, [[NOT_ASKED]])


def test_two_rule_sets_that_ask_the_same_get_the_same_answer() -> None:
    """What is computed once is copied whole."""
    table = table_of(rule_set(H2_ROW, id="one"), rule_set(CH4_ROW, H2_ROW, id="two"))
    found = verdicts_of(one_curve(MINUTES, [5, 9, 12, 27, 9], [1] * 5), table)
    for part in (found.result, found.reason, found.at):
        assert_array_equal(part[:, 0], part[:, 2])
    assert found.result[0, 0] == MET


def test_tests_of_different_substrates_are_judged_side_by_side() -> None:
    """Each by the rows that cover its own."""
    table = table_of(rule_set(H2_ROW, id="one"), rule_set(
        statement_row(substrates=["glucose"], by_minute=90, question="bacterial-overgrowth"),
        id="two"))  # fmt: skip
    one = one_curve(MINUTES, [5, 9, 12, 27, 9])
    both = stacked(one, one)
    found = judge(both, table.rows, np.array([0, 2]), baseline_rule=MEAN, minute_tolerance=0.0)
    assert_array_equal(found.result, [[MET, NOT_ASKED], [NOT_ASKED, MET]])
    assert_array_equal(found.finding, [[POSITIVE, NOT_ASKED], [NOT_ASKED, POSITIVE]])


@pytest.mark.parametrize(
    ("minute", "planned", "expected"),
    [
        (119, 120, (NOT_MET, PLAIN)),
        (115, 120, (NOT_MET, PLAIN)),
        (114, 120, (CANNOT_BE_JUDGED, STOPPED_EARLY)),
        (119, 119, (CANNOT_BE_JUDGED, STOPPED_EARLY)),
    ],
)
def test_a_last_planned_sample_a_little_early_reaches_the_end(
    minute: float, planned: float, expected: tuple[int, int]
) -> None:
    """Up to 5 min, where it was planned for the end; a sample of no plan must be there itself."""
    result, reason, *_ = judged(
        [5, 6, 7], minutes=[0, 60, minute], planned=[0, 60, planned], by_minute=120
    )
    assert (result, reason) == expected


def test_a_key_sample_a_little_early_is_not_missed() -> None:
    """Planned for 90 and taken at 88.8, though the next one came half an hour later."""
    result, reason, *_ = judged(
        [5, 6, 7, 8, 40],
        minutes=[0, 57.4, 75.1, 88.8, 120.2],
        planned=[0, 60, 75, 90, 120],
    )
    assert (result, reason) == (NOT_MET, PLAIN)
