import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from ebbline.core.breath.compose import plateau_window_s
from ebbline.core.breath.cycle import Cycle
from ebbline.core.breath.ended import Ended
from ebbline.core.breath.reading import GasValue
from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.sensor import Sensor, Sensors, rounding_left
from ebbline.core.breath.trace import Channel
from tests.core.breath.givens import (
    BREATH,
    CHAMBER,
    DILUTION,
    FAST,
    LONG,
    MARKERS,
    PERCENT,
    SLOW,
    STREAM,
    TIME,
    a_sensor,
    a_trace,
    by_hand,
    in_blocks,
    reduced,
    settings_of,
)
from tests.helpers import a_dilution, known

ALL: tuple[Channel, ...] = ("h2_ppm", "ch4_ppm", "o2_pct", "co2_pct")


def held(sensors: Sensors = CHAMBER, **changes: float) -> Reduction:
    """Reduce a blow whose H2 and CH4 are held."""
    given = dict(sensors)
    trace = a_trace(sensors=given, seed=4, time=LONG)
    return reduced(trace, sensors=given, settings=settings_of(**changes))


def gas(value: GasValue | None) -> GasValue:
    """Return a gas that was measured."""
    assert value is not None
    return value


@pytest.mark.parametrize("sensors", [STREAM, CHAMBER])
def test_raw_values_are_the_gas_that_came_with_room_air_put_back(
    sensors: dict[Channel, Sensor],
) -> None:
    """Without noise: within a tenth of what is stated, for all four gases."""
    found = reduced(a_trace(sensors=sensors, time=LONG), sensors=sensors)
    for name in ALL:
        value = found.values[name]
        assert abs(value.raw - BREATH[name]) < 0.1 * value.u
    above = a_dilution(*MARKERS, ambient_h2_ppm=0.5, ambient_ch4_ppm=1.9)
    shifted = reduced(a_trace(), dilution=above)
    # What the sensor shows in room air is what the references say of it.
    assert_allclose(shifted.values["h2_ppm"].raw, 40.5, atol=0.01)
    assert_allclose(shifted.values["ch4_ppm"].raw, 13.9, atol=0.01)


def test_peak_last_and_final_are_three_things() -> None:
    """Over 40 noisy blows the final value is right; the peak is high, the last value scatters."""
    off: dict[str, list[float]] = {"raw": [], "peak": [], "last": []}
    stated = []
    for seed in range(40):
        value = reduced(a_trace(seed=seed)).values["h2_ppm"]
        assert value.raw not in (value.peak, value.last)
        assert value.peak > value.raw
        for name, errors in off.items():
            errors.append(getattr(value, name) - 40.0)
        stated.append(math.hypot(value.budget.noise, value.budget.zero))
    rms = {name: np.sqrt(np.mean(np.square(errors))) for name, errors in off.items()}
    assert_allclose(rms["raw"], np.mean(stated), rtol=0.25)
    assert rms["last"] > 3.0 * rms["raw"]
    assert min(off["peak"]) > 0.5


def test_peak_and_last_are_those_of_the_breath_with_the_zero_taken_off() -> None:
    """Before the onset and after the end nothing counts; O2 peaks where it is farthest from air."""
    trace = a_trace()
    h2, o2 = trace.channel("h2_ppm") + 1.0, trace.channel("o2_pct").copy()
    h2[np.argmin(np.abs(TIME - 4.0))] = 42.0
    h2[TIME == -1.0], h2[TIME == 11.5] = 90.0, 95.0
    o2[np.argmin(np.abs(TIME - 4.0))] = 13.4
    found = reduced(a_trace(replaced={"h2_ppm": h2, "o2_pct": o2}))
    assert_allclose(found.values["h2_ppm"].peak, 41.0, atol=1e-9)
    assert_allclose(found.values["h2_ppm"].last, 40.0, atol=1e-9)
    assert_allclose(found.values["o2_pct"].peak, 13.4, atol=1e-9)
    assert_allclose(found.values["o2_pct"].last, 13.5, atol=1e-9)


def test_each_source_of_uncertainty_has_its_part() -> None:
    """Gain and rounding are put to what the fit knows; all add as squares."""
    coarse = a_sensor(noise=0.2, resolution=1.0)
    sensors: Sensors = {**STREAM, "h2_ppm": coarse}
    value = reduced(a_trace(seed=5), sensors=sensors).values["h2_ppm"]
    part = value.budget
    assert_allclose(part.calibration, 0.01 * value.raw)
    assert_allclose(part.resolution, rounding_left(coarse, value.raw))
    assert part.resolution > 0.005
    # The same rounding is in the zero.
    assert part.zero > rounding_left(coarse, 0.0)
    assert_allclose(
        value.u,
        math.sqrt(
            part.noise**2
            + part.zero**2
            + part.response**2
            + part.resolution**2
            + part.calibration**2
        ),
    )
    one_sd = math.sqrt(0.2**2 + 1.0 / 12.0)
    assert_allclose(value.noise_gain, part.noise / one_sd)
    assert value.count == 80
    assert value.slope_per_s is not None


def test_a_gain_that_is_not_known_has_no_part() -> None:
    """Neither in the value nor in the reading."""
    sensors: Sensors = {**STREAM, "h2_ppm": a_sensor(u_gain_fraction=None)}
    found = reduced(a_trace(seed=5), sensors=sensors)
    assert found.values["h2_ppm"].budget.calibration == 0.0
    assert found.reading is not None
    assert found.reading.h2.u_ppm == found.reading.h2.sd_ppm


def test_held_gas_has_no_slope() -> None:
    """What settles is one value; O2 and CO2, which passed, have one."""
    found = held()
    assert found.values["h2_ppm"].slope_per_s is None
    assert found.values["o2_pct"].slope_per_s is not None
    assert_allclose(
        found.values["h2_ppm"].noise_gain, found.values["h2_ppm"].budget.noise / SLOW.noise
    )


def test_an_accepted_reading_counts_as_it_was_measured() -> None:
    """With the uncertainty of the raw values; the two gases have nothing in common."""
    found = reduced(a_trace(seed=6))
    assert found.quality == "accepted"
    assert found.reading is not None
    for name, had in (("h2_ppm", found.reading.h2), ("ch4_ppm", gas(found.reading.ch4))):
        value = found.values["h2_ppm" if name == "h2_ppm" else "ch4_ppm"]
        assert (had.value_ppm, had.raw_ppm) == (value.raw, value.raw)
        assert_allclose(known(had.u_ppm), value.u)
        assert_allclose(known(had.sd_ppm), math.sqrt(value.u**2 - value.budget.calibration**2))
    assert_allclose(np.diag(found.covariance), [found.values[name].u ** 2 for name in ALL])
    assert_array_equal(found.covariance[~np.eye(4, dtype=np.bool_)], np.zeros(12))
    expected = [found.values["h2_ppm"].u ** 2, found.values["ch4_ppm"].u ** 2]
    assert_allclose(found.covariance_used, np.diag(expected))
    assert found.settings == settings_of()


def test_a_normalised_reading_has_the_sample_s_own_marker_in_its_uncertainty() -> None:
    """The zero ties sample to room air: an error of that is in both and moves only the reference.

    k = (A - L)/(A - s): s is off by its own u and with A by 0.05; by hand the first is u/(A - s)
    and the second 0.05/(A - L), relative to k.
    """
    found = reduced(a_trace(breath={"o2_pct": 16.0}, seed=4))
    assert found.quality == "normalised"
    assert found.reading is not None
    o2 = found.values["o2_pct"]
    own = math.hypot(o2.u / (20.9 - o2.raw), 0.05 / 7.0)
    assert_allclose(found.reading.scale_u, own, rtol=1e-9)
    h2, ch4 = found.reading.h2, gas(found.reading.ch4)
    assert_allclose(known(h2.value_ppm), h2.raw_ppm * 7.0 / (20.9 - o2.raw))
    assert_allclose(np.diag(found.covariance_used), [known(h2.u_ppm) ** 2, known(ch4.u_ppm) ** 2])


def test_normalised_values_move_together_as_draws_say() -> None:
    """Propagation of distributions (JCGM 101): O2, room and reference drawn for both gases."""
    sensors: Sensors = {
        name: replace(sensor, u_gain_fraction=None) for name, sensor in STREAM.items()
    }
    found = reduced(
        a_trace(breath={"o2_pct": 15.0, "h2_ppm": 80.0, "ch4_ppm": 60.0}), sensors=sensors
    )
    rng = np.random.default_rng(31)
    count = 200_000
    room = 0.05 * rng.normal(size=count)
    values = found.values
    o2 = values["o2_pct"].raw + values["o2_pct"].u * rng.normal(size=count) + room
    reference = 13.9 + 0.5 * rng.normal(size=count)
    factor = (20.9 + room - reference) / (20.9 + room - o2)
    # 0.3 ppm is how well the room's own gas is known; it is scaled away with what was room air.
    drawn = [
        ambient + (values[name].raw + values[name].u * rng.normal(size=count) - ambient) * factor
        for name in ("h2_ppm", "ch4_ppm")
        for ambient in [0.3 * rng.normal(size=count)]
    ]
    assert_allclose(found.covariance_used, np.cov(drawn), rtol=0.02)


def test_a_channel_that_is_not_there_has_no_number() -> None:
    """NaN in the covariance, no value, no methane."""
    sensors: Sensors = {"h2_ppm": FAST, "o2_pct": PERCENT}
    found = reduced(a_trace(seed=7), sensors=sensors)
    assert set(found.values) == {"h2_ppm", "o2_pct"}
    assert_array_equal(np.isnan(np.diag(found.covariance)), [False, True, False, True])
    assert found.reading is not None
    assert found.reading.ch4 is None
    assert_array_equal(np.isnan(found.covariance_used), [[False, True], [True, True]])


def test_without_hydrogen_there_is_no_reading() -> None:
    """The other gases keep their numbers."""
    found = reduced(a_trace(replaced={"h2_ppm": np.full(TIME.size, np.nan)}))
    assert (found.reading, found.quality) == (None, "refused")
    assert set(found.values) == {"ch4_ppm", "o2_pct", "co2_pct"}
    assert np.isnan(found.covariance_used).all()


def test_a_refused_reading_keeps_its_raw_values() -> None:
    """Nothing that counts is claimed, and what it was scaled by does not matter any more."""
    found = reduced(a_trace(breath={"o2_pct": 16.0}), switched_on_s=-60.0)
    assert found.reading is not None
    for had in (found.reading.h2, gas(found.reading.ch4)):
        assert (had.normalised_ppm, had.value_ppm, had.u_ppm, had.sd_ppm) == (None,) * 4
        assert had.sd_without_marker_ppm is None
    assert_allclose(found.reading.h2.raw_ppm, 40.0, atol=0.01)
    assert (found.reading.scale_u, found.reading.reference_u) == (0.0, 0.0)
    assert_allclose(known(found.reading.alveolar_fraction), 0.7, atol=1e-3)
    assert found.reading.notes[1] == "O2 16 %: alveolar fraction 0.70, scaled by 1.43"
    assert np.isnan(found.covariance_used).all()


def test_held_gas_that_is_known_less_well_than_asked_is_told() -> None:
    """Asked for 0.02 ppm of both, which 59 s of samples do not give; the reading still stands."""
    found = held(u_ppm=0.02, u_fraction=1e-6)
    assert found.quality == "accepted"
    assert found.reading is not None
    h2, ch4 = (found.values[name].budget for name in ("h2_ppm", "ch4_ppm"))
    assert found.reading.notes == tuple(
        f"{name}: known to {math.hypot(part.noise, part.zero, part.response):.2g} ppm when the "
        "watching ended; 0.02 was asked"
        for name, part in (("H2", h2), ("CH4", ch4))
    )
    enough = held().reading
    assert enough is not None
    assert enough.notes == ()


def test_a_marker_in_a_bag_is_not_asked_for_anything() -> None:
    """O2 and CO2 are held too; what was asked is of hydrogen and methane."""
    rows, given = by_hand("bag")
    found = in_blocks(rows, [len(rows)], **given, settings=settings_of(u_ppm=1e-4, u_fraction=1e-9))
    assert found.reading is not None
    assert [note.split(":")[0] for note in found.reading.notes] == ["H2", "CH4"]


def test_the_final_value_is_where_the_line_ends() -> None:
    """In the middle of the two times between which the blow ended, 0.5 ppm a second uphill."""
    found = reduced(
        a_trace(slope={"h2_ppm": 0.5}), settings=settings_of(u_slope_fraction_per_s=1.0)
    )
    end_s = known(found.times.end_s)
    assert end_s != 10.0
    assert_allclose(found.values["h2_ppm"].raw, 40.0 + 0.5 * (end_s - 10.0), atol=2e-3)


def test_the_gain_in_time_is_told() -> None:
    """Waited from the end of the breath; saved against 99 % of the slowest response."""
    times = held().times
    assert times.held_s is not None
    assert times.done_s is not None
    assert_allclose(known(times.waited_s), times.done_s - times.held_s)
    # 59.2 s by hand: 1 - (4 e^(-t/12) - e^(-t/3))/3 = 0.99 after 58.7 s, and the delay.
    settled_s = 0.5 + 12.0 * math.log(400.0 / 3.0)
    assert_allclose(known(times.saved_s) + known(times.waited_s), settled_s, atol=1e-3)
    stream = reduced(a_trace()).times
    assert (stream.held_s, stream.waited_s, stream.saved_s) == (None, None, None)
    assert_allclose([known(stream.onset_s), known(stream.end_s)], [0.0, 10.0], atol=0.1)


def test_where_alveolar_air_was_looked_for_is_told_with_the_times() -> None:
    """8 s, counted back from 0.3 s before the end; not of a bag, nor of a short blow."""
    plateau_s = reduced(a_trace()).times.plateau_s
    assert plateau_s is not None
    # The last clear sample is at 10.0 s, less the delay and the way of the marker to its turn.
    lag_s = 0.2 - 0.3 * math.log(1.0 - 0.05 / (7.4 / 7.0))
    assert_allclose(plateau_s, [1.7 - lag_s, 9.7 - lag_s], atol=1e-6)
    rows, given = by_hand("bag")
    assert in_blocks(rows, [len(rows)], **given).times.plateau_s is None
    assert reduced(a_trace(to_s=1.2)).times.plateau_s is None


def test_the_plateau_is_looked_for_between_wash_and_trim() -> None:
    """At most 8 s of it, counted back from the end; nowhere where no blow passed."""
    ended = Ended(
        cycle=Cycle(STREAM, "blow", settings_of(), DILUTION),
        rows=np.empty((0, 6)),
        zeros={},
        onset_s=0.0,
        blow_end_s=(6.0, 6.3),
        again=False,
        held_s=None,
        settled_s=None,
        held={},
        budgets={},
        done_s=11.3,
        on_for_s=None,
        outside=(),
    )
    assert plateau_window_s(ended) == (1.0, 5.7)
    long = replace(ended, blow_end_s=(20.0, 20.3))
    assert plateau_window_s(long) == pytest.approx((11.7, 19.7))
    assert plateau_window_s(replace(ended, blow_end_s=None)) is None
    assert plateau_window_s(replace(ended, onset_s=None)) is None


def test_a_breath_that_is_too_dilute_says_so_beside_its_other_reasons() -> None:
    """Every reason is told, so that the operator does not find the next one at the next blow."""
    found = reduced(a_trace(breath={"o2_pct": 19.0}), switched_on_s=-60.0)
    assert [reason.code for reason in found.reasons] == ["still_warming", "too_dilute"]
    assert found.reading is not None
    assert found.reading.notes == tuple(reason.seen for reason in found.reasons)
