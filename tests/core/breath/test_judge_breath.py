from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from ebbline.core.breath.reasons import Outside
from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.samples import column, rows_of
from ebbline.core.breath.trace import Channel
from tests.core.breath.givens import (
    CHAMBER,
    LONG,
    STREAM,
    a_trace,
    in_blocks,
    reasons_of,
    reduced,
    settings_of,
)

Float = NDArray[np.float64]
# So little noise that drifts can be worked out by hand.
QUIET = {name: replace(sensor, noise=sensor.noise / 50.0) for name, sensor in STREAM.items()}


def of_rows(rows: Float, **changes: Any) -> Reduction:
    """Reduce rows as one block."""
    return in_blocks(rows, [len(rows)], **changes)


def a_blow() -> tuple[Float, Float]:
    """Return the rows of a good blow with noise, and their times."""
    rows = rows_of(a_trace(seed=1))
    return rows, rows[:, 0]


def a_held_blow(seed: int | None = 1) -> tuple[Float, Float]:
    """Return the rows of a good blow whose H2 and CH4 are held, and their times."""
    rows = rows_of(a_trace(sensors=CHAMBER, seed=seed, time=LONG))
    return rows, rows[:, 0]


def put(rows: Float, name: Channel, where: NDArray[np.bool_], value: float) -> Float:
    """Return rows in which a channel shows a value for a while."""
    changed = rows.copy()
    changed[where, column(name)] = value
    return changed


def the_reasons(found: Reduction, *expected: tuple[str, str]) -> None:
    """These are all reasons, in this order, and with them no value counts."""
    assert reasons_of(found) == list(expected)
    assert found.quality == "refused"
    if found.reading is not None:
        assert found.reading.quality == "refused"
        assert found.reading.h2.value_ppm is None
        assert found.reading.h2.u_ppm is None
        # Every reason is told with the reading too.
        told = "; ".join(found.reading.notes)
        assert [text for _, text in expected if text not in told] == []


@pytest.mark.parametrize("seed", [None, 1, 2])
def test_nothing_speaks_against_a_good_breath(seed: int | None) -> None:
    """Stream and chamber."""
    assert reduced(a_trace(seed=seed)).reasons == ()
    rows, _ = a_held_blow(seed)
    assert of_rows(rows, sensors=CHAMBER).reasons == ()


def test_without_breath_there_is_only_that_to_say() -> None:
    """The marker stayed at room air, however high hydrogen was."""
    found = reduced(a_trace(breath={"o2_pct": 20.9}))
    the_reasons(found, ("no_breath", "no breath was seen"))
    assert found.reading is None
    assert dict(found.values) == {}


def test_a_blow_too_short_for_a_plateau_is_refused() -> None:
    """1 s of wash, 1 s of plateau and 0.3 s of trim; from the onset to the last clear sample.

    What is a little too short is not rounded up to what is needed.
    """
    found = reduced(a_trace(to_s=1.2))
    the_reasons(found, ("too_short", "0.9 s of breath, at least 2.3 s are needed"))
    found = reduced(a_trace(to_s=2.5))
    the_reasons(found, ("too_short", "2.2 s of breath, at least 2.3 s are needed"))
    assert reduced(a_trace(to_s=2.6)).reasons == ()


def test_a_marker_without_values_on_the_plateau_is_too_short_as_well() -> None:
    """There is nothing to say that alveolar air was reached."""
    rows, time = a_blow()
    found = of_rows(put(rows, "o2_pct", (time > 0.65) & (time < 9.85), np.nan))
    the_reasons(
        found,
        ("gaps", "9.30 s without a value, in which an inhalation could hide"),
        ("too_short", "O2: too few values on the plateau"),
    )


def test_a_blow_that_ends_on_the_way_to_alveolar_air_is_refused() -> None:
    """O2 falls by 0.5 a second over the 3.3 s of samples, at 6.13 below room air: 27 %."""
    found = reduced(a_trace(slope={"o2_pct": -0.5}, to_s=5.0), sensors=QUIET)
    the_reasons(found, ("stopped_early", "O2 still on its way to alveolar air, by 27 %"))


@pytest.mark.parametrize(
    ("name", "slope", "text"),
    [
        # 2 a second over 7.9 s, at a median of 30.5.
        ("h2_ppm", 2.0, "H2 moves by 52 % over the plateau"),
        # The same, at a median of 49.5.
        ("h2_ppm", -2.0, "H2 moves by 32 % over the plateau"),
        ("co2_pct", 0.1, "CO2 moves by 17 % over the plateau"),
    ],
)
def test_a_gas_that_moves_over_the_plateau_is_unsteady(
    name: Channel, slope: float, text: str
) -> None:
    """Up or down; only of the marker that is watched is it known to be on its way."""
    found = reduced(a_trace(slope={name: slope}), sensors=QUIET)
    the_reasons(found, ("unsteady", text))


def test_a_marker_that_moves_towards_room_air_is_unsteady() -> None:
    """It is not on its way to alveolar air: 0.2 a second over 7.9 s, at a median of 8.3 below."""
    found = reduced(
        a_trace(slope={"o2_pct": 0.2}), sensors=QUIET, settings=settings_of(turn_share=0.5)
    )
    the_reasons(found, ("unsteady", "O2 moves by 19 % over the plateau"))


def test_a_slope_that_noise_makes_is_not_held_against_a_blow() -> None:
    """Near 0 ppm any slope is a large share; what counts is what is beyond twice its u."""
    for seed in range(20):
        assert reduced(a_trace(breath={"h2_ppm": 0.2, "ch4_ppm": 0.0}, seed=seed)).reasons == ()


def test_room_air_in_the_middle_by_the_marker_is_breathing_in() -> None:
    """O2 back at room air from 5 to 6 s, and down again; no straight plateau either."""
    rows, time = a_blow()
    found = of_rows(put(rows, "o2_pct", (time >= 5.0) & (time < 6.0), 20.9))
    codes = [reason.code for reason in found.reasons]
    assert codes == ["breathed_in", "unsteady"]
    assert found.reasons[0].seen == "room air came in the middle of the blow"


def test_flow_inwards_is_breathing_in_even_where_the_marker_shows_nothing() -> None:
    """More than 0.05 L/s inwards, during the blow only."""
    rows, time = a_blow()
    during = (time >= 5.0) & (time < 5.2)
    out = put(rows, "flow_l_per_s", np.ones(time.size, dtype=np.bool_), 0.3)
    found = of_rows(put(out, "flow_l_per_s", during, -0.06))
    the_reasons(found, ("breathed_in", "room air came in the middle of the blow"))
    assert of_rows(put(out, "flow_l_per_s", during, -0.05)).reasons == ()
    for other in ((time < -1.0), (time > 11.0)):
        assert of_rows(put(out, "flow_l_per_s", other, -0.5)).reasons == ()


def test_a_gap_in_which_an_inhalation_could_hide_is_refused() -> None:
    """Values at 5.0 and at 7.0 s: 2 s, 1.25 s are allowed; in another channel that is no matter."""
    rows, time = a_blow()
    gap = (time > 5.0) & (time < 7.0)
    found = of_rows(put(rows, "o2_pct", gap, np.nan))
    the_reasons(found, ("gaps", "2.00 s without a value, in which an inhalation could hide"))
    assert of_rows(put(rows, "o2_pct", (time > 5.0) & (time < 6.2), np.nan)).reasons == ()
    assert of_rows(put(rows, "co2_pct", gap, np.nan)).reasons == ()


def test_a_gas_with_too_few_values_on_the_plateau_is_told() -> None:
    """Methane too, though hydrogen has a value."""
    rows, time = a_blow()
    for name, gas in (("h2_ppm", "H2"), ("ch4_ppm", "CH4")):
        channel: Channel = "h2_ppm" if name == "h2_ppm" else "ch4_ppm"
        found = of_rows(put(rows, channel, (time > 1.0) & (time < 12.0), np.nan))
        assert reasons_of(found) == [("gaps", f"{gas}: too few values on the plateau")]
        assert channel not in found.values
    assert found.reading is not None
    assert found.reading.ch4 is None


def test_a_value_far_off_a_straight_plateau_is_unsteady() -> None:
    """5 ppm at a noise of 0.5 is 10 times, 6 are allowed; 2 ppm is 4 times."""
    rows = rows_of(a_trace())
    time = rows[:, 0]
    found = of_rows(put(rows, "h2_ppm", time == 5.0, 45.0))
    the_reasons(
        found,
        ("unsteady", "H2 is up to 10.0 times its noise off a straight plateau, 6 are allowed"),
    )
    assert of_rows(put(rows, "h2_ppm", time == 5.0, 42.0)).reasons == ()


def test_scatter_that_is_more_than_twice_the_profile_s_is_unsteady() -> None:
    """3 times the noise up and down in turn: none is 6 times off, but the mean square is 9.

    The first sample of the plateau is 4.2 times off: the line takes some for what is remembered.
    """
    rows = rows_of(a_trace())
    breath = (rows[:, 0] > 0.0) & (rows[:, 0] < 10.0)
    rows[breath, column("h2_ppm")] += 1.5 * (-1.0) ** np.arange(int(breath.sum()))
    the_reasons(
        of_rows(rows),
        ("unsteady", "H2 is up to 4.2 times its noise off a straight plateau, 6 are allowed"),
    )
    assert of_rows(rows, settings=settings_of(largest_misfit=10.0)).reasons == ()


@pytest.mark.parametrize(
    ("until_s", "text"),
    [
        (10.5, "{gas}: not watched long enough"),
        # One pole of 12 s and one of 3 s, 0.5 s and 4.4 s after the end of the breath.
        (15.0, "{gas}: 16 % of the response was seen"),
    ],
)
def test_held_gas_that_was_not_watched_long_enough_is_too_short(until_s: float, text: str) -> None:
    """Before three samples it has no value; before half of the response none that counts."""
    rows, time = a_held_blow()
    found = of_rows(rows[time < until_s], sensors=CHAMBER)
    assert reasons_of(found) == [("too_short", text.format(gas=gas)) for gas in ("H2", "CH4")]
    assert found.quality == "refused"


def test_held_gas_that_does_not_settle_is_unsteady() -> None:
    """It swings by 10 ppm, twenty times its noise."""
    rows, time = a_held_blow()
    late = time > 12.0
    rows[late, column("h2_ppm")] += 10.0 * np.sin(2.0 * time[late])
    found = of_rows(rows, sensors=CHAMBER)
    the_reasons(found, ("unsteady", "H2 does not settle as its sensor should"))


def test_a_sample_with_too_much_room_air_is_too_dilute() -> None:
    """O2 of 18 %: 2.9 of 7 below room air."""
    found = reduced(a_trace(breath={"o2_pct": 18.0}))
    the_reasons(
        found,
        ("too_dilute", "O2 18 %: alveolar fraction 0.41, below the limit of 0.5; too dilute"),
    )


def test_an_analyser_that_was_not_on_for_long_is_still_warming() -> None:
    """Counted to the moment breath was seen; where nobody says when, it is not judged."""
    found = reduced(a_trace(), switched_on_s=-600.0)
    the_reasons(
        found, ("still_warming", "still warming: on for 10 min, at least 20 min are needed")
    )
    assert reduced(a_trace(), switched_on_s=-1200.0).reasons == ()
    found = reduced(a_trace(), switched_on_s=-1199.0)
    the_reasons(
        found, ("still_warming", "still warming: on for 19 min, at least 20 min are needed")
    )


def test_each_channel_without_a_zero_is_told() -> None:
    """Room air from 40 s before the breath on; 38.1 s are left of it for all four."""
    rows, time = a_blow()
    found = of_rows(rows[time > -40.0])
    the_reasons(
        found,
        *[
            ("not_zeroed", f"{gas}: room air too short: 38.1 s, at least 50 s are needed")
            for gas in ("H2", "CH4", "O2", "CO2")
        ],
    )


@pytest.mark.parametrize("value", [500.0, -20.0])
def test_a_sensor_at_an_end_of_its_range_is_over_range(value: float) -> None:
    """One sample is enough, since the true value may be anything beyond; not so in room air."""
    rows, time = a_blow()
    found = of_rows(put(rows, "h2_ppm", time == 9.0, value))
    assert reasons_of(found)[-1] == ("over_range", "H2 at the end of its range, -20 to 500")
    if value < 0.0:
        assert of_rows(put(rows, "h2_ppm", time == -30.0, value)).reasons == ()
    high = reduced(a_trace(breath={"h2_ppm": 520.0}))
    the_reasons(high, ("over_range", "H2 at the end of its range, -20 to 500"))


def test_numbers_that_no_gas_can_have_refuse_and_are_kept() -> None:
    """As they came, in the order of time; they take no part in any value."""
    rows, time = a_blow()
    wrong = put(put(rows, "h2_ppm", time == 5.0, 5000.0), "o2_pct", time == 6.0, 1.0)
    found = of_rows(wrong)
    the_reasons(
        found,
        (
            "over_range",
            "2 value(s) outside physical limits, the first 5000 of h2_ppm at 5 s",
        ),
    )
    assert found.outside == (Outside(5.0, "h2_ppm", 5000.0), Outside(6.0, "o2_pct", 1.0))
    gaps = put(put(rows, "h2_ppm", time == 5.0, np.nan), "o2_pct", time == 6.0, np.nan)
    assert dict(found.values) == dict(of_rows(gaps).values)
    # Without any breath it is told beside that.
    still = put(rows_of(a_trace(breath={"o2_pct": 20.9})), "h2_ppm", time == 17.0, -100.0)
    assert reasons_of(of_rows(still)) == [
        ("no_breath", "no breath was seen"),
        ("over_range", "1 value(s) outside physical limits, the first -100 of h2_ppm at 17 s"),
    ]


def test_all_reasons_are_told_in_the_order_of_a_cycle() -> None:
    """Warm-up, zero, blow, held gas, range, numbers outside limits."""
    rows, time = a_held_blow()
    rows = put(rows, "flow_l_per_s", (time >= 3.0) & (time < 3.5), -0.3)
    rows = put(rows, "o2_pct", (time > 5.0) & (time < 7.0), np.nan)
    rows = put(rows, "ch4_ppm", time == 12.0, -20.0)
    rows = put(rows, "co2_pct", time == 12.0, 99.0)
    kept = rows[(time > -40.0) & (time < 15.0)]
    found = of_rows(kept, sensors=CHAMBER, switched_on_s=-100.0)
    assert [reason.code for reason in found.reasons] == [
        "still_warming",
        *["not_zeroed"] * 4,
        "breathed_in",
        "gaps",
        *["too_short"] * 2,
        *["over_range"] * 2,
    ]
    assert found.reading is not None
    assert found.reading.notes[: len(found.reasons)] == tuple(
        reason.seen for reason in found.reasons
    )
