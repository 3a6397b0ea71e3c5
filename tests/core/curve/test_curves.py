import numpy as np
import pytest
from numpy.testing import assert_array_equal

from ebbline.core.curve.curves import GASES, WEIGHTS, Curves
from ebbline.core.errors import InputError
from tests.helpers import one_curve

SHAPE = (2, 3)


@pytest.mark.parametrize("name", ["planned_minute", "h2_ppm", "ch4_ppm", "symptom_rise"])
def test_an_array_of_another_shape_is_refused(name: str) -> None:
    """The message names the array and both shapes."""
    arrays = {
        key: np.zeros(SHAPE)
        for key in ("minute", "planned_minute", "h2_ppm", "ch4_ppm", "symptom_rise")
    }
    arrays[name] = np.zeros((2, 4))
    with pytest.raises(InputError) as caught:
        Curves(**arrays)
    assert str(caught.value) == (
        f"{name} has the wrong shape; allowed: that of minute, (2, 3); came: (2, 4)"
    )


def test_tests_that_are_not_rows_are_refused() -> None:
    """One test is a batch of one, never a bare row."""
    row = np.zeros(3)
    with pytest.raises(InputError) as caught:
        Curves(row, row, row, row, None)
    assert str(caught.value) == (
        "minute has the wrong shape; allowed: (n_tests, n_samples); came: (3,)"
    )


@pytest.mark.parametrize(
    ("gas", "values"),
    [
        ("h2", [5.0, np.nan, 27.0]),
        ("ch4", [3.0, 6.0, np.nan]),
        ("h2_plus_ch4", [8.0, np.nan, np.nan]),
        ("h2_plus_2ch4", [11.0, np.nan, np.nan]),
        ("h2_plus_4ch4", [17.0, np.nan, np.nan]),
        ("symptoms", [np.nan, np.nan, np.nan]),
    ],
)
def test_a_sum_needs_both_gases_of_a_sample(gas: str, values: list[float]) -> None:
    """What was not measured is missing in the sum too, never zero."""
    curves = one_curve([0, 30, 60], [5, None, 27], [3, 6, None])
    assert_array_equal(curves.series(gas)[0], values)


def test_symptoms_are_a_series_where_they_were_asked() -> None:
    """Their rises are kept as they are."""
    zero = np.zeros((1, 2))
    curves = Curves(zero, zero, zero, zero, np.array([[0.0, 3.0]]))
    assert_array_equal(curves.series("symptoms"), [[0.0, 3.0]])
    assert curves.n_tests == 1


def test_every_series_but_symptoms_has_its_weights() -> None:
    """Source: factor 2 counts hydrogen atoms in methane, factor 4 the H2 that it took."""
    assert set(WEIGHTS) == set(GASES) - {"symptoms"}
    assert WEIGHTS["h2_plus_2ch4"] == (1.0, 2.0)
    assert WEIGHTS["h2_plus_4ch4"] == (1.0, 4.0)
