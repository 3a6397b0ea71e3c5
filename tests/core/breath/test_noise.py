import math

import pytest
from numpy.testing import assert_allclose

from ebbline.core.breath.noise import Noise
from ebbline.core.errors import SettingError


def test_a_reading_scatters_by_a_constant_and_a_proportional_part() -> None:
    """The two parts add as squares: 3 and 0.1 of 40 make 5."""
    assert_allclose(Noise(ppm=3.0, fraction=0.1, gain_fraction=0.05).sd_ppm(40.0), 5.0)


def test_the_combined_uncertainty_holds_the_gain_too() -> None:
    """5 ppm of scatter and 12 ppm of gain make 13."""
    assert_allclose(Noise(ppm=3.0, fraction=0.04, gain_fraction=0.12).u_ppm(100.0), 13.0)


@pytest.mark.parametrize(
    ("ppm", "fraction", "gain", "text"),
    [
        (-0.5, 0.1, 0.0, "noise ppm cannot be used; allowed: 0 to 100; came: -0.5"),
        (100.5, 0.1, 0.0, "noise ppm cannot be used; allowed: 0 to 100; came: 100.5"),
        (math.nan, 0.1, 0.0, "noise ppm cannot be used; allowed: 0 to 100; came: nan"),
        (math.inf, 0.1, 0.0, "noise ppm cannot be used; allowed: 0 to 100; came: inf"),
        (1.5, 1.01, 0.0, "noise fraction cannot be used; allowed: 0 to 1; came: 1.01"),
        (1.5, -0.1, 0.0, "noise fraction cannot be used; allowed: 0 to 1; came: -0.1"),
        (1.5, 0.1, 0.16, "noise gain_fraction cannot be used; allowed: 0 to 0.15; came: 0.16"),
    ],
)
def test_noise_that_cannot_be_computed_with_is_refused(
    ppm: float, fraction: float, gain: float, text: str
) -> None:
    """The message names the part, its limits and what came."""
    with pytest.raises(SettingError) as caught:
        Noise(ppm=ppm, fraction=fraction, gain_fraction=gain)
    assert str(caught.value) == text


@pytest.mark.parametrize(("ppm", "fraction", "gain"), [(0.0, 0.0, 0.0), (100.0, 1.0, 0.15)])
def test_the_limits_themselves_are_allowed(ppm: float, fraction: float, gain: float) -> None:
    """A noise of zero is a noise."""
    assert Noise(ppm=ppm, fraction=fraction, gain_fraction=gain).sd_ppm(0.0) == ppm
