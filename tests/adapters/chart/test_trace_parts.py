from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.adapters.chart.trace_parts import TraceParts, parts_of
from ebbline.core.errors import InputError
from tests.adapters.traced import Traced, reduced, traced


def parts(one: Traced) -> TraceParts:
    """Return what is drawn of a trace."""
    return parts_of(one.trace, one.reduction, sensors=one.sensors, dilution=one.dilution)


def test_samples_stand_where_their_gas_was_with_the_zero_taken_off() -> None:
    """Time goes back by the delay, and room air lies about 0."""
    one = traced("stream", 1)
    h2 = parts(one).gases[0].samples
    delay_s = one.sensors["h2_ppm"].response.delay_s
    shown = np.isin(np.round(one.trace.time_s - delay_s, 9), np.round(h2.time_s, 9))
    assert shown.sum() == h2.time_s.size
    zero = one.reduction.zeros["h2_ppm"].zero
    assert zero is not None
    raw = one.trace.channel("h2_ppm")[shown]
    assert_allclose(h2.value, raw - zero.error(one.trace.time_s[shown]))
    onset_s = one.reduction.times.onset_s
    assert onset_s is not None
    assert abs(float(np.mean(h2.value[h2.time_s < onset_s - 1.0]))) < 0.3


def test_the_breath_and_a_little_around_it_is_shown_and_not_all_of_the_room_air() -> None:
    """A minute of room air would leave no room for a blow of seconds."""
    one = traced("stream", 1)
    drawn = parts(one)
    onset_s, done_s = one.reduction.times.onset_s, one.reduction.times.done_s
    assert onset_s is not None
    assert done_s is not None
    assert_allclose(drawn.start_s, onset_s - 0.35 * (done_s - onset_s))
    assert done_s <= drawn.end_s <= one.trace.time_s[-1]
    assert drawn.room_s is not None
    assert drawn.room_s[0] < drawn.start_s < drawn.room_s[1]


def test_the_line_of_a_blow_ends_in_the_end_tidal_value() -> None:
    """It begins where the plateau does, and rises with its slope."""
    one = traced("stream", 1)
    drawn, times = parts(one), one.reduction.times
    for gas in drawn.gases:
        value, fitted = gas.value, gas.fitted
        assert value is not None
        assert fitted is not None
        assert value.slope_per_s is not None
        assert times.end_s is not None
        assert not fitted.settles
        assert_allclose((fitted.to_s, fitted.to_ppm), (times.end_s, value.raw))
        rise = value.slope_per_s * (fitted.to_s - fitted.from_s)
        assert_allclose(fitted.to_ppm - fitted.from_ppm, rise)
        assert_allclose(fitted.half_ppm, 1.96 * value.u)


def test_the_plateau_window_is_the_one_that_was_used() -> None:
    """It begins after the wash and ends before the end."""
    one = traced("stream", 1)
    times, settings = one.reduction.times, one.reduction.settings
    window_s = parts(one).plateau_s
    assert window_s == times.plateau_s
    assert window_s is not None
    assert times.onset_s is not None
    assert times.end_s is not None
    assert window_s[0] >= times.onset_s + settings.wash_s
    assert window_s[1] <= times.end_s - settings.trim_s


def test_held_gas_has_a_level_from_when_it_was_held_until_it_was_known() -> None:
    """A bag has no plateau, and its level is flat."""
    one = traced("bag", 2)
    drawn, times = parts(one), one.reduction.times
    assert drawn.plateau_s is None
    for gas in drawn.gases:
        value, fitted = gas.value, gas.fitted
        assert value is not None
        assert fitted is not None
        assert fitted.settles
        assert_allclose((fitted.from_ppm, fitted.to_ppm), (value.raw, value.raw))
        assert fitted.from_s == times.held_s
        delay_s = one.sensors["h2_ppm" if gas.gas == "h2" else "ch4_ppm"].response.delay_s
        assert times.done_s is not None
        assert_allclose(fitted.to_s, times.done_s - delay_s)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("stream", ["breath begins", "blow ends", "done"]),
        ("chamber", ["breath begins", "blow ends, gas held", "done"]),
        ("bag", ["bag opened, gas held", "done"]),
    ],
)
def test_moments_are_named_in_the_order_of_time(kind: str, words: list[str]) -> None:
    """What happens at once has one line."""
    one = {
        "stream": traced("stream", 1),
        "chamber": traced("chamber", 3),
        "bag": traced("bag", 2),
    }[kind]
    moments = parts(one).moments
    assert [moment.words for moment in moments] == words
    assert all(early.at_s < late.at_s for early, late in pairwise(moments))


def test_the_marker_runs_from_room_air_to_alveolar_gas() -> None:
    """0 in the room, about 1 on the plateau."""
    one = traced("stream", 1)
    drawn = parts(one)
    assert drawn.marker == "O2"
    assert drawn.share is not None
    assert drawn.plateau_s is not None
    at_s, share = drawn.share.time_s, drawn.share.value
    middle = (at_s > drawn.plateau_s[0] + 1.0) & (at_s < drawn.plateau_s[1])
    assert_allclose(share[middle], 1.0, atol=0.08)
    assert_allclose(share[at_s < drawn.start_s + 1.0], 0.0, atol=0.02)


def test_without_a_marker_there_is_none_to_draw() -> None:
    """A person said when the bag was opened."""
    with_all = traced("bag", 2)
    trace = replace(with_all.trace, o2_pct=None, co2_pct=None)
    sensors = {name: one for name, one in with_all.sensors.items() if name.endswith("_ppm")}
    drawn = parts(reduced(trace, sensors, bag=True))
    assert (drawn.marker, drawn.share) == ("", None)
    assert [gas.gas for gas in drawn.gases] == ["h2", "ch4"]


def test_a_gap_opens_the_line_and_a_single_missing_value_does_not() -> None:
    """Nothing is drawn where nothing was measured for a while."""
    one = traced("stream", 1)
    onset_s = one.reduction.times.onset_s
    assert onset_s is not None
    h2 = one.trace.channel("h2_ppm").copy()
    first = int(np.searchsorted(one.trace.time_s, onset_s + 2.0))
    h2[first] = np.nan
    holed = parts(replace_h2(one, h2)).gases[0].samples
    assert set(holed.piece.tolist()) == {0}
    h2[first : first + 10] = np.nan
    open_line = parts(replace_h2(one, h2)).gases[0].samples
    assert set(open_line.piece.tolist()) == {0, 1}
    change = int(np.argmax(open_line.piece))
    delay_s = one.sensors["h2_ppm"].response.delay_s
    assert_allclose(open_line.time_s[change], one.trace.time_s[first + 10] - delay_s)


def replace_h2(one: Traced, h2: np.ndarray) -> Traced:
    """Return a trace with another H2 channel, and the reduction that it had."""
    return replace(one, trace=replace(one.trace, h2_ppm=h2))


def test_a_trace_without_a_breath_is_shown_whole() -> None:
    """There is no moment to show it around, and no line."""
    one = traced("stream", 4, ("stopped_in_dead_space",))
    drawn = parts(one)
    assert one.reduction.times.onset_s is None
    assert (drawn.start_s, drawn.end_s) == (one.trace.time_s[0], one.trace.time_s[-1])
    assert (drawn.room_s, drawn.plateau_s, drawn.moments) == (None, None, ())
    assert [(gas.value, gas.fitted) for gas in drawn.gases] == [(None, None)] * 2


def test_sensors_without_hydrogen_are_refused_in_words() -> None:
    """The same words as at reduction."""
    one = traced("stream", 1)
    with pytest.raises(InputError) as caught:
        parts_of(
            one.trace,
            one.reduction,
            sensors={"o2_pct": one.sensors["o2_pct"]},
            dilution=one.dilution,
        )
    assert str(caught.value) == (
        "reduction: channels cannot be used; allowed: h2_ppm among them; came: o2_pct"
    )
