import math

import pytest

from ebbline.core.curve.transit import TransitDefinition, transit_interval
from tests.helpers import Numbers, array, library

MINUTES = [0, 20, 40, 60, 80, 100]


def interval(
    values: Numbers, *, minutes: Numbers | None = None, samples: int = 2, base: float = 5.0
) -> tuple[float, float | None] | None:
    """Return the transit of one curve by a rise of 10 ppm."""
    definition = TransitDefinition("own", "own", 10.0, samples, "invented", "read")
    return transit_interval(array(minutes or MINUTES), array(values), base, definition)


def test_transit_lies_after_the_previous_sample_and_by_the_first_risen_one() -> None:
    """Never finer than the sampling."""
    assert interval([5, 5, 6, 15, 30, 40]) == (40.0, 60.0)


def test_a_rise_of_exactly_the_threshold_counts() -> None:
    """10 of 10 ppm is a rise, also where binary fractions fall short of it."""
    assert interval([5, 5, 5, 15, 15, 15]) == (40.0, 60.0)
    assert interval([5, 5, 5, 15.3, 15.3, 5], base=5.3) == (40.0, 60.0)


def test_a_single_risen_sample_is_not_yet_a_rise() -> None:
    """The definition asks for two in a row."""
    assert interval([5, 5, 15, 6, 15, 16]) == (60.0, 80.0)
    assert interval([5, 5, 15, 6, 15, 16], samples=1) == (20.0, 40.0)


def test_a_first_sample_that_has_risen_puts_transit_after_minute_0() -> None:
    """Nothing was sampled between the drink and it."""
    assert interval([5, 20, 30, 40, 40, 40]) == (0.0, 20.0)


def test_a_missed_sample_widens_the_interval() -> None:
    """The previous sample that counts is the one before."""
    assert interval([5, 5, None, 20, 30, 40]) == (20.0, 60.0)


def test_without_a_rise_the_interval_is_open_after_the_last_sample() -> None:
    """It was not reached by then."""
    assert interval([5, 5, 6, 7, 8, 9]) == (100.0, None)


def test_a_last_sample_that_has_risen_alone_does_not_put_transit_after_itself() -> None:
    """One more would have made it (80, 100]: nothing later than 80 is known."""
    assert interval([5, 5, 6, 7, 8, 20]) == (80.0, None)


@pytest.mark.parametrize(
    ("values", "base"),
    [([5, None, None, None, None, None], 5.0), ([5, 5, 6, 15, 30, 40], math.nan)],
)
def test_without_a_baseline_or_a_reading_after_the_drink_nothing_is_said(
    values: Numbers, base: float
) -> None:
    """None is not the same as an open interval."""
    assert interval(values, base=base) is None


def test_the_bundled_definition_says_where_it_comes_from() -> None:
    """Source: Rome consensus 2009, transit chapter, from memory: 10 ppm in two samples."""
    definition = library().transit
    assert (definition.rise_ppm, definition.samples) == (10, 2)
    assert definition.provenance == "memory"
    assert "Basilisco" in definition.source
