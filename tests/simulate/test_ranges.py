import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.core.errors import SettingError
from ebbline.simulate.ranges import Span


def test_a_range_is_drawn_from_evenly_or_in_its_logarithm() -> None:
    """The middle of 1 to 100 is 50.5 or 10."""
    rng = np.random.default_rng(5)
    span = Span(1.0, 100.0)
    even = [span.draw(rng) for _ in range(4000)]
    logs = [span.draw_log(rng) for _ in range(4000)]
    assert_allclose(np.median(even), 50.5, rtol=0.04)
    assert_allclose(np.median(logs), 10.0, rtol=0.08)
    assert min(even + logs) >= 1.0
    assert max(even + logs) <= 100.0 + 1e-9


def test_a_range_that_ends_before_it_begins_is_refused() -> None:
    """Equal ends are a fixed value."""
    assert Span(2.0, 2.0).at(0.7) == 2.0
    with pytest.raises(SettingError) as caught:
        Span(2.0, 1.0)
    assert str(caught.value) == (
        "virtual range cannot be used; allowed: low at or below high; came: 2 to 1"
    )


def test_the_root_mean_square_of_a_range_is_that_of_what_is_drawn_from_it() -> None:
    """Of one about 0 it is half the width over the root of 3."""
    assert_allclose(Span(-2.0, 2.0).root_mean_square(), 2.0 / math.sqrt(3.0), rtol=1e-12)
    assert_allclose(Span(3.0, 3.0).root_mean_square(), 3.0, rtol=1e-12)
    rng = np.random.default_rng(8)
    span = Span(-1.0, 4.0)
    drawn = np.array([span.draw(rng) for _ in range(20_000)])
    assert_allclose(math.sqrt(float(np.mean(drawn**2))), span.root_mean_square(), rtol=0.02)
