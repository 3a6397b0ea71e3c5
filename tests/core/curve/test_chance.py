import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.core.curve.chance import (
    FROM_BASELINE,
    FROM_LOWEST_EARLIER,
    LAST,
    LOWEST,
    MEAN,
    NO_BASELINE,
    chance_of_reaching,
)

SMALL = 1.5


def chance(
    measure: int,
    mean: list[float],
    *,
    sd: float = SMALL,
    threshold: float = 20.0,
    fasting: int = 1,
    rule: int = MEAN,
    normalised: bool = False,
    u_gain: float = 0.0,
    u_reference: float = 0.0,
    count: int | None = None,
) -> float:
    """Return the chance for readings of equal sd."""
    value = np.array(mean)
    return chance_of_reaching(
        measure,
        threshold,
        value,
        np.full(len(mean), sd),
        value if normalised else np.zeros(len(mean)),
        len(mean) if count is None else count,
        fasting,
        0 if measure == NO_BASELINE else fasting,
        rule,
        u_gain,
        u_reference,
    )


MEASURES = pytest.mark.parametrize("measure", [NO_BASELINE, FROM_BASELINE, FROM_LOWEST_EARLIER])


@MEASURES
def test_far_above_the_threshold_the_chance_is_1(measure: int) -> None:
    """No integral is needed to say so."""
    assert chance(measure, [5, 60, 70]) == 1.0


@MEASURES
def test_far_below_the_threshold_the_chance_is_0(measure: int) -> None:
    """No integral is needed to say so."""
    assert chance(measure, [5, 5, 6]) == 0.0


@pytest.mark.parametrize("measure", [FROM_BASELINE, FROM_LOWEST_EARLIER])
@pytest.mark.parametrize("u_reference", [0.0, 0.07])
@pytest.mark.parametrize("u_gain", [0.0, 0.05])
def test_a_rise_of_exactly_the_threshold_is_as_likely_as_not(
    measure: int, u_gain: float, u_reference: float
) -> None:
    """Noise alone is even about 0; a shared factor skews the product by a percent or two."""
    found = chance(
        measure, [5, 25], normalised=True, u_gain=u_gain, u_reference=u_reference, sd=2.0
    )
    assert_allclose(found, 0.5, rtol=0, atol=0.02 if u_gain or u_reference else 1e-5)


def test_a_second_reading_at_the_same_height_makes_a_crossing_likelier() -> None:
    """Either of them may cross: more than one, less than both apart."""
    one, two = chance(FROM_BASELINE, [5, 23]), chance(FROM_BASELINE, [5, 23, 23])
    assert one < two < 1.0 - (1.0 - one) ** 2


def test_readings_after_the_window_are_not_looked_at() -> None:
    """Only the first `count` readings enter."""
    assert chance(FROM_BASELINE, [5, 23, 60], count=2) == chance(FROM_BASELINE, [5, 23])


def test_the_baseline_rule_decides_what_is_counted_from() -> None:
    """Of 3 and 9, the last is 9, the mean 6 and the lowest about 3."""
    mean, last, lowest = (
        chance(FROM_BASELINE, [3, 9, 25], fasting=2, rule=rule) for rule in (MEAN, LAST, LOWEST)
    )
    assert last < mean < lowest
    assert_allclose(last, chance(FROM_BASELINE, [9, 25]), rtol=0, atol=1e-5)


def test_more_fasting_readings_make_a_rise_surer() -> None:
    """Their mean scatters less, so a rise of 22 ppm is more surely above 20."""
    assert chance(FROM_BASELINE, [5, 5, 5, 5, 27], fasting=4) > chance(FROM_BASELINE, [5, 27])


def test_a_shared_gain_widens_what_is_far_from_zero() -> None:
    """A rise of 25 is less surely above 20 with a gain of 10 %."""
    assert chance(FROM_BASELINE, [5, 30], u_gain=0.1) < chance(FROM_BASELINE, [5, 30])


@MEASURES
def test_no_noise_at_all_divides_nothing_by_zero(measure: int) -> None:
    """The verdict is then certain away from the threshold."""
    assert chance(measure, [5, 26], sd=0.0) == 1.0
    assert chance(measure, [5, 19], sd=0.0) == 0.0


def test_only_normalised_readings_move_with_the_reference() -> None:
    """With none of them normalised, the reference's uncertainty changes nothing."""
    assert chance(FROM_BASELINE, [5, 23], u_reference=0.1) == chance(FROM_BASELINE, [5, 23])
    moved = chance(FROM_BASELINE, [5, 23], u_reference=0.1, normalised=True)
    assert moved > chance(FROM_BASELINE, [5, 23])


def test_a_factor_of_exactly_zero_ends_the_product() -> None:
    """One reading that crosses for sure leaves nothing to the others."""
    found = chance(FROM_BASELINE, [5, 40, 24], sd=3.3, threshold=20.0)
    assert_allclose(found, 1.0, rtol=0, atol=1e-3)
