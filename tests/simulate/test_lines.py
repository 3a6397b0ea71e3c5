import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ebbline.core.errors import SettingError
from ebbline.simulate.lines import Sampling, draw_lines


@settings(deadline=None, max_examples=60)
@given(rate=st.floats(1.0, 100.0), share=st.floats(0.0, 0.49), seed=st.integers(0, 1000))
def test_lines_come_in_order_and_within_the_trace(rate: float, share: float, seed: int) -> None:
    """Each at most the jitter away from when it is due."""
    lines = draw_lines(np.random.default_rng(seed), Sampling(rate, share / rate, 0.0), 30.0)
    assert np.all(np.diff(lines.time_s) > 0.0)
    assert np.all((lines.time_s > 0.0) & (lines.time_s < 30.0))
    due = (np.arange(len(lines.time_s)) + 0.5) / rate
    assert np.all(np.abs(lines.time_s - due) <= share / rate + 1e-9)
    assert len(lines.time_s) == math.floor(30.0 * rate)


@pytest.mark.parametrize(
    ("rate_hz", "jitter_s", "dropped_share"),
    [(0.0, 0.0, 0.0), (10.0, 0.05, 0.0), (10.0, -0.01, 0.0), (10.0, 0.0, 1.1)],
)
def test_lines_that_could_overtake_each_other_are_refused(
    rate_hz: float, jitter_s: float, dropped_share: float
) -> None:
    """So are no lines at all, and a share that is none."""
    with pytest.raises(SettingError) as caught:
        Sampling(rate_hz, jitter_s, dropped_share)
    assert str(caught.value) == (
        "virtual sampling cannot be used; allowed: a rate above 0, jitter from 0 to below half the "
        f"interval, a share from 0 to 1; came: {rate_hz:g} Hz, {jitter_s:g} s, {dropped_share:g}"
    )
