from dataclasses import fields

import pytest

from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.errors import SettingError
from tests.core.breath.givens import SETTINGS, settings_of

FROM_ZERO = ("warm_up_s", "wash_s", "trim_s", "slope_fraction_per_s")
SHARES = ("onset_share", "turn_share", "largest_drift", "least_share", "u_fraction")
NAMES = tuple(row.name for row in fields(ReductionSettings))


@pytest.mark.parametrize("name", NAMES)
def test_each_setting_has_a_least_value(name: str) -> None:
    """Four may be 0, all others must be above it; what is not a number is refused too."""
    allowed = "0 or more" if name in FROM_ZERO else "above 0"
    for value in (-1.0, float("nan"), float("inf"), *([] if name in FROM_ZERO else [0.0])):
        with pytest.raises(SettingError) as caught:
            settings_of(**{name: value})
        assert str(caught.value) == (
            f"reduction setting {name} cannot be used; allowed: {allowed}; came: {value:g}"
        )


@pytest.mark.parametrize("name", FROM_ZERO)
def test_what_may_be_left_out_may_be_zero(name: str) -> None:
    """No warm-up, no wash, no trim, a flat plateau."""
    assert getattr(settings_of(**{name: 0.0}), name) == 0.0


@pytest.mark.parametrize("name", SHARES)
def test_a_share_is_below_one(name: str) -> None:
    """Nothing could meet the whole."""
    with pytest.raises(SettingError) as caught:
        settings_of(**{name: 1.0})
    assert str(caught.value) == (
        f"reduction setting {name} cannot be used; allowed: below 1; came: 1"
    )


@pytest.mark.parametrize(
    ("low", "high"),
    [("zero_shortest_s", "zero_window_s"), ("plateau_shortest_s", "plateau_longest_s")],
)
def test_the_least_is_not_above_the_most(low: str, high: str) -> None:
    """As long as the most may be asked for; longer could never come."""
    most = getattr(SETTINGS, high)
    assert getattr(settings_of(**{low: most}), low) == most
    with pytest.raises(SettingError) as caught:
        settings_of(**{low: most + 1.0})
    assert str(caught.value) == (
        f"reduction setting {low} cannot be used; allowed: at most {high} {most:g}; "
        f"came: {most + 1.0:g}"
    )


def test_a_line_needs_three_values() -> None:
    """Two are always on a line."""
    with pytest.raises(SettingError) as caught:
        settings_of(fewest=2)
    assert str(caught.value) == (
        "reduction setting fewest cannot be used; allowed: 3 or more; came: 2"
    )
