import numpy as np
import pytest

from ebbline.core.errors import InputError
from ebbline.services.keep_trace import row_of, trace_of


def test_a_sample_becomes_a_row_with_gaps() -> None:
    """Missing values, and numbers that no gas can have."""
    row = row_of(2.5, {"h2_ppm": 30.0, "o2_pct": float("nan"), "co2_pct": 40.0})
    np.testing.assert_array_equal(row, [[2.5, 30.0, np.nan, np.nan, np.nan, np.nan]])


def test_rows_become_a_trace_of_the_channels_that_had_any_value() -> None:
    """A channel that never came is not there."""
    rows = np.vstack(
        [row_of(0.0, {"h2_ppm": 1.0}), row_of(0.5, {"h2_ppm": 2.0, "flow_l_per_s": 0.3})]
    )
    trace = trace_of(rows)
    assert trace.channels == ("h2_ppm", "flow_l_per_s")
    np.testing.assert_array_equal(trace.channel("h2_ppm"), [1.0, 2.0])
    np.testing.assert_array_equal(trace.channel("flow_l_per_s"), [np.nan, 0.3])


def test_one_row_is_no_trace() -> None:
    """There is no rate."""
    with pytest.raises(InputError, match="allowed: one row of two or more"):
        trace_of(row_of(0.0, {"h2_ppm": 1.0}))
