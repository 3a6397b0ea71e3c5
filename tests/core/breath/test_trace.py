from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from ebbline.core.breath.trace import Trace
from ebbline.core.errors import InputError


def a_trace(**changes: Any) -> Trace:
    """Return four samples at 10 Hz with hydrogen and O2."""
    given: dict[str, Any] = {
        "time_s": np.array([0.0, 0.1, 0.2, 0.3]),
        "h2_ppm": np.array([1.0, np.nan, 3.0, 4.0]),
        "ch4_ppm": None,
        "o2_pct": np.array([20.9, 18.0, 15.0, 14.0]),
        "co2_pct": None,
        "flow_l_per_s": None,
    }
    return Trace(**(given | changes))


def test_a_trace_names_its_channels() -> None:
    """A channel that is not there is not named."""
    trace = a_trace()
    assert trace.channels == ("h2_ppm", "o2_pct")
    assert_array_equal(trace.channel("h2_ppm"), [1.0, np.nan, 3.0, 4.0])


def test_a_channel_that_is_not_there_cannot_be_had() -> None:
    """The message lists those that are."""
    with pytest.raises(InputError) as caught:
        a_trace().channel("co2_pct")
    assert str(caught.value) == (
        "the trace has no such channel; allowed: h2_ppm or o2_pct; came: co2_pct"
    )
    with pytest.raises(InputError, match="allowed: none; came: h2_ppm"):
        a_trace(h2_ppm=None, o2_pct=None).channel("h2_ppm")


def test_a_trace_keeps_its_own_values() -> None:
    """Neither the giver's array nor a receiver can change them."""
    mine = np.array([1.0, 2.0, 3.0, 4.0])
    trace = a_trace(h2_ppm=mine)
    mine[0] = 99.0
    assert_array_equal(trace.channel("h2_ppm"), [1.0, 2.0, 3.0, 4.0])
    with pytest.raises(ValueError, match="read-only"):
        trace.channel("h2_ppm")[0] = 0.0


def test_a_part_keeps_its_times_and_both_ends() -> None:
    """Channels are cut together; absent ones stay absent."""
    part = a_trace().between(0.1, 0.2)
    assert_array_equal(part.time_s, [0.1, 0.2])
    assert_array_equal(part.channel("h2_ppm"), [np.nan, 3.0])
    assert part.channels == ("h2_ppm", "o2_pct")


def test_a_part_of_one_sample_is_not_a_trace() -> None:
    """There would be no interval."""
    with pytest.raises(InputError) as caught:
        a_trace().between(0.05, 0.15)
    assert str(caught.value) == (
        "the trace's times cannot be used; allowed: one row of two or more; came: shape (1,)"
    )


def test_values_at_the_limits_are_kept() -> None:
    """The limits themselves are allowed; so are 1 and 100 Hz, and uneven times."""
    low = np.array([-20.0, 2000.0])
    Trace(np.array([0.0, 1.0]), low, low, np.array([5.0, 25.0]), np.array([-1.0, 15.0]), None)
    a_trace(time_s=np.arange(4) * 0.01, flow_l_per_s=np.array([-15.0, 15.0, np.nan, 0.0]))
    a_trace(time_s=np.array([0.0, 0.1, 0.15, 7.0]))


def test_a_rate_may_be_a_little_off_where_samples_come_unevenly() -> None:
    """The median interval of 1 and of 100 Hz may be 5 % off, but not 6 %."""
    for interval_s, good in ((0.0096, True), (1.04, True), (0.0094, False), (1.06, False)):
        if good:
            assert a_trace(time_s=np.arange(4) * interval_s).time_s.size == 4
        else:
            with pytest.raises(InputError, match="the trace's sampling cannot be used"):
                a_trace(time_s=np.arange(4) * interval_s)


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        (
            {"time_s": np.zeros((2, 2))},
            "the trace's times cannot be used; allowed: one row of two or more; came: shape (2, 2)",
        ),
        (
            {"time_s": np.array([0.0, 0.1, np.nan, 0.3])},
            "the trace's time at sample 2 is not a number; allowed: finite seconds; came: nan",
        ),
        (
            {"time_s": np.array([0.0, 0.2, 0.2, 0.3])},
            "the trace's time does not rise at sample 2; allowed: over 0.2 s; came: 0.2 s",
        ),
        (
            {"time_s": np.arange(4) * 0.005},
            (
                "the trace's sampling cannot be used; allowed: 1 to 100 Hz by the median interval; "
                "came: 200 Hz"
            ),
        ),
        (
            {"time_s": np.arange(4) * 2.0},
            (
                "the trace's sampling cannot be used; allowed: 1 to 100 Hz by the median interval; "
                "came: 0.5 Hz"
            ),
        ),
        (
            {"co2_pct": np.zeros(3)},
            "the trace's co2_pct does not fit its times; allowed: shape (4,); came: shape (3,)",
        ),
        (
            {"h2_ppm": np.array([0.0, -20.1, 0.0, 0.0])},
            (
                "the trace's h2_ppm at 0.1 s is outside physical limits; allowed: -20 to 2000; "
                "came: -20.1"
            ),
        ),
        (
            {"ch4_ppm": np.array([0.0, 0.0, 2001.0, 0.0])},
            (
                "the trace's ch4_ppm at 0.2 s is outside physical limits; allowed: -20 to 2000; "
                "came: 2001"
            ),
        ),
        (
            {"o2_pct": np.array([20.9, 20.9, 20.9, np.inf])},
            "the trace's o2_pct at 0.3 s is outside physical limits; allowed: 5 to 25; came: inf",
        ),
        (
            {"co2_pct": np.array([-1.1, 0.0, 0.0, 0.0])},
            "the trace's co2_pct at 0 s is outside physical limits; allowed: -1 to 15; came: -1.1",
        ),
        (
            {"flow_l_per_s": np.array([0.0, 16.0, 0.0, 0.0])},
            (
                "the trace's flow_l_per_s at 0.1 s is outside physical limits; allowed: -15 to 15; "
                "came: 16"
            ),
        ),
    ],
)
def test_what_cannot_be_a_trace_is_refused(changes: dict[str, Any], text: str) -> None:
    """The message says what was wrong, what was allowed and what came."""
    with pytest.raises(InputError) as caught:
        a_trace(**changes)
    assert str(caught.value) == text
