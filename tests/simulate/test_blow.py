import math
import time
from dataclasses import replace
from typing import cast, get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from ebbline.core.breath.response import Response
from ebbline.core.errors import InputError, SettingError
from ebbline.simulate.blow import TYPICAL, Blow, Kind, known_sensors, trace_of, virtual_blow
from ebbline.simulate.exhalation import Event
from ebbline.simulate.gas import GASES
from ebbline.simulate.ranges import ChannelRanges, Span

KINDS: tuple[Kind, ...] = ("stream", "chamber", "bag")
EVENTS: tuple[Event, ...] = get_args(Event)
NOTHING = Span(0.0, 0.0)
QUICK = replace(
    TYPICAL, room_before_s=Span(4.0, 6.0), rate_hz=Span(10.0, 10.0), slow_t90_s=Span(10.0, 15.0)
)


def silent(channel: ChannelRanges) -> ChannelRanges:
    """Return a channel without noise, errors or steps."""
    return replace(
        channel,
        noise=NOTHING,
        noise_fraction=NOTHING,
        offset=NOTHING,
        drift_per_h=NOTHING,
        gain_error=NOTHING,
        steps=(0.0,),
    )


H2, CH4, O2, CO2 = (silent(channel) for channel in TYPICAL.channels)
CLEAR = replace(
    QUICK,
    channels=(H2, CH4, O2, CO2),
    slope_fraction_per_l=NOTHING,
    dropped_share=NOTHING,
    delay_s=NOTHING,
)


def blow(
    seed: int, kind: Kind, events: tuple[Event, ...] | None = (), *, clear: bool = False
) -> Blow:
    """Return one blow."""
    rng = np.random.default_rng(seed)
    return virtual_blow(rng, ranges=CLEAR if clear else QUICK, kind=kind, events=events)


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_seed_gives_the_same_blow(kind: Kind) -> None:
    """To the last bit; and another seed another blow."""
    one, two, three = blow(1, kind, None), blow(1, kind, None), blow(2, kind, None)
    for name in ("time_s", *GASES):
        assert_array_equal(getattr(one, name), getattr(two, name))
    assert one.truth.alveolar == two.truth.alveolar
    assert one.exhalation == two.exhalation
    assert one.truth.alveolar != three.truth.alveolar


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("event", EVENTS)
def test_a_blow_of_each_kind_can_be_asked_for_by_name(kind: Kind, event: Event) -> None:
    """And what was asked for is what happened."""
    for seed in range(5):
        made = blow(seed, kind, (event,))
        assert made.truth.events == (event,)
        assert made.kind == kind


@pytest.mark.parametrize("kind", KINDS)
def test_a_good_blow_reaches_alveolar_gas(kind: Kind) -> None:
    """Nothing happened in it. A bag may have leaked, by 15 % at most."""
    for seed in range(20):
        truth = blow(seed, kind).truth
        assert truth.events == ()
        assert truth.fraction > (0.84 if kind == "bag" else 0.99)


@pytest.mark.parametrize("kind", ["stream", "chamber"])
def test_what_happens_together_stands_in_its_order(kind: Kind) -> None:
    """However it was asked for."""
    asked: tuple[Event, ...] = ("breathed_in", "coughed", "held", "hyperventilated")
    for seed in range(20):
        assert blow(seed, kind, asked).truth.events == tuple(reversed(asked))


def test_a_stop_below_half_alveolar_can_be_asked_for() -> None:
    """In the dead space always; in the transition by the range of the fraction."""
    low = replace(QUICK, stop_in_transition_fraction=Span(0.1, 0.49))
    for seed in range(20):
        dead = virtual_blow(
            np.random.default_rng(seed),
            ranges=low,
            kind="stream",
            events=("stopped_in_dead_space",),
        )
        part = virtual_blow(
            np.random.default_rng(seed),
            ranges=low,
            kind="stream",
            events=("stopped_in_transition",),
        )
        assert dead.truth.fraction < 0.05
        assert 0.1 - 1e-9 <= part.truth.fraction <= 0.49 + 1e-9


def test_breathing_in_makes_the_shown_oxygen_turn_back() -> None:
    """By more than 2 % O2, after it had fallen to alveolar gas."""
    for seed in range(20):
        made = blow(seed, "stream", ("breathed_in",), clear=True)
        turn = made.truth.marks.turn_s
        before = made.o2_pct[made.time_s < turn].min()
        after = made.o2_pct[(made.time_s > turn) & (made.time_s < made.truth.marks.end_s)].max()
        assert after > before + 2.0
        assert made.flow_l_per_s is not None
        assert np.nanmin(made.flow_l_per_s) < 0.0


def test_an_inlet_mixes_all_gases_by_one_share() -> None:
    """Without slopes: gas = room + a (alveolar - room) at every sample of a stream."""
    for seed in range(10):
        made = blow(seed, "stream", None, clear=True)
        room, alveolar = made.exhalation.person.room.values(), made.truth.alveolar.values()
        shares = np.array(
            [(made.channels[row].truth - room[row]) / (alveolar[row] - room[row]) for row in (2, 3)]
        )
        assert_allclose(shares[0], shares[1], atol=1e-9)
        h2 = room[0] + shares[0] * (alveolar[0] - room[0])
        assert_allclose(made.channels[0].truth, h2, atol=1e-6)


@pytest.mark.parametrize("kind", ["chamber", "bag"])
def test_a_slow_sensor_approaches_what_is_held(kind: Kind) -> None:
    """After 2.5 to 3 t90 it is within 1 % of the step, and at one t90 at 90 %."""
    for seed in range(10):
        made = blow(seed, kind, clear=True)
        start, room = made.truth.held_from_s, made.exhalation.person.room.ch4_ppm
        target = made.truth.sample.ch4_ppm
        share = (made.ch4_ppm - room) / (target - room)
        assert_allclose(share[made.time_s < start - 0.1], 0.0, atol=1e-9)
        assert 0.985 < share[-1] < 1.0
        reached = made.time_s[np.argmax(share >= 0.9)] - start
        assert 9.9 <= reached <= 15.3


@pytest.mark.parametrize("kind", KINDS)
def test_the_sample_is_the_alveolar_gas_in_its_share(kind: Kind) -> None:
    """What a perfect normalisation recovers; in a bag age took hydrogen besides."""
    for seed in range(20):
        truth = (made := blow(seed, kind, None)).truth
        room = made.exhalation.person.room.values()
        expected = room + truth.fraction * (truth.alveolar.values() - room)
        kept = 1.0 if truth.bag is None else truth.bag.h2_kept
        expected[0] = room[0] + kept * (expected[0] - room[0])
        assert_allclose(truth.sample.values(), expected, rtol=1e-9)


def test_regimes_and_flow_are_those_of_the_kind() -> None:
    """A bag has no flow and nothing passes; in a chamber only the slow gases are held."""
    regimes = {kind: tuple(s.regime for s in blow(0, kind).sensors) for kind in KINDS}
    assert regimes == {
        "stream": ("stream",) * 4,
        "chamber": ("chamber", "chamber", "stream", "stream"),
        "bag": ("chamber",) * 4,
    }
    assert blow(0, "bag").flow_l_per_s is None
    assert blow(0, "bag").truth.bag is not None
    assert np.isnan(blow(0, "stream").truth.held_from_s)


def test_a_dropped_line_is_missing_in_every_array() -> None:
    """Also in the flow."""
    lossy = replace(QUICK, dropped_share=Span(0.3, 0.3))
    made = virtual_blow(np.random.default_rng(0), ranges=lossy, kind="stream", events=())
    missing = np.isnan(made.h2_ppm)
    assert 0.1 < missing.mean() < 0.5
    assert made.flow_l_per_s is not None
    for values in (made.ch4_ppm, made.o2_pct, made.co2_pct, made.flow_l_per_s):
        assert_array_equal(np.isnan(values), missing)


def test_methane_can_be_read_as_hydrogen() -> None:
    """By the factor that was set, and nowhere else."""
    crossed = replace(CLEAR, h2_per_ch4=Span(0.5, 0.5), fast_t90_s=Span(0.1, 0.1))
    one = virtual_blow(np.random.default_rng(4), ranges=crossed, kind="stream", events=())
    two = virtual_blow(np.random.default_rng(4), ranges=CLEAR, kind="stream", events=())
    quiet = one.time_s < one.truth.marks.onset_s
    room = one.exhalation.person.room
    assert_allclose(one.h2_ppm[quiet], room.h2_ppm + 0.5 * room.ch4_ppm, rtol=1e-9)
    assert_allclose(two.h2_ppm[quiet], room.h2_ppm, rtol=1e-9)
    assert_allclose(one.ch4_ppm[quiet], room.ch4_ppm, rtol=1e-9)


def test_what_is_drawn_lies_in_its_ranges_and_fills_them() -> None:
    """Alveolar O2 falls as CO2 rises."""
    made = [blow(seed, "stream") for seed in range(200)]
    alveolar = np.array([one.exhalation.person.alveolar.values() for one in made])
    lowest, highest = alveolar.min(axis=0), alveolar.max(axis=0)
    assert np.all(lowest >= [0.0, 0.0, 13.0, 4.9])
    assert np.all(highest <= [200.0, 60.0, 14.8, 6.3])
    assert np.all(highest - lowest > 0.9 * np.array([200.0, 60.0, 1.8, 1.4]))
    assert_allclose(np.corrcoef(alveolar[:, 2], alveolar[:, 3])[0, 1], -1.0)
    expired = [one.exhalation.expired_l for one in made]
    assert 0.8 <= min(expired) < 0.95
    assert 3.8 < max(expired) <= 4.0
    assert {one.exhalation.flow.kind for one in made} == {"constant", "decaying", "ramp"}


def test_events_come_as_often_as_their_chances_say() -> None:
    """And an early stop comes alone, but for what was done before the blow."""
    found = [blow(seed, "stream", None).truth.events for seed in range(600)]
    held = np.mean(["held" in events for events in found])
    late = np.mean(["stopped_late" in events for events in found])
    assert_allclose([held, late], [0.3, 0.1 * 0.97 * 0.95], atol=0.05)
    for events in found:
        if any(event.startswith("stopped") for event in events):
            assert not {"coughed", "breathed_in"} & set(events)
    assert {event for events in found for event in events} == set(EVENTS)


@settings(deadline=None, max_examples=40)
@given(seed=st.integers(0, 10**6), kind=st.sampled_from(KINDS))
def test_any_seed_gives_a_whole_blow(seed: int, kind: Kind) -> None:
    """Moments rise, arrays are of one length, and what is not dropped is a number."""
    made = blow(seed, kind, None)
    assert np.all(np.diff(made.time_s) > 0.0)
    for row, gas in enumerate(GASES):
        values = getattr(made, gas)
        assert values.shape == made.time_s.shape
        assert np.all(np.isfinite(made.channels[row].lagged))
    assert 0.0 < made.truth.fraction <= 1.0
    assert np.all(np.isfinite(made.truth.alveolar.values()))


@pytest.mark.parametrize("kind", KINDS)
def test_above_the_room_is_what_an_analyser_zeroed_on_it_shows(kind: Kind) -> None:
    """Hydrogen and methane lose what is in the room; the marker gases stay as they are."""
    for seed in range(10):
        made = blow(seed, kind, None)
        sample, room = made.truth.sample.values(), made.exhalation.person.room.values()
        lost = sample - made.truth.above_room.values()
        assert_allclose(lost, [room[0], room[1], 0.0, 0.0], atol=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_the_trace_of_a_blow_is_what_was_shown(kind: Kind) -> None:
    """Every channel with its gaps, and nothing of the truth."""
    made = blow(3, kind, None)
    trace = trace_of(made)
    assert trace.channels == (*GASES, *(() if kind == "bag" else ("flow_l_per_s",)))
    for name in ("time_s", *trace.channels):
        assert_array_equal(getattr(trace, name), getattr(made, name))


def test_lines_that_come_too_seldom_are_no_trace() -> None:
    """A trace has at least one sample a second."""
    seldom = replace(QUICK, rate_hz=Span(0.5, 0.5), jitter_share=NOTHING)
    made = virtual_blow(np.random.default_rng(0), ranges=seldom, kind="bag", events=())
    with pytest.raises(InputError) as caught:
        trace_of(made)
    assert str(caught.value) == (
        "the trace's sampling cannot be used; allowed: 1 to 100 Hz by the median interval; "
        "came: 0.5 Hz"
    )


@pytest.mark.parametrize("kind", KINDS)
def test_a_profile_without_doubts_knows_a_sensor_as_it_is(kind: Kind) -> None:
    """But for its offset, drift and gain, of which it knows at most the spread."""
    made = blow(5, kind)
    known = known_sensors(np.random.default_rng(1), made, u_tau_fraction=0.0, u_delay_s=0.0)
    assert tuple(known) == GASES
    drifts, gains = [2.0, 2.0, 0.05, 0.05], [0.01, 0.01, 0.005, 0.005]
    for told, true, drift, gain in zip(known.values(), made.sensors, drifts, gains, strict=True):
        assert told.response == Response(delay_s=true.delay_s, tau_s=true.tau_s, tau2_s=true.tau2_s)
        assert (told.regime, told.resolution) == (true.regime, true.step)
        assert (told.noise, told.noise_fraction) == (true.noise, true.noise_fraction)
        assert (told.lowest, told.highest) == (true.lowest, true.highest)
        assert_allclose(told.u_drift_per_h, drift / math.sqrt(3.0), rtol=1e-12)
        assert told.u_gain_fraction == pytest.approx(gain / math.sqrt(3.0), rel=1e-12)


def test_a_profile_is_off_by_the_uncertainties_it_states() -> None:
    """Both time constants by one factor, each channel by a factor and a delay of its own."""
    late = replace(QUICK, delay_s=Span(1.0, 1.0), second_pole_share=Span(0.4, 0.4))
    made = virtual_blow(np.random.default_rng(0), ranges=late, kind="stream", events=())
    rng = np.random.default_rng(2)
    factors, off_s = [], []
    for _ in range(1000):
        known = known_sensors(rng, made, u_tau_fraction=0.05, u_delay_s=0.1)
        told = [one.response for one in known.values()]
        factors.append([t.tau_s / s.tau_s for t, s in zip(told, made.sensors, strict=True)])
        off_s.append([one.delay_s - 1.0 for one in told])
        assert_allclose([one.tau2_s / one.tau_s for one in told], 0.4, rtol=1e-12)
        assert [(s.u_tau_fraction, s.u_delay_s) for s in known.values()] == [(0.05, 0.1)] * 4
    # One standard deviation of a mean of 1000 is 0.03 of the sd, of an sd 0.022 of it.
    assert_allclose(np.mean(factors, axis=0), 1.0, atol=0.008)
    assert_allclose(np.std(factors, axis=0), 0.05, rtol=0.1)
    assert_allclose(np.mean(off_s, axis=0), 0.0, atol=0.016)
    assert_allclose(np.std(off_s, axis=0), 0.1, rtol=0.1)
    together = np.corrcoef(np.hstack([factors, off_s]).T)
    assert_allclose(together, np.eye(8), atol=0.15)


def test_a_profile_far_off_still_has_a_lag_and_no_negative_delay() -> None:
    """A delay ends at 0 s, a factor at 0.1."""
    prompt = replace(QUICK, delay_s=NOTHING)
    made = virtual_blow(np.random.default_rng(0), ranges=prompt, kind="chamber", events=())
    rng = np.random.default_rng(0)
    responses = [
        told.response
        for _ in range(200)
        for told in known_sensors(rng, made, u_tau_fraction=1.0, u_delay_s=0.5).values()
    ]
    tau_s = np.array([one.tau_s for one in responses]).reshape(-1, 4)
    assert_allclose(tau_s.min(axis=0), [0.1 * s.tau_s for s in made.sensors], rtol=1e-12)
    delay_s = np.array([one.delay_s for one in responses])
    assert delay_s.min() == 0.0
    assert_allclose(np.mean(delay_s == 0.0), 0.5, atol=0.06)


def test_a_sensor_with_neither_noise_nor_steps_cannot_be_known() -> None:
    """No reading from it would have an uncertainty."""
    with pytest.raises(SettingError) as caught:
        known_sensors(
            np.random.default_rng(0),
            blow(0, "stream", clear=True),
            u_tau_fraction=0.0,
            u_delay_s=0.0,
        )
    assert str(caught.value) == (
        "sensor noise cannot be used; allowed: above 0 where no resolution is known; came: 0"
    )


def test_an_unknown_event_is_refused() -> None:
    """With the names that are known."""
    with pytest.raises(SettingError) as caught:
        blow(0, "stream", (cast(Event, "sneezed"),))
    assert str(caught.value) == (
        "virtual event is unknown; allowed: hyperventilated, held, coughed, breathed_in, "
        "stopped_in_dead_space, stopped_in_transition or stopped_late; came: sneezed"
    )


@pytest.mark.parametrize(
    "events",
    [("stopped_late", "stopped_in_transition"), ("stopped_late", "coughed")],
)
def test_events_that_cannot_be_in_one_blow_are_refused(events: tuple[Event, ...]) -> None:
    """A blow stops once, and early."""
    with pytest.raises(SettingError) as caught:
        blow(0, "stream", events)
    assert str(caught.value) == (
        "virtual events do not go together; allowed: one early stop, and then neither a cough nor "
        f"an inhalation; came: {', '.join(events)}"
    )


def test_a_hundred_blows_of_half_a_minute_take_a_second_or_two() -> None:
    """About 2 ms each on one core; the limit leaves room for a busy machine."""
    begun = time.perf_counter()
    for seed in range(100):
        blow(seed, "stream", None)
    assert time.perf_counter() - begun < 5.0
