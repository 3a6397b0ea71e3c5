import math
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from ebbline.core.breath.expirogram import (
    bohr_fraction,
    end_tidal,
    expired_volume_l,
    fowler_dead_space_l,
    mixed_expired_pct,
    phase_iii_slope_pct_per_l,
)
from ebbline.core.breath.expirogram_model import sigmoid_expirogram_pct
from ebbline.core.errors import InputError

Float = NDArray[np.float64]
VOLUME = np.linspace(0.0, 0.5, 501)
WINDOW = {"plateau_from": 0.5, "plateau_to": 0.9}


def model(**changes: float) -> Float:
    """Return a smooth CO2 expirogram of half a litre."""
    parts = {
        "alveolar_pct": 5.0,
        "slope_pct_per_l": 0.0,
        "dead_space_l": 0.15,
        "width_l": 0.01,
    }
    return sigmoid_expirogram_pct(VOLUME, **(parts | changes))


def test_volume_is_the_area_under_flow_on_uneven_times() -> None:
    """Exact for flow made of straight pieces; breathing in takes volume back."""
    time = np.array([0.0, 1.0, 1.5, 3.5])
    assert_allclose(
        expired_volume_l(time, np.array([0.0, 0.4, 0.4, -0.4])), [0.0, 0.2, 0.4, 0.4], atol=1e-15
    )


@given(level=st.floats(-10.0, 10.0), start_l=st.floats(-1.0, 1.0))
@example(level=0.0, start_l=1e-05)
def test_a_constant_moves_only_the_level(level: float, start_l: float) -> None:
    """Dead space and slope stay, values move; where the count of volume starts is no matter."""
    curve = model(slope_pct_per_l=1.0)
    moved, volume = curve + level, VOLUME + start_l
    assert_allclose(
        fowler_dead_space_l(volume, moved, inspired_pct=level, **WINDOW),
        fowler_dead_space_l(VOLUME, curve, inspired_pct=0.0, **WINDOW),
        atol=1e-9,
    )
    assert_allclose(
        phase_iii_slope_pct_per_l(volume, moved, **WINDOW),
        phase_iii_slope_pct_per_l(VOLUME, curve, **WINDOW),
        atol=1e-9,
    )
    assert_allclose(mixed_expired_pct(volume, moved), mixed_expired_pct(VOLUME, curve) + level)
    assert_allclose(
        end_tidal(volume, moved, from_share=0.95, to_share=0.98),
        end_tidal(VOLUME, curve, from_share=0.95, to_share=0.98) + level,
    )
    assert_allclose(
        bohr_fraction(volume, moved, alveolar_pct=5.0 + level, inspired_pct=level),
        bohr_fraction(VOLUME, curve, alveolar_pct=5.0, inspired_pct=0.0),
        atol=1e-9,
    )


def test_o2_gives_the_dead_space_of_co2() -> None:
    """A gas that falls below what is inspired has the same areas upside down."""
    co2 = model(slope_pct_per_l=1.0)
    assert_allclose(
        fowler_dead_space_l(VOLUME, 20.9 - 1.2 * co2, inspired_pct=20.9, **WINDOW),
        fowler_dead_space_l(VOLUME, co2, inspired_pct=0.0, **WINDOW),
    )


def test_a_flat_plateau_gives_the_middle_of_phase_ii() -> None:
    """Areas on both sides of a symmetric transition are equal."""
    found = fowler_dead_space_l(VOLUME, model(), inspired_pct=0.0, **WINDOW)
    assert_allclose(found, 0.15, atol=1e-6)


@pytest.mark.parametrize("slope", [1.0, 3.0])
def test_a_sloping_plateau_moves_fowlers_dead_space_off_the_middle(slope: float) -> None:
    """By pi²/6 S w²/FA to first order, from the integral of the model."""
    curve = model(slope_pct_per_l=slope, width_l=0.015)
    found = fowler(VOLUME, curve, plateau_from=0.8, plateau_to=0.95)
    assert_allclose(found - 0.15, math.pi**2 / 6.0 * slope * 0.015**2 / 5.0, rtol=0.05)


def test_one_bad_sample_does_not_turn_the_plateau() -> None:
    """The line is Theil and Sen's; least squares would be turned by 0.7 % a litre."""
    curve = model(slope_pct_per_l=1.0, width_l=0.001)
    curve[430:436] = 9.0
    assert_allclose(phase_iii_slope_pct_per_l(VOLUME, curve, **WINDOW), 1.0, atol=0.05)


def test_the_end_tidal_value_is_the_mean_between_two_volumes() -> None:
    """On a straight line it is the middle, even where no sample falls on the ends."""
    volume = np.array([0.0, 0.3, 0.37, 1.0])
    assert_allclose(end_tidal(volume, 2.0 * volume, from_share=0.95, to_share=0.98), 1.93)


def test_the_model_never_overflows() -> None:
    """Far before the transition it is 0, far after it the plateau."""
    far = sigmoid_expirogram_pct(
        np.array([-1e3, 1e3]),
        alveolar_pct=5.0,
        slope_pct_per_l=0.0,
        dead_space_l=0.15,
        width_l=1e-6,
    )
    assert_allclose(far, [0.0, 5.0])
    with pytest.raises(InputError) as caught:
        model(width_l=0.0)
    assert str(caught.value) == (
        "expirogram: the width cannot be used; allowed: above 0 L; came: 0 L"
    )


def fowler(volume: Float, curve: Float, **changes: float) -> float:
    """Return Fowler's dead space with the usual arguments of these tests."""
    return fowler_dead_space_l(volume, curve, **({"inspired_pct": 0.0, **WINDOW} | changes))


GAP = np.where(np.arange(501) == 7, np.nan, VOLUME)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: expired_volume_l(VOLUME, GAP),
            (
                "expired volume: time_s or flow_l_per_s has gaps; allowed: none; came: 1, "
                "the first "
                "at sample 7"
            ),
        ),
        (
            lambda: mixed_expired_pct(VOLUME, VOLUME[1:]),
            (
                "mixed expired gas: the arrays do not fit; allowed: volume_l and the gas of one "
                "length, two or more; came: shapes (501,) and (500,)"
            ),
        ),
        (
            lambda: mixed_expired_pct(VOLUME, GAP),
            (
                "mixed expired gas: volume_l or the gas has gaps; allowed: none; came: 1, "
                "the first "
                "at sample 7"
            ),
        ),
        (
            lambda: fowler(VOLUME[::-1], model()),
            (
                "dead space: expired volume falls at sample 1; allowed: breathing out only; "
                "came: -0.001 L"
            ),
        ),
        (
            lambda: fowler(0.0 * VOLUME, model()),
            "dead space: nothing was breathed out; allowed: above 0 L; came: 0 L",
        ),
        (
            lambda: phase_iii_slope_pct_per_l(VOLUME, VOLUME, plateau_from=0.7, plateau_to=0.3),
            (
                "phase III: the window cannot be used; allowed: rising shares of 0 to 1; "
                "came: 0.7 to 0.3"
            ),
        ),
        (
            lambda: fowler(VOLUME[:3], VOLUME[:3], plateau_from=0.4, plateau_to=0.6),
            (
                "dead space: the plateau window is too short; allowed: two or more samples at "
                "different volumes; came: 1 sample(s)"
            ),
        ),
        (
            lambda: fowler(VOLUME, 0.0 * VOLUME),
            (
                "dead space: no volume makes the areas equal; allowed: a gas that leaves "
                "its inspired "
                "0 % and reaches a plateau; came: a mean of 0 % and a plateau of 0 %"
            ),
        ),
        (
            lambda: fowler(VOLUME, 5.0 - 5.0 * VOLUME, inspired_pct=3.0),
            (
                "dead space: no volume makes the areas equal; allowed: a gas that leaves "
                "its inspired "
                "3 % and reaches a plateau; came: a mean of 3.87 % and a plateau of 2.75 %"
            ),
        ),
        (
            lambda: bohr_fraction(VOLUME, VOLUME, alveolar_pct=0.04, inspired_pct=0.04),
            (
                "Bohr dead space: the alveolar fraction cannot be used; allowed: other than the "
                "inspired 0.04 %; came: 0.04 %"
            ),
        ),
    ],
)
def test_what_has_no_area_is_refused(call: Any, text: str) -> None:
    """The message says what was wrong, what was allowed and what came."""
    with pytest.raises(InputError) as caught:
        call()
    assert str(caught.value) == text
