"""The additive model of JCGM 101:2008, 9.2, and its rule for validating first-order uncertainty.

The figures are those of its tables 2 to 4, from memory, not checked against the document; the
random draws here confirm them.
"""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from ebbline.core.breath.budget import Budget

Float = NDArray[np.float64]

DRAWS = 1_000_000
# Half the width of a rectangle with a standard deviation of 1.
HALF = math.sqrt(3.0)


def budget(parts: tuple[float, float, float, float]) -> Budget:
    """Return a budget of four independent parts."""
    noise, zero, response, resolution = parts
    return Budget(noise=noise, zero=zero, response=response, resolution=resolution, calibration=0.0)


def tolerance(u: float, digits: int) -> float:
    """Return the numerical tolerance of JCGM 101:2008, 7.9.2: half of the last digit of u."""
    exponent = math.floor(math.log10(u)) - digits + 1
    return 0.5 * 10.0**exponent


def validated(u: float, draws: Float, digits: int) -> bool:
    """Return whether first order holds: both ends agree within the tolerance (8.2)."""
    low, high = np.quantile(draws, [0.025, 0.975])
    delta = tolerance(u, digits)
    return bool(abs(-1.96 * u - low) <= delta and abs(1.96 * u - high) <= delta)


def test_the_tolerance_is_that_of_the_document() -> None:
    """u = 0.35 to two digits is 35 x 10^-2, so 0.005; to one digit 0.05 (7.9.2)."""
    assert tolerance(0.35, 2) == pytest.approx(0.005)
    assert tolerance(0.35, 1) == pytest.approx(0.05)
    assert tolerance(2.0, 2) == pytest.approx(0.05)


def test_four_normal_parts_of_one_are_two() -> None:
    """9.2.2: u = 2.0 and the interval -3.92 to 3.92, which first order gives as well."""
    u = budget((1.0, 1.0, 1.0, 1.0)).total
    draws = np.random.default_rng(1).normal(size=(4, DRAWS)).sum(axis=0)
    assert u == pytest.approx(2.0)
    assert 1.96 * u == pytest.approx(3.92)
    assert np.quantile(draws, [0.025, 0.975]) == pytest.approx([-3.92, 3.92], abs=0.02)
    assert validated(u, draws, 2)


def test_four_rectangular_parts_of_one_are_two_with_a_shorter_interval() -> None:
    """9.2.3: u = 2.0 again, but the interval is -3.88 to 3.88."""
    u = budget((1.0, 1.0, 1.0, 1.0)).total
    draws = np.random.default_rng(2).uniform(-HALF, HALF, size=(4, DRAWS)).sum(axis=0)
    assert np.std(draws) == pytest.approx(u, rel=0.002)
    assert np.quantile(draws, [0.025, 0.975]) == pytest.approx([-3.88, 3.88], abs=0.02)
    assert validated(u, draws, 1)


def test_one_rectangular_part_that_rules_makes_first_order_too_wide() -> None:
    """9.2.4: u = 10.1; first order gives -19.9 to 19.9, the truth is -17.0 to 17.0."""
    u = budget((1.0, 1.0, 1.0, 10.0)).total
    rng = np.random.default_rng(3)
    draws = rng.uniform(-HALF, HALF, size=(3, DRAWS)).sum(axis=0)
    draws += rng.uniform(-10.0 * HALF, 10.0 * HALF, size=DRAWS)
    assert u == pytest.approx(math.sqrt(103.0))
    assert round(u, 1) == 10.1
    assert round(1.96 * u, 1) == 19.9
    assert np.quantile(draws, [0.025, 0.975]) == pytest.approx([-17.0, 17.0], abs=0.05)
    assert not validated(u, draws, 2)
