import math
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from ebbline.core.breath.dilution import (
    Marker,
    alveolar_fraction,
    normalise,
    scale,
    u_normalised,
)
from ebbline.core.errors import SettingError
from tests.helpers import CO2, O2

GOOD: dict[str, Any] = {
    "gas": "o2",
    "ambient_pct": 20.9,
    "u_ambient_pct": 0.05,
    "alveolar_pct": 13.9,
    "u_alveolar_pct": 0.5,
    "u_sample_pct": 0.2,
    "correlation": 0.0,
}


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (
            {"alveolar_pct": 20.9},
            "alveolar O2 reference cannot be used; allowed: below the ambient 20.9 %; came: 20.9 %",
        ),
        (
            {"alveolar_pct": math.nan},
            "alveolar O2 reference cannot be used; allowed: below the ambient 20.9 %; came: nan %",
        ),
        (
            {"gas": "co2", "ambient_pct": 0.04, "alveolar_pct": 0.03},
            (
                "alveolar CO2 reference cannot be used; allowed: above the ambient 0.04 %; "
                "came: 0.03 %"
            ),
        ),
        (
            {"u_ambient_pct": -0.1},
            "O2 u_ambient_pct cannot be used; allowed: 0 or more; came: -0.1",
        ),
        (
            {"u_alveolar_pct": math.nan},
            "O2 u_alveolar_pct cannot be used; allowed: 0 or more; came: nan",
        ),
        ({"u_sample_pct": -1.0}, "O2 u_sample_pct cannot be used; allowed: 0 or more; came: -1"),
        ({"correlation": 1.5}, "O2 correlation cannot be used; allowed: -1 to 1; came: 1.5"),
        ({"correlation": -1.1}, "O2 correlation cannot be used; allowed: -1 to 1; came: -1.1"),
    ],
)
def test_references_that_cannot_be_computed_with_are_refused(
    change: dict[str, Any], text: str
) -> None:
    """The message names gas and value, what is allowed and what came."""
    with pytest.raises(SettingError) as caught:
        Marker(**{**GOOD, **change})
    assert str(caught.value) == text


def test_the_fraction_is_0_in_room_air_and_1_in_alveolar_gas() -> None:
    """The same algebra serves a gas that falls and a gas that rises."""
    assert_allclose(alveolar_fraction([20.9, 17.4, 13.9, 12.5], O2), [0.0, 0.5, 1.0, 1.2])
    assert_allclose(alveolar_fraction([0.04, 2.52, 5.0], CO2), [0.0, 0.5, 1.0])


def test_samples_of_any_shape_keep_their_shape() -> None:
    """Scaling is elementwise; a missing marker stays missing."""
    found = scale(np.array([[16.0, np.nan], [21.0, 13.9]]), O2)
    assert_allclose(found.factor, [[10 / 7, np.nan], [np.nan, 1.0]])
    assert_allclose(found.fraction, [[0.7, np.nan], [-0.1 / 7.0, 1.0]], atol=1e-12)
    assert_array_equal(np.isnan(found.u_independent), [[False, True], [True, False]])
    assert_array_equal(np.isnan(found.span_in_u), [[False, True], [True, False]])


def test_one_sensor_for_room_and_sample_leaves_less_uncertainty_than_two() -> None:
    """An offset that is in both readings cancels in their difference."""
    apart = Marker("o2", 20.9, 0.2, 13.9, 0.0, 0.2, 0.0)
    together = Marker("o2", 20.9, 0.2, 13.9, 0.0, 0.2, 0.9)
    assert float(scale(16.0, together).u_independent) < float(scale(16.0, apart).u_independent)
    assert float(scale(16.0, together).span_in_u) > float(scale(16.0, apart).span_in_u)


def test_a_marker_without_any_uncertainty_is_infinitely_far_from_the_room() -> None:
    """Nothing divides by zero, and nothing is refused for it."""
    exact = Marker("co2", 0.04, 0.0, 5.0, 0.0, 0.0, 0.0)
    found = scale(3.0, exact)
    assert math.isinf(found.span_in_u)
    assert found.u_independent == 0.0


def test_a_value_scaled_by_1_is_the_value() -> None:
    """Full alveolar fraction changes nothing, whatever is in the room."""
    assert_allclose(normalise([0.0, 7.0], 0.5, 1.0), [0.0, 7.0])
    assert_allclose(u_normalised([7.0], [1.6], 0.5, 0.3, 1.0, 0.0), [1.6])


def test_the_uncertainty_of_the_room_counts_with_what_is_added_back() -> None:
    """With k = 3 an error of the room enters 1 - k = -2 times."""
    assert_allclose(u_normalised(5.0, 0.0, 2.0, 0.3, 3.0, 0.0), 0.6)
