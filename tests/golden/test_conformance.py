"""Conformance probabilities: the normal distribution function and single pairs."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from ebbline.core.breath.noise import Noise
from ebbline.core.curve.normal import normal_cdf, normal_pdf
from tests.helpers import (
    chances_of,
    one_curve,
    rule_set,
    spread_of,
    statement_row,
    table_of,
)


def test_the_example_of_jcgm_106_gives_its_three_probabilities() -> None:
    """Source: JCGM 106:2012, 7.4: y 13.6, u 1.8, limits 12.5 and 16.3 give 66 % inside."""
    below = normal_cdf((12.5 - 13.6) / 1.8)
    above = 1.0 - normal_cdf((16.3 - 13.6) / 1.8)
    assert_allclose([1.0 - below - above, below, above], [0.6626, 0.2706, 0.0668], atol=5e-5)


def test_the_normal_functions_agree_with_scipy() -> None:
    """Source: scipy.stats.norm; beyond 5.5 sd the project rounds to 0 or 1 (2e-8)."""
    x = np.linspace(-8.0, 8.0, 321)
    cdf = [normal_cdf(float(one)) for one in x]
    assert_allclose(cdf, stats.norm.cdf(x), rtol=0, atol=2e-8)
    inside = np.abs(x) <= 5.5
    assert_allclose(np.array(cdf)[inside], stats.norm.cdf(x[inside]), rtol=1e-12)
    assert_allclose([normal_pdf(float(one)) for one in x], stats.norm.pdf(x), rtol=1e-12)


@pytest.mark.parametrize(
    ("before", "after", "a", "b", "u", "chance"),
    [
        (5.0, 25.0, 1.5, 0.1, None, 0.5000),
        (5.0, 28.0, 1.5, 0.1, 3.548, 0.8011),
        (5.0, 30.0, 1.5, 0.1, 3.708, 0.9112),
        (5.0, 22.0, 1.5, 0.1, 3.097, 0.1663),
        (10.0, 35.0, 1.5, 0.1, 4.213, 0.8823),
        (5.0, 40.0, 1.5, 0.1, None, 0.9995),
        (2.0, 21.0, 1.0, 0.085, None, 0.3307),
    ],
)
def test_the_chance_of_a_single_pair_is_that_of_its_difference(
    before: float, after: float, a: float, b: float, u: float | None, chance: float
) -> None:
    """Source: check 19, Phi((rise - 20)/u) with u² = 2a² + b²(y0² + yt²), by hand.

    The table holds four decimals, so its own rounding (5e-5) is added to the allowance of 1e-4.
    """
    noise = Noise(ppm=a, fraction=b, gain_fraction=0.0)
    width = np.hypot(noise.sd_ppm(before), noise.sd_ppm(after))
    if u is not None:
        assert_allclose(width, u, atol=0.0006)
    curves = one_curve([0, 180], [before, after])
    found = chances_of(curves, spread_of(curves, noise), table_of(rule_set(statement_row())))
    assert_allclose(found[0, 0], chance, rtol=0, atol=1.5e-4)
    exact = stats.norm.cdf((after - before - 20.0) / width)
    assert_allclose(found[0, 0], exact, rtol=0, atol=1e-5)


def test_the_guard_band_limit_has_a_chance_of_95_percent() -> None:
    """Source: JCGM 106:2012 and ILAC-G8:09/2019: 20 + 1.645 u, for u 3.708 that is 26.10 ppm."""
    u = 3.708
    assert_allclose(20.0 + 1.645 * u, 26.10, atol=0.005)
    assert_allclose(normal_cdf(1.645 * u / u), 0.95, atol=5e-5)
