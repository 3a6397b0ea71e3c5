"""Areas and rises against worked numbers and against scipy."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate

from ebbline.core.curve.chance import LAST, LOWEST, MEAN
from ebbline.core.curve.measures import areas, measure


def test_the_worked_example_gives_its_three_areas_and_two_rises() -> None:
    """Source: check 17, by hand: 3360, 2640 and 2662.5 ppm·min; rises of 36 and 37 ppm."""
    minute = np.arange(0.0, 181.0, 30.0)
    found = measure(minute, np.array([4.0, 3.0, 5.0, 20.0, 40.0, 30.0, 24.0]), MEAN)
    assert found.area_total_ppm_min == 3360.0
    assert found.area_net_ppm_min == 2640.0
    assert found.area_positive_ppm_min == 2662.5
    assert (found.max_rise, found.max_rise_over_lowest) == (36.0, 37.0)


@pytest.mark.parametrize("seed", range(5))
def test_areas_agree_with_the_trapezoidal_rule_of_scipy(seed: int) -> None:
    """Source: scipy.integrate.trapezoid; the crossings of the baseline are added as points.

    Intervals are uneven and some values are missing: scipy gets the points that are there.
    """
    rng = np.random.default_rng(seed)
    minute = np.cumsum(rng.uniform(5.0, 40.0, 12)) - 60.0
    value = rng.uniform(0.0, 30.0, 12)
    value[rng.random(12) < 0.25] = np.nan
    base = 12.0
    known = ~np.isnan(value)
    x, y = minute[known], value[known]
    from_last_fasting = max(int(np.sum(x <= 0.0)) - 1, 0)
    x, y = x[from_last_fasting:], y[from_last_fasting:]
    crossings = [
        x[i] + (base - y[i]) / (y[i + 1] - y[i]) * (x[i + 1] - x[i])
        for i in range(len(x) - 1)
        if (y[i] - base) * (y[i + 1] - base) < 0.0
    ]
    points = np.sort(np.concatenate([x, crossings]))
    above = np.maximum(np.interp(points, x, y) - base, 0.0)
    expected = (
        integrate.trapezoid(y, x),
        integrate.trapezoid(y - base, x),
        integrate.trapezoid(above, points),
    )
    assert_allclose(areas(minute, value, base), expected, rtol=1e-12)


@pytest.mark.parametrize(("rule", "base"), [(MEAN, 6.0), (LAST, 5.0), (LOWEST, 4.0)])
def test_areas_start_at_the_last_fasting_reading_whatever_the_baseline_rule(
    rule: int, base: float
) -> None:
    """Source: by hand; the net area is the total less the baseline times 60 min."""
    minute = np.array([-20.0, -10.0, 0.0, 60.0])
    found = measure(minute, np.array([9.0, 4.0, 5.0, 25.0]), rule)
    assert found.baseline == base
    assert found.area_total_ppm_min == 900.0
    assert found.area_net_ppm_min == 900.0 - 60.0 * base
