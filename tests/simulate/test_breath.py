import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy.integrate import cumulative_trapezoid

from ebbline.core.breath.dilution import Marker, alveolar_fraction
from ebbline.simulate.breath import Expirogram, Float, expirogram
from ebbline.simulate.exhalation import (
    Event,
    Exhalation,
    Flow,
    Hold,
    Hyperventilation,
    Inhalation,
    Person,
)
from ebbline.simulate.gas import GASES, Gases
from tests.simulate.givens import BLOW, BREATH, COUGH, PERSON

TIME = np.arange(0.0, 16.0, 0.001)


def array_of(found: Expirogram) -> Float:
    """Return the four gases as rows."""
    return np.array([getattr(found, gas) for gas in GASES])


def sloping(share_per_l: float) -> Person:
    """Return the person with a plateau that slopes by a share of the step."""
    step = PERSON.alveolar.values() - PERSON.room.values()
    h2, ch4, o2, co2 = (float(value) for value in share_per_l * step)
    return replace(PERSON, slope_per_l=Gases(h2, ch4, o2, co2))


@pytest.mark.parametrize(
    "blow",
    [
        BLOW,
        replace(BLOW, flush_s=0.7),
        replace(BLOW, cough=COUGH, inhalation=BREATH),
        replace(BLOW, stop_l=0.18),
        replace(BLOW, flow=Flow("ramp", 0.1, 0.5)),
    ],
)
def test_one_share_of_alveolar_gas_makes_all_gases_at_every_moment(blow: Exhalation) -> None:
    """Gas = room + a (alveolar - room), with the same a for all, where the plateau is level."""
    found = expirogram(blow, TIME)
    room, alveolar = PERSON.room.values()[:, None], PERSON.alveolar.values()[:, None]
    assert_allclose(array_of(found), room + found.fraction * (alveolar - room), rtol=1e-12)
    assert found.fraction.min() == 0.0
    assert found.fraction.max() <= 1.0
    marker = Marker("o2", 20.9, 0.05, 13.9, 0.5, 0.2, 0.0)
    assert_allclose(alveolar_fraction(found.o2_pct, marker), found.fraction, atol=1e-12)


@pytest.mark.parametrize("dead_space_l", [0.1, 0.15, 0.22])
@pytest.mark.parametrize(
    "flow", [Flow("constant", 0.3, 0.3), Flow("decaying", 0.4, 0.2), Flow("ramp", 0.15, 0.4)]
)
def test_equal_areas_on_the_traces_give_the_dead_space(dead_space_l: float, flow: Flow) -> None:
    """Fowler: what is missing under the plateau's line is V_D times the line, a level one here."""
    person = replace(PERSON, dead_space_l=dead_space_l, transition_l=0.06)
    found = expirogram(replace(BLOW, person=person, flow=flow), TIME)
    volume = cumulative_trapezoid(found.flow_l_per_s, TIME, initial=0)
    inside = (found.flow_l_per_s > 0.0) & (volume <= 1.5)
    missing = np.trapezoid(5.6 - found.co2_pct[inside], volume[inside])
    assert_allclose(missing / (5.6 - 0.04), dead_space_l + 0.03, atol=5e-4)


def test_equal_areas_find_the_dead_space_below_a_sloping_plateau() -> None:
    """The line fitted over the middle of the plateau meets the trace's area at V_D."""
    found = expirogram(replace(BLOW, person=sloping(0.1)), TIME)
    volume = cumulative_trapezoid(found.flow_l_per_s, TIME, initial=0)
    inside = found.flow_l_per_s > 0.0
    middle = inside & (volume > 0.8) & (volume < 1.8)
    line = np.polynomial.Polynomial.fit(volume[middle], found.co2_pct[middle] - 0.04, 1)
    area = np.trapezoid(found.co2_pct[inside] - 0.04, volume[inside])
    left = np.linspace(0.0, 0.5, 5001)
    covered = line.integ()(volume[inside][-1]) - line.integ()(left)
    fowler = left[np.argmin(np.abs(covered - area))]
    assert_allclose(fowler, 0.18, atol=0.001)


def test_a_plateau_slopes_about_its_value_at_the_planned_end() -> None:
    """10 % of the step per litre, read between 1 and 2 L."""
    found = expirogram(replace(BLOW, person=sloping(0.1)), np.array([3.0 + 4.0, 3.0 + 8.0]))
    assert_allclose(found.h2_ppm, [42.0 - 4.15, 42.0], rtol=1e-9)
    assert_allclose(found.o2_pct, [13.9 + 0.7, 13.9], rtol=1e-9)
    assert_allclose(found.truth.alveolar.values(), PERSON.alveolar.values())


def test_the_marks_stand_where_5_and_95_percent_of_the_step_have_come() -> None:
    """And where the blow begins and ends."""
    found = expirogram(BLOW, TIME)
    marks = found.truth.marks
    assert (marks.onset_s, marks.end_s) == (3.0, 11.0)
    at = expirogram(BLOW, np.array([marks.transition_s, marks.plateau_s]))
    assert_allclose(at.fraction, [0.05, 0.95])
    assert math.isnan(marks.turn_s)
    assert found.truth.events == ()


def test_before_and_after_the_blow_there_is_room_air() -> None:
    """What is left at the sensor goes with the time constant that was given."""
    at = np.array([0.0, 2.999, 11.0, 11.5, 13.0])
    assert_allclose(expirogram(BLOW, at).fraction, [0.0, 0.0, 1.0, 0.0, 0.0], atol=1e-12)
    slow = expirogram(replace(BLOW, flush_s=0.5), at)
    assert_allclose(slow.fraction, [0.0, 0.0, 1.0, math.exp(-1.0), math.exp(-4.0)], atol=1e-12)
    assert_array_equal(slow.flow_l_per_s, [0.0, 0.0, 0.25, 0.0, 0.0])


def test_a_held_breath_raises_co2_lowers_o2_and_raises_the_trace_gases_a_little() -> None:
    """10 s of each rate."""
    hold = Hold(10.0, co2_pct_per_s=0.02, o2_pct_per_s=0.1, trace_fraction_per_s=0.003)
    truth = expirogram(replace(BLOW, hold=hold), TIME).truth
    expected = [0.5 + 41.5 * 1.03, 1.9 + 10.1 * 1.03, 12.9, 5.8]
    assert_allclose(truth.alveolar.values(), expected)
    assert truth.events == ("held",)


def test_hyperventilation_dilutes_alveolar_gas_itself() -> None:
    """Markers and trace gases by shares of their own, so no marker corrects it."""
    deep = Hyperventilation(marker_share=0.8, trace_share=0.5)
    truth = expirogram(replace(BLOW, hyperventilation=deep), TIME).truth
    expected = [0.5 + 41.5 * 0.5, 1.9 + 10.1 * 0.5, 20.9 - 7.0 * 0.8, 0.04 + 5.56 * 0.8]
    assert_allclose(truth.alveolar.values(), expected)
    assert truth.events == ("hyperventilated",)


@pytest.mark.parametrize(
    ("stop_l", "event", "low", "high"),
    [
        (0.1, "stopped_in_dead_space", 0.0, 0.05),
        (0.18, "stopped_in_transition", 0.49, 0.51),
        (1.0, "stopped_late", 0.95, 1.0),
    ],
)
def test_a_blow_that_stops_early_ends_with_the_gas_of_that_volume(
    stop_l: float, event: Event, low: float, high: float
) -> None:
    """What comes last is named, and alveolar gas stays known whatever its share."""
    found = expirogram(replace(BLOW, stop_l=stop_l), TIME)
    truth = found.truth
    assert truth.events == (event,)
    assert low <= truth.fraction <= high
    assert_allclose(truth.marks.end_s, 3.0 + stop_l / 0.25)
    assert math.isnan(truth.marks.plateau_s) == (stop_l < 0.22)
    assert math.isnan(truth.marks.transition_s) == (stop_l < 0.14)
    assert_allclose(truth.alveolar.values(), PERSON.alveolar.values())
    assert_allclose(np.trapezoid(found.flow_l_per_s, TIME), stop_l, atol=5e-4)


def test_alveolar_gas_is_known_where_next_to_none_of_it_came_out() -> None:
    """A sharp transition and a stop far below it: the share is tiny and not 0."""
    person = replace(PERSON, transition_l=0.002)
    truth = expirogram(replace(BLOW, person=person, stop_l=0.002), TIME).truth
    assert 0.0 < truth.fraction < 1e-100
    assert_allclose(truth.alveolar.values(), PERSON.alveolar.values())
    assert_allclose(truth.last.values(), PERSON.room.values())


def test_a_cough_is_a_spike_and_a_dip_of_the_flow() -> None:
    """The planned volume still comes, a little sooner or later."""
    found = expirogram(replace(BLOW, cough=COUGH), TIME)
    at = np.array([5.9, 6.1, 6.3, 6.5])
    seen = expirogram(replace(BLOW, cough=COUGH), at).flow_l_per_s
    assert_allclose(seen, [0.25, 0.5, 0.0625, 0.25])
    assert_allclose(np.trapezoid(found.flow_l_per_s, TIME), 2.0, atol=1e-3)
    # 0.2 s at double and 0.2 s at a quarter of the pace are 0.45 s of effort in 0.4 s.
    assert_allclose(found.truth.marks.end_s, 11.0 - 0.05)
    assert found.truth.events == ("coughed",)


def test_breathing_in_turns_oxygen_back_and_leaves_the_lungs_diluted() -> None:
    """Room air is at the sensor until the dead space is blown out again."""
    found = expirogram(replace(BLOW, inhalation=BREATH), TIME)
    truth = found.truth
    o2 = np.interp([6.99, 7.9, 8.1, 9.5], TIME, found.o2_pct)
    assert_allclose(o2[1:3], 20.9, atol=0.01)
    assert_allclose(o2[0], 13.9, atol=0.01)
    # 0.5 L in: 0.18 L stay in the dead space and 0.32 L mix with 2 L of lung.
    assert_allclose(o2[3], 20.9 - 7.0 * 2.0 / 2.32, atol=0.01)
    assert_allclose(truth.fraction, 2.0 / 2.32, rtol=1e-6)
    assert_allclose(truth.alveolar.values(), PERSON.alveolar.values())
    assert (truth.marks.turn_s, truth.marks.end_s) == (7.0, 12.0)
    assert truth.events == ("breathed_in",)
    during = expirogram(replace(BLOW, inhalation=BREATH), np.array([7.5])).flow_l_per_s
    assert_allclose(during, -0.5)
    assert np.all(np.abs(np.diff(found.o2_pct[(TIME > 3.01) & (TIME < 11.99)])) < 0.1)


def test_breathing_in_before_the_plateau_delays_it_by_what_was_drawn_back() -> None:
    """The marks of the transition count what is only pushed back."""
    early = replace(BLOW, inhalation=Inhalation(at_s=0.4, duration_s=0.5, volume_l=0.1))
    marks = expirogram(early, TIME).truth.marks
    assert_allclose(marks.transition_s, 3.0 + 0.5 + (0.14 + 0.1) / 0.25)
    assert_allclose(marks.plateau_s, 3.0 + 0.5 + (0.22 + 0.1) / 0.25)
    assert_allclose(expirogram(early, np.array([marks.plateau_s])).fraction, 0.95, rtol=1e-4)


@settings(deadline=None, max_examples=60)
@given(
    dead=st.floats(0.1, 0.25),
    expired=st.floats(0.8, 4.0),
    start=st.floats(0.1, 0.6),
    share=st.floats(0.3, 0.99),
    volume=st.floats(0.01, 2.0),
    before=st.floats(0.0, 20.0),
)
def test_gases_stay_between_room_and_alveolar_and_the_clock_does_not_matter(
    dead: float, expired: float, start: float, share: float, volume: float, before: float
) -> None:
    """For any blow with an inhalation; a later onset shifts the trace and changes nothing."""
    flow = Flow("decaying", start, start * share)
    half = flow.seconds(expired / 2.0, expired)
    blow = replace(
        BLOW,
        person=replace(PERSON, dead_space_l=dead),
        expired_l=expired,
        flow=flow,
        inhalation=Inhalation(at_s=half, duration_s=0.8, volume_l=volume),
        room_before_s=0.0,
    )
    at = np.linspace(0.001, 50.0, 4001)
    one, two = expirogram(blow, at), expirogram(replace(blow, room_before_s=before), at + before)
    assert np.all((one.fraction >= 0.0) & (one.fraction <= 1.0))
    assert np.all((one.o2_pct <= 20.9 + 1e-9) & (one.o2_pct >= 13.9 - 1e-9))
    inner = np.abs(at - one.truth.marks.end_s) > 1e-6
    assert_allclose(two.h2_ppm[inner], one.h2_ppm[inner], atol=1e-6)
