import math

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal

from ebbline.core.breath.noise import Noise
from ebbline.core.breath.reading import Dilution
from ebbline.core.curve.breath_test import Setback, Try
from ebbline.core.curve.collect import Collected, as_curves, as_spread, collect, symptom_rises
from tests.helpers import O2, QUIET, a_dilution, a_try, library, missed, of_tries

NOISE = Noise(ppm=1.5, fraction=0.1, gain_fraction=0.05)


def collected(*tries: Try, dilution: Dilution | None = None) -> Collected:
    """Return the samples of a test of these rows."""
    return collect(of_tries(*tries), QUIET, dilution or a_dilution(O2))


def test_of_several_tries_at_one_sample_the_last_good_one_counts() -> None:
    """An earlier good try is replaced, one marked to be repeated does not count."""
    found = collected(
        a_try(0, 5, 2, planned=0),
        a_try(28, 40, 3, planned=30, note="coughed"),
        a_try(31, 12, 4, planned=30, status="repeat", note="too short"),
        a_try(33, 9, 5, planned=30),
    )
    assert [slot.minute for slot in found.slots] == [0.0, 33.0]
    assert found.slots[1].counted is not None
    assert found.slots[1].counted.h2_ppm == 9
    assert found.not_counted == (
        Setback(28, 30, "replaced", 40, 3, "coughed", {}),
        Setback(31, 30, "repeat", 12, 4, "too short", {}),
    )


def test_a_try_to_be_repeated_after_a_good_one_does_not_take_its_place() -> None:
    """The last good one counts, not the last one."""
    found = collected(a_try(30, 9, planned=30), a_try(33, 40, planned=30, status="repeat"))
    assert found.slots[0].counted is not None
    assert found.slots[0].counted.h2_ppm == 9
    assert [setback.reason for setback in found.not_counted] == ["repeat"]


def test_a_sample_without_any_good_try_is_a_slot_at_its_planned_minute() -> None:
    """Its tries are kept as setbacks, and no value is made up for it."""
    found = collected(
        a_try(0, 5, planned=0), a_try(64, 50, planned=60, status="repeat"), missed(90, "left")
    )
    slots = found.slots
    assert [(slot.minute, slot.counted, slot.reading) for slot in slots[1:]] == [
        (60, None, None),
        (90, None, None),
    ]
    assert found.not_counted == (
        Setback(64, 60, "repeat", 50, None, "", {}),
        Setback(90, 90, "missed", None, None, "left", {}),
    )
    curves = as_curves(found, raw=False)
    assert_array_equal(curves.minute, [[0, 60, 90]])
    assert_array_equal(curves.h2_ppm, [[5, np.nan, np.nan]])


def test_a_repeat_without_a_planned_minute_stands_at_its_actual_one() -> None:
    """Nothing else is known of it."""
    found = collected(a_try(31, 12, status="repeat"))
    assert (found.slots[0].minute, found.slots[0].planned_minute) == (31, None)
    assert_array_equal(as_curves(found, raw=False).planned_minute, [[31]])


def test_tries_at_one_actual_minute_are_one_sample_where_none_is_planned() -> None:
    """A reading planned for that minute is another sample."""
    found = collected(a_try(30, 9), a_try(30, 11), a_try(30.5, 20, planned=30))
    assert [slot.counted.h2_ppm for slot in found.slots if slot.counted] == [11, 20]
    assert [setback.reason for setback in found.not_counted] == ["replaced"]


def test_samples_are_in_order_of_time_whatever_the_order_of_planned_minutes() -> None:
    """A sample planned for 45 but taken at 62 comes after one that was missed at 60."""
    found = collected(a_try(62, 9, planned=45), missed(60), a_try(0, 5, planned=0))
    assert [slot.minute for slot in found.slots] == [0, 60, 62]


def test_a_row_without_hydrogen_is_not_lost() -> None:
    """A good row that holds methane alone is either a sample or among what does not count."""
    found = collected(a_try(0, 5, 2), a_try(30, None, 6))
    kept = [slot.counted for slot in found.slots if slot.counted is not None]
    assert len(kept) + len(found.not_counted) == 2


def test_normalised_values_count_in_the_curve_and_raw_ones_can_be_asked_for() -> None:
    """A refused sample stays out of both."""
    found = collected(a_try(0, 5, 2, o2=13.9), a_try(30, 14, 7, o2=16.0), a_try(60, 3, 1, o2=20.0))
    used, raw = as_curves(found, raw=False), as_curves(found, raw=True)
    assert_allclose(used.h2_ppm, [[5, 20, np.nan]])
    assert_allclose(used.ch4_ppm, [[2, 10, np.nan]])
    assert_allclose(raw.h2_ppm, [[5, 14, np.nan]])
    assert_allclose(raw.ch4_ppm, [[2, 7, np.nan]])


def test_methane_that_was_not_measured_is_missing_in_the_curve() -> None:
    """None becomes NaN, and there are no symptoms where none were asked."""
    curves = as_curves(collected(a_try(0, 5), a_try(30, 9, 4)), raw=False)
    assert_array_equal(curves.ch4_ppm, [[np.nan, 4]])
    assert curves.symptom_rise is None


def test_the_spread_keeps_the_marker_apart_from_the_noise_of_each_gas() -> None:
    """One marker reading scales both gases, so it must be drawn once for both."""
    dilution = a_dilution(*library().dilution.markers)
    found = collect(
        of_tries(a_try(0, 5, 2, o2=13.9), a_try(30, 30, 12, o2=16.0), a_try(60, 3, o2=20.0),
                 missed(90)),
        NOISE,
        dilution,
    )  # fmt: skip
    spread = as_spread(found)
    k = 10 / 7
    assert_allclose(spread.h2_sd, [[np.hypot(1.5, 0.5), k * np.hypot(1.5, 3.0), np.nan, np.nan]])
    assert_allclose(spread.ch4_sd, [[np.hypot(1.5, 0.2), k * np.hypot(1.5, 1.2), np.nan, np.nan]])
    assert_array_equal(spread.normalised, [[False, True, False, False]])
    assert spread.scale_u[0, 0] == 0.0
    assert spread.scale_u[0, 1] > 0.03
    assert_allclose(spread.reference_u, [0.5 / 7.0])


def test_a_test_without_readings_has_no_shared_reference() -> None:
    """Nothing was normalised, so nothing moves together."""
    assert_array_equal(as_spread(collected(missed(0), missed(30))).reference_u, [0.0])


def rises(*tries: Try) -> list[float] | None:
    """Return the symptom rises of a test of these rows."""
    return symptom_rises(collected(*tries).slots)


def test_symptoms_rise_over_the_highest_score_before_the_drink() -> None:
    """The largest rise of any one complaint is told, for each sample."""
    found = rises(
        a_try(-10, 5, symptoms={"pain": 3, "bloating": 1}),
        a_try(0, 5, symptoms={"pain": 1, "bloating": 1}),
        a_try(30, 9, symptoms={"pain": 4, "bloating": 5}),
        a_try(60, 9, symptoms={"pain": 2}),
    )
    assert found == [0.0, 0.0, 4.0, -1.0]


def test_a_complaint_that_was_not_asked_before_the_drink_has_no_rise() -> None:
    """Without a score to count from nothing can be said to be provoked."""
    found = rises(
        a_try(0, 5, symptoms={"pain": 0}),
        a_try(30, 9, symptoms={"nausea": 8}),
        a_try(60, 9, symptoms={"nausea": 8, "pain": 1}),
    )
    assert found is not None
    assert_array_equal(found, [0.0, math.nan, 1.0])


def test_symptoms_that_were_never_asked_are_not_zero() -> None:
    """No score at all is None, not a row of zeros."""
    assert rises(a_try(0, 5), a_try(30, 9)) is None


def test_scores_of_a_missed_sample_count_too() -> None:
    """A patient can be asked even where no breath was taken."""
    late = a_try(60, None, planned=60, status="missed", symptoms={"pain": 6})
    assert rises(a_try(0, 5, planned=0, symptoms={"pain": 1}), late) == [0.0, 5.0]
