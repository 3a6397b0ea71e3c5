import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from ebbline.core.breath.cycle import Cycle
from ebbline.core.breath.hold import Hold, above_room, asked, u_zero
from ebbline.core.breath.response import Response, step_response
from ebbline.core.breath.samples import column, rows_of
from ebbline.core.breath.sensor import rounding_left
from ebbline.core.breath.trace import Channel
from ebbline.core.breath.zero import Zeroing
from ebbline.core.breath.zero_line import Zero
from tests.core.breath.givens import (
    BAG,
    DILUTION,
    MARKERS,
    SLOW,
    a_sensor,
    a_trace,
    settings_of,
    step,
    without,
)
from tests.helpers import a_dilution

Float = NDArray[np.float64]
TIME = np.arange(-700, 900) / 10.0
SURE = Zeroing(Zero(-2.0, 0.0, 0.0, 0.02, 0.0, 0.0, 0.5, (-62.0, -2.0)), ())
ZEROS: dict[Channel, Zeroing] = dict.fromkeys(BAG, SURE)
GIVEN = Cycle(BAG, "bag", settings_of(), DILUTION)
ONLY_H2 = without(DILUTION, "o2", "co2")


def a_hold(cycle: Cycle = GIVEN) -> Hold:
    """Return a bag that came at 0 s."""
    return Hold(cycle, tuple(cycle.sensors), ZEROS, start_s=0.0, u_start_s=0.1)


def held_rows(*, seed: int | None = None, **breath: float) -> Float:
    """Return the rows of a bag from 0 s on."""
    given: dict[Channel, float] = {"h2_ppm": breath.get("h2", 40.0), "ch4_ppm": 12.0}
    rows = rows_of(a_trace(time=TIME, sensors=BAG, held=True, breath=given, seed=seed))
    return rows[TIME > 0.0]


def h2_alone(**changes: float) -> Cycle:
    """Return a bag of which only hydrogen is measured."""
    return Cycle({"h2_ppm": SLOW}, "bag", settings_of(**changes), ONLY_H2)


def test_it_ends_as_soon_as_both_gases_are_known_as_well_as_was_asked() -> None:
    """The last sample is the first at which u of both is met and half of the step was seen."""
    hold, rows = a_hold(), held_rows()
    used, over = hold.feed(rows)
    assert over
    # The same two estimates, left to run on.
    longer = a_hold(Cycle(BAG, "bag", settings_of(u_ppm=1e-3, u_fraction=1e-4), DILUTION))
    longer.feed(rows[: used + 50])
    met = np.ones(used + 50, dtype=np.bool_)
    for name, wanted in (("h2_ppm", 2.0), ("ch4_ppm", 1.0)):
        u = longer.running["h2_ppm" if name == "h2_ppm" else "ch4_ppm"].u
        met &= (u <= wanted) & (step(rows[: used + 50, 0], SLOW.response) >= 0.5)
    assert used - 1 == np.argmax(met)
    assert all(len(running.value) == 1 for running in hold.running.values())


def test_asking_for_less_takes_longer() -> None:
    """1 ppm or 5 % of 40 ppm; then 1 ppm and 0.5 ppm of any value."""
    lasted = []
    for u_ppm, fraction in ((1.0, 0.05), (1.0, 0.01), (0.5, 0.01)):
        hold = a_hold(Cycle(BAG, "bag", settings_of(u_ppm=u_ppm, u_fraction=fraction), DILUTION))
        used, over = hold.feed(held_rows())
        assert over
        lasted.append(used)
    assert lasted[0] <= lasted[1] < lasted[2]


def test_it_is_never_over_before_the_least_share_of_the_step() -> None:
    """However little was asked: 0.8 of the step of the slow sensor."""
    cycle = Cycle(BAG, "bag", settings_of(u_ppm=500.0, least_share=0.8), DILUTION)
    hold, rows = a_hold(cycle), held_rows()
    used, _ = hold.feed(rows)
    share = step(rows[:, 0], SLOW.response)
    assert used - 1 == np.argmax(share >= 0.8)


def test_it_is_over_when_time_is_up() -> None:
    """99 % of the slowest response here, since that is more than 45 s; else the longest hold."""
    cycle = h2_alone(u_ppm=1e-6, u_fraction=1e-9)
    hold = Hold(cycle, ("h2_ppm",), ZEROS, start_s=0.0, u_start_s=0.1)
    settled_s = hold.settled_s
    assert_allclose(step(np.array([settled_s]), SLOW.response), 0.99)
    assert hold.longest_s == settled_s > 45.0
    used, over = hold.feed(held_rows())
    assert over
    assert_allclose(held_rows()[used - 1, 0], math.ceil(settled_s * 10.0) / 10.0)
    longer = h2_alone(u_ppm=1e-6, u_fraction=1e-9, longest_hold_s=70.0)
    hold = Hold(longer, ("h2_ppm",), ZEROS, start_s=0.0, u_start_s=0.1)
    used, over = hold.feed(held_rows())
    assert (over, held_rows()[used - 1, 0]) == (True, 70.0)


def test_rounding_counts_in_what_was_asked() -> None:
    """A step of 4 ppm leaves 1.15 ppm that no averaging takes away, so 1 ppm is never reached."""
    coarse = a_sensor(
        regime="chamber", response=SLOW.response, noise=0.0, resolution=4.0, u_tau_fraction=0.0
    )
    cycle = Cycle({"h2_ppm": coarse}, "bag", settings_of(), ONLY_H2)
    hold = Hold(cycle, ("h2_ppm",), ZEROS, start_s=0.0, u_start_s=0.1)
    used, _ = hold.feed(held_rows(h2=5.0))
    assert_allclose(held_rows()[used - 1, 0], hold.longest_s, atol=0.1)
    assert hold.running["h2_ppm"].u[-1] < 1.0


@pytest.mark.parametrize("size", [1, 7, 100])
def test_blocks_change_nothing(size: int) -> None:
    """The same end, estimates and budgets."""
    rows = held_rows(seed=3)
    whole, cut = a_hold(), a_hold()
    used, _ = whole.feed(rows)
    at, over = 0, False
    while not over:
        more, over = cut.feed(rows[at : at + size])
        at += more
    assert at == used
    assert cut.budgets() == whole.budgets()
    for name, running in whole.running.items():
        assert_allclose(cut.running[name].value, running.value[-1:], rtol=0)
        assert_allclose(cut.running[name].u, running.u[-1:], rtol=0)


def test_no_rows_are_nothing() -> None:
    """The part of a blow that may be held already can be empty."""
    hold = a_hold()
    assert hold.feed(np.empty((0, 6))) == (0, False)
    assert hold.running == {}
    assert hold.budgets() == {}
    assert hold.settling() == {}


def test_each_gas_is_told_on_its_way() -> None:
    """Before there is anything to tell it by, only the share is there; markers ask for nothing."""
    hold, rows = a_hold(), held_rows()
    hold.feed(rows[:5])
    early = hold.settling()
    assert (early["h2_ppm"].value, early["h2_ppm"].u, early["h2_ppm"].asked) == (None,) * 3
    assert_allclose(early["o2_pct"].share, 1.0 - math.exp(-1.0))
    assert hold.budgets() == {}
    hold.feed(rows[5:100])
    late = hold.settling()
    assert late["h2_ppm"].value == pytest.approx(40.0)
    assert late["o2_pct"].value == pytest.approx(13.5)
    assert late["h2_ppm"].asked == pytest.approx(2.0)
    assert late["ch4_ppm"].asked == 1.0
    assert late["o2_pct"].asked is None
    assert late["h2_ppm"].u == hold.running["h2_ppm"].u[-1]
    assert set(hold.budgets()) == set(BAG)


def test_what_is_asked_is_the_larger_of_ppm_and_fraction() -> None:
    """Of the size of the value, whatever its sign."""
    assert_allclose(asked(GIVEN, np.array([0.0, 20.0, 40.0, -40.0])), [1.0, 1.0, 2.0, 2.0])


def test_the_zero_of_a_value_has_the_rounding_of_room_air_in_it() -> None:
    """As squares; carried on to the time of the value."""
    zero = Zero(-2.0, 0.5, 0.0, 0.03, 0.004, 0.0, 0.5, (-62.0, -2.0))
    sensor = a_sensor(noise=0.1, resolution=1.0)
    cycle = Cycle({"h2_ppm": sensor}, "bag", settings_of(), ONLY_H2)
    left = rounding_left(sensor, 0.0)
    assert left > 0.15
    assert_allclose(u_zero(cycle, "h2_ppm", Zeroing(zero, ()), 8.0), math.hypot(0.03, 0.04, left))
    # Without a zero it is no better than one sample.
    assert_allclose(u_zero(cycle, "h2_ppm", Zeroing(None, ("none",)), 8.0), 1.1)


def test_a_channel_above_room_air_has_its_zero_taken_off() -> None:
    """Offset and drift carried on; without a zero only room air."""
    cycle = Cycle({"h2_ppm": SLOW}, "bag", settings_of(), a_dilution(*MARKERS, ambient_h2_ppm=0.5))
    rows = np.full((2, 6), np.nan)
    rows[:, 0], rows[:, 1] = [0.0, 10.0], [20.0, np.nan]
    zero = Zero(-2.0, 1.0, 0.1, 0.0, 0.0, 0.0, 0.0, (-62.0, -2.0))
    assert_allclose(above_room(cycle, "h2_ppm", Zeroing(zero, ()), rows), [18.3, np.nan])
    assert_allclose(above_room(cycle, "h2_ppm", Zeroing(None, ()), rows), [19.5, np.nan])


def test_the_slowest_response_says_how_long_it_takes() -> None:
    """Delay included, whichever channel it is."""
    other = a_sensor(regime="chamber", response=Response(delay_s=9.0, tau_s=30.0, tau2_s=0.0))
    cycle = Cycle({"h2_ppm": SLOW, "ch4_ppm": other}, "bag", settings_of(), ONLY_H2)
    assert_allclose(a_hold(cycle).settled_s, 9.0 + 30.0 * math.log(100.0))


def test_a_marker_held_by_itself_is_watched_until_it_is_there() -> None:
    """Nothing is asked of it in ppm, so 99 % of its response is the end."""
    cycle = Cycle({"h2_ppm": SLOW, "o2_pct": SLOW}, "bag", settings_of(), DILUTION)
    zeros: dict[Channel, Zeroing] = {"o2_pct": Zeroing(None, ())}
    hold = Hold(cycle, ("o2_pct",), zeros, start_s=0.0, u_start_s=0.1)
    rows = np.full((900, 6), np.nan)
    rows[:, 0] = np.arange(900) / 10.0
    rows[:, column("o2_pct")] = 20.9 - 7.0 * step_response(SLOW.response, rows[:, 0])
    used, over = hold.feed(rows)
    assert over
    assert_allclose(rows[used - 1, 0], hold.settled_s, atol=0.1)
