import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from ebbline.core.breath.samples import COLUMNS, Samples, column, rows_of
from tests.core.breath.givens import a_trace


def test_rows_hold_the_time_and_every_channel_in_a_fixed_order() -> None:
    """A channel that is not there is NaN."""
    trace = a_trace()
    rows = rows_of(trace)
    assert COLUMNS == ("h2_ppm", "ch4_ppm", "o2_pct", "co2_pct", "flow_l_per_s")
    assert rows.shape == (trace.time_s.size, 6)
    assert_array_equal(rows[:, 0], trace.time_s)
    for name in trace.channels:
        assert_array_equal(rows[:, column(name)], trace.channel(name))
    assert np.isnan(rows[:, column("flow_l_per_s")]).all()


@given(st.lists(st.tuples(st.integers(1, 700), st.integers(0, 900)), min_size=1, max_size=12))
def test_what_is_kept_is_what_was_appended_and_not_let_go(steps: list[tuple[int, int]]) -> None:
    """Blocks of any length, then rows before a time dropped, against plain arrays."""
    samples, plain = Samples(), np.empty((0, 6))
    next_row = 0
    for count, drop in steps:
        block = np.arange(next_row, next_row + count)[:, None] + np.arange(6) / 8.0
        next_row += count
        samples.append(block)
        plain = np.concatenate([plain, block])
        samples.drop_before(drop)
        plain = plain[plain[:, 0] >= drop]
        assert_array_equal(samples.rows, plain)


def test_a_row_at_the_time_is_kept() -> None:
    """Only what is before it goes."""
    samples = Samples()
    samples.append(np.arange(4.0)[:, None] * np.ones(6))
    samples.drop_before(2.0)
    assert_array_equal(samples.rows[:, 0], [2.0, 3.0])


def test_room_for_rows_stays_as_large_as_what_is_kept_needs() -> None:
    """A day of rows passes through; the array behind them does not grow."""
    samples, largest = Samples(), 0
    for start in range(0, 200_000, 500):
        samples.append(np.arange(start, start + 500)[:, None] * np.ones(6))
        samples.drop_before(start - 300.0)
        whole = samples.rows.base
        assert whole is not None
        largest = max(largest, len(whole))
    assert len(samples.rows) == 800
    assert largest <= 2 * (800 + 500)
