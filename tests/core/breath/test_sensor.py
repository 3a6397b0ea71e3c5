from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import norm

from ebbline.core.breath.sensor import rounding_left, variance_of_one
from ebbline.core.errors import SettingError
from tests.core.breath.givens import a_sensor

NOT_NEGATIVE = (
    "u_tau_fraction",
    "u_delay_s",
    "noise",
    "noise_fraction",
    "resolution",
    "u_drift_per_h",
    "u_gain_fraction",
)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        *[
            ({name: value}, f"sensor {name} cannot be used; allowed: 0 or more; came: {value:g}")
            for name in NOT_NEGATIVE
            for value in (-0.1, float("nan"), float("inf"))
        ],
        *[
            ({name: 1.2}, f"sensor {name} cannot be used; allowed: 0 to 1; came: 1.2")
            for name in ("u_tau_fraction", "noise_fraction", "u_gain_fraction")
        ],
        (
            {"lowest": 500.0},
            "sensor range cannot be used; allowed: lowest below highest; came: 500 to 500",
        ),
        (
            {"noise": 0.0},
            ("sensor noise cannot be used; allowed: above 0 where no resolution is known; came: 0"),
        ),
    ],
)
def test_what_no_sensor_is_is_refused(change: dict[str, Any], text: str) -> None:
    """The message says what was wrong, what is allowed and what came."""
    with pytest.raises(SettingError) as caught:
        a_sensor(**change)
    assert str(caught.value) == text


def test_ends_that_are_allowed_are_allowed() -> None:
    """A gain that is not known, fractions of 0 and 1, and no noise where a step is known."""
    assert a_sensor(u_gain_fraction=None).u_gain_fraction is None
    for share in (0.0, 1.0):
        a_sensor(u_tau_fraction=share, noise_fraction=share, u_gain_fraction=share)
    assert a_sensor(noise=0.0, resolution=1.0).resolution == 1.0


def test_noise_and_rounding_add_as_squares() -> None:
    """0.3² + (0.02 value)² + 1/12, whatever the value's sign."""
    sensor = a_sensor(noise=0.3, noise_fraction=0.02, resolution=1.0)
    assert_allclose(
        variance_of_one(sensor, np.array([[0.0, 50.0], [-50.0, 100.0]])),
        [[0.09 + 1 / 12, 1.09 + 1 / 12], [1.09 + 1 / 12, 4.09 + 1 / 12]],
    )


def mean_error_of_rounding(place: float, sd: float) -> float:
    """Return the mean of round(x + noise) - x for a step of 1, from the normal distribution."""
    steps = np.arange(-30, 31)
    chance = norm.cdf(steps + 0.5, place, sd) - norm.cdf(steps - 0.5, place, sd)
    return float(np.sum(steps * chance)) - place


@pytest.mark.parametrize("ratio", [0.02, 0.1, 0.2, 0.3, 0.5])
def test_rounding_that_averaging_leaves_is_that_of_rounded_normal_values(ratio: float) -> None:
    """Root mean square, over where the value lies in a step, of the mean error of rounding."""
    places = (np.arange(400) + 0.5) / 400 - 0.5
    errors = [mean_error_of_rounding(place, ratio) for place in places]
    sensor = a_sensor(noise=2.0 * ratio, resolution=2.0)
    assert_allclose(
        rounding_left(sensor, 0.0), 2.0 * np.sqrt(np.mean(np.square(errors))), rtol=2e-3, atol=1e-9
    )


def test_rounding_without_noise_is_uniform_over_a_step() -> None:
    """Source: JCGM 100:2008, F.2.2.1: the step over the root of 12."""
    sensor = a_sensor(noise=0.0, resolution=0.5)
    assert_allclose(rounding_left(sensor, 7.0), 0.5 / np.sqrt(12.0), rtol=2e-3)


def test_noise_that_grows_with_the_value_takes_rounding_away() -> None:
    """At 0 the step counts, at 100 its noise averages it out; without a step there is none."""
    sensor = a_sensor(noise=0.05, noise_fraction=0.02, resolution=1.0)
    assert_allclose(rounding_left(sensor, 100.0), 0.0, atol=1e-12)
    assert rounding_left(sensor, 0.0) > 0.2
    assert rounding_left(a_sensor(), 0.0) == 0.0
