"""Dilution by O2 and CO2: factors, their uncertainty and normalised values."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.core.breath.dilution import Marker, normalise, scale
from ebbline.core.breath.noise import Noise
from ebbline.core.breath.reading import Reading, read_sample
from tests.helpers import O2, QUIET, a_dilution

SHARED = Marker("o2", 20.9, 0.05, 13.9, 0.5, 0.2, 0.0)
CO2_5 = Marker("co2", 0.0, 0.0, 5.0, 0.0, 0.1, 0.0)
CO2_55 = Marker("co2", 0.0, 0.0, 5.5, 0.0, 0.1, 0.0)

TABLE = [
    (13.0, 0.8861, 1.129, 2.5, 7.6, 35.44),
    (13.9, 1.0000, 1.000, 2.9, 7.7, 40.00),
    (15.0, 1.1864, 0.843, 3.4, 7.9, 47.46),
    (16.0, 1.4286, 0.700, 4.1, 8.2, 57.14),
    (17.0, 1.7949, 0.557, 5.1, 8.8, 71.79),
    (17.4, 2.0000, 0.500, 5.7, 9.2, 80.00),
    (18.0, 2.4138, 0.414, 6.9, 10.0, 96.55),
    (19.0, 3.6842, 0.271, 10.5, 12.9, 147.37),
    (20.0, 7.7778, 0.129, 22.2, 23.8, 311.11),
]


@pytest.mark.parametrize(("o2", "factor", "fraction", "own", "whole", "of_40"), TABLE)
def test_the_o2_factor_and_its_uncertainty_are_those_of_the_table(
    o2: float, factor: float, fraction: float, own: float, whole: float, of_40: float
) -> None:
    """Source: worked out from k = (20.9 - 13.9)/(20.9 - s) and JCGM 100:2008, 5.1.2.

    u(O2) 0.2; the second column adds u(room) 0.05 and u(reference) 0.5, all in percent.
    """
    alone = scale(o2, O2)
    assert_allclose(alone.factor, factor, atol=0.00006)
    assert_allclose(alone.fraction, fraction, atol=0.0006)
    assert_allclose(100.0 * alone.u_independent / alone.factor, own, atol=0.06)
    assert_allclose(alone.u_shared, 0.0)
    with_all = scale(o2, SHARED)
    total = np.hypot(with_all.u_independent, with_all.u_shared)
    assert_allclose(100.0 * total / with_all.factor, whole, atol=0.06)
    assert_allclose(normalise(40.0, 0.0, alone.factor), of_40, atol=0.006)


@pytest.mark.parametrize(
    ("co2", "by_5", "by_55"),
    [
        (4.0, 1.250, 1.375),
        (3.5, 1.4286, 1.5714),
        (3.0, 1.6667, 1.8333),
        (2.5, 2.000, 2.200),
        (2.0, 2.500, 2.750),
    ],
)
def test_the_co2_factor_is_the_reference_over_the_sample(
    co2: float, by_5: float, by_55: float
) -> None:
    """Source: k = reference/sample with room CO2 left out, references 5.0 and 5.5 %, by hand."""
    assert_allclose([scale(co2, m).factor for m in (CO2_5, CO2_55)], [by_5, by_55], atol=0.00006)


def test_room_co2_is_taken_off_both_sides() -> None:
    """Source: (5 - 0.04)/(2.5 - 0.04) = 2.0163, by hand."""
    marker = Marker("co2", 0.04, 0.0, 5.0, 0.0, 0.1, 0.0)
    assert_allclose(scale(2.5, marker).factor, 2.0163, atol=0.00005)


def test_co2_of_3_5_percent_gives_the_factor_of_o2_at_16_percent() -> None:
    """Source: check 13, 5/3.5 = 1.428571 by hand, the same as 7/4.9."""
    assert_allclose(scale(3.5, CO2_5).factor, 1.428571, atol=5e-7)
    assert_allclose(scale(16.0, O2).factor, 1.428571, atol=5e-7)


@pytest.mark.parametrize(("room", "expected"), [(0.0, 42.857), (0.5, 42.643), (4.0, 41.143)])
def test_hydrogen_in_the_room_is_taken_off_before_scaling_and_added_back(
    room: float, expected: float
) -> None:
    """Source: check 12, C = room + (30 - room) 7/4.9, by hand."""
    assert_allclose(normalise(30.0, room, scale(16.0, O2).factor), expected, atol=0.0005)


@pytest.mark.parametrize(("room", "expected"), [(2.0, 16.286), (0.0, 17.143)])
def test_methane_in_the_room_matters_more_than_hydrogen(room: float, expected: float) -> None:
    """Source: check 12, 12 ppm of methane with 2 ppm of background, by hand."""
    assert_allclose(normalise(12.0, room, scale(16.0, O2).factor), expected, atol=0.0005)


def reading(o2: float, h2: float = 30.0) -> Reading:
    """Return one reading by O2."""
    return read_sample(
        h2_ppm=h2, ch4_ppm=None, o2_pct=o2, co2_pct=None, noise=QUIET, dilution=a_dilution(O2)
    )


def test_the_factor_is_1_at_the_reference_and_grows_without_bound_towards_room_air() -> None:
    """Source: check 14, exact by algebra."""
    assert_allclose(scale(13.9, O2).factor, 1.0, rtol=1e-15)
    assert float(scale(20.9 - 1e-9, O2).factor) > 1e9


@pytest.mark.parametrize("o2", [20.9, 21.0, 21.5])
def test_a_sample_of_room_air_has_no_factor_and_is_refused(o2: float) -> None:
    """Source: check 14: at or above the room value nothing is left to scale, never below 0 ppm."""
    found = scale(o2, O2)
    assert math.isnan(found.factor)
    assert math.isnan(found.u_independent)
    refused = reading(o2)
    assert refused.quality == "refused"
    assert refused.h2.value_ppm is None
    assert refused.h2.normalised_ppm is None
    assert refused.h2.raw_ppm == 30.0


def test_a_concentration_is_never_below_zero() -> None:
    """Source: check 14: less hydrogen than in the room, scaled, is 0 and not negative."""
    assert_allclose(normalise([0.0, 1.0, 3.0], 4.0, 3.0), [0.0, 0.0, 1.0])


@pytest.mark.parametrize("o2", [13.9, 13.0, 9.5])
def test_a_sample_at_or_below_the_o2_reference_is_not_scaled_down(o2: float) -> None:
    """Source: Lee 2021 BMJ Open Gastro 8:e000640 saw O2 of 9.5 to 16.2 %; a held breath."""
    accepted = reading(o2)
    assert (accepted.quality, accepted.h2.value_ppm) == ("accepted", 30.0)


@pytest.mark.parametrize(("o2", "sd_of_factor"), [(18.0, 0.167), (19.0, 0.39), (20.0, 1.73)])
def test_the_first_order_uncertainty_near_room_air_is_that_of_the_formula(
    o2: float, sd_of_factor: float
) -> None:
    """Source: u(k) = k u(s)/(20.9 - s) with u(s) 0.2, by hand."""
    assert_allclose(scale(o2, O2).u_independent, sd_of_factor, rtol=0.012)


@pytest.mark.parametrize(("o2", "quality"), [(19.8, "normalised"), (19.95, "refused")])
def test_a_sample_is_refused_where_the_first_order_fails(o2: float, quality: str) -> None:
    """Source: common practice, no source: the fall in O2 must be 5 of its standard uncertainties.

    With u(s) 0.2 that is 1 percent of O2; Monte Carlo is unstable beyond it.
    """
    found = read_sample(
        h2_ppm=10.0,
        ch4_ppm=None,
        o2_pct=o2,
        co2_pct=None,
        noise=Noise(ppm=1.5, fraction=0.1, gain_fraction=0.0),
        dilution=a_dilution(O2, refuse_fraction=0.05),
    )
    assert found.quality == quality
    if quality == "refused":
        assert found.notes == (
            "O2 19.95 %: too near room air for its uncertainty; a factor would not be reliable",
        )
