import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from ebbline.core.breath.noise import Noise
from ebbline.simulate.cohort import Cohort, virtual_cohort

MINUTES = np.array([-10.0, 0.0, 15.0, 30.0, 60.0, 90.0, 120.0, 180.0])
NOISE = Noise(ppm=1.5, fraction=0.1, gain_fraction=0.05)


def cohort(*, seed: int = 1, n_tests: int = 400, missing: float = 0.1, noise: Noise = NOISE
           ) -> Cohort:  # fmt: skip
    """Return a virtual cohort."""
    return virtual_cohort(
        np.random.default_rng(seed),
        n_tests=n_tests,
        minutes=MINUTES,
        n_substrates=4,
        noise=noise,
        missing_share=missing,
    )


def test_the_same_seed_gives_the_same_cohort() -> None:
    """And another one another."""
    one, two, three = cohort(), cohort(), cohort(seed=2)
    assert_array_equal(one.curves.h2_ppm, two.curves.h2_ppm)
    assert_array_equal(one.substrate, two.substrate)
    assert not np.array_equal(one.true_h2_ppm, three.true_h2_ppm)


def test_fasting_samples_are_taken_on_time_and_none_is_missed() -> None:
    """Later ones scatter by up to 2 min about their planned minute."""
    curves = cohort(missing=0.5).curves
    assert_array_equal(curves.planned_minute, np.broadcast_to(MINUTES, (400, 8)))
    off = curves.minute - curves.planned_minute
    assert_array_equal(off[:, :2], 0.0)
    assert np.all(np.abs(off) <= 2.0)
    assert np.all(np.diff(curves.minute, axis=1) > 0.0)
    assert not np.isnan(curves.h2_ppm[:, :2]).any()


@pytest.mark.parametrize("share", [0.0, 0.25, 1.0])
def test_the_share_of_missed_samples_is_the_one_asked_for(share: float) -> None:
    """Both gases of a missed sample are missing, and neither is zero."""
    curves = cohort(missing=share).curves
    missing = np.isnan(curves.h2_ppm[:, 2:])
    assert_array_equal(missing, np.isnan(curves.ch4_ppm[:, 2:]))
    assert_allclose(missing.mean(), share, atol=0.03)


def test_readings_are_whole_and_never_negative() -> None:
    """As an analyser shows them."""
    h2 = cohort().curves.h2_ppm
    known = h2[~np.isnan(h2)]
    assert_array_equal(known, np.round(known))
    assert known.min() >= 0.0


def test_without_noise_the_readings_are_the_truth_rounded() -> None:
    """The truth is kept beside them."""
    made = cohort(noise=Noise(ppm=0.0, fraction=0.0, gain_fraction=0.0), missing=0.0)
    assert_array_equal(made.curves.h2_ppm, np.round(made.true_h2_ppm))
    assert_array_equal(made.curves.ch4_ppm, np.round(made.true_ch4_ppm))


def test_readings_scatter_about_the_truth_as_the_noise_says() -> None:
    """Of all standardised differences, the spread is 1 and the middle is 0."""
    made = cohort(n_tests=4000, missing=0.0, noise=Noise(ppm=2.0, fraction=0.1, gain_fraction=0.0))
    truth = made.true_h2_ppm
    high = truth > 12.0
    z = ((made.curves.h2_ppm - truth) / np.hypot(2.0, 0.1 * truth))[high]
    assert_allclose([z.mean(), z.std()], [0.0, 1.0], atol=0.03)


def test_the_spread_is_that_of_the_readings() -> None:
    """Nothing is normalised, so nothing is shared but the gain."""
    made = cohort()
    assert_allclose(made.spread.h2_sd, np.hypot(1.5, 0.1 * made.curves.h2_ppm))
    assert_allclose(made.spread.ch4_sd, np.hypot(1.5, 0.1 * made.curves.ch4_ppm))
    assert not made.spread.normalised.any()
    assert_array_equal(made.spread.reference_u, np.zeros(400))
    assert_array_equal(made.spread.scale_u, np.zeros((400, 8)))


def test_tests_are_spread_over_all_substrates() -> None:
    """Evenly, within what chance allows."""
    counts = np.bincount(cohort(n_tests=4000).substrate, minlength=4)
    assert counts.shape == (4,)
    assert_allclose(counts / 4000, 0.25, atol=0.03)


def test_some_tests_rise_and_some_do_not() -> None:
    """About half in hydrogen and a fifth in methane; before the drink all are flat."""
    made = cohort(n_tests=4000)
    rise = made.true_h2_ppm.max(axis=1) - made.true_h2_ppm[:, 0]
    methane = made.true_ch4_ppm.max(axis=1) - made.true_ch4_ppm[:, 0]
    assert_allclose([(rise > 0).mean(), (methane > 0).mean()], [0.5, 0.2], atol=0.04)
    assert_array_equal(made.true_h2_ppm[:, 0], made.true_h2_ppm[:, 1])
    assert made.curves.symptom_rise is None
