import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import special

from ebbline.core.curve.running_minimum import none_over_running_minimum


@pytest.mark.parametrize("u_gain", [0.0, 0.05])
def test_two_readings_are_one_difference(u_gain: float) -> None:
    """Source: scipy.special.ndtr; with a gain, its average over the gain on a fine grid."""
    value, width = np.array([6.0, 24.0]), np.array([1.6, 2.8])
    z = np.linspace(-8.0, 8.0, 2001)
    bar = 20.0 / (1.0 + u_gain * z)
    weight = np.exp(-0.5 * z * z)
    each = special.ndtr((bar - 18.0) / np.hypot(*width))
    expected = np.sum(weight * each) / np.sum(weight)
    found = none_over_running_minimum(20.0, value, width, 2, 1, u_gain)
    assert_allclose(found, expected, rtol=0, atol=1e-5)


def test_readings_before_the_first_that_may_cross_only_lower_the_minimum() -> None:
    """A fasting reading that lies far above another one is no rise."""
    value, width = np.array([5.0, 40.0, 6.0]), np.array([1.5, 3.0, 1.5])
    assert_allclose(none_over_running_minimum(20.0, value, width, 3, 2, 0.0), 1.0, atol=1e-5)
    assert_allclose(none_over_running_minimum(20.0, value, width, 3, 1, 0.0), 0.0, atol=1e-5)


def test_the_order_of_fasting_readings_changes_nothing() -> None:
    """The lowest of them is the same."""
    width = np.array([1.6, 2.2, 1.9, 3.0])
    forwards = none_over_running_minimum(15.0, np.array([6.0, 9.0, 8.0, 22.0]), width, 4, 3, 0.0)
    order = [2, 0, 1, 3]
    value = np.array([6.0, 9.0, 8.0, 22.0])[order]
    backwards = none_over_running_minimum(15.0, value, width[order], 4, 3, 0.0)
    assert_allclose(forwards, backwards, rtol=0, atol=2e-6)
