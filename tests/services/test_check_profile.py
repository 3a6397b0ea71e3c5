import math
from dataclasses import replace

import pytest

from ebbline.core.breath.response import Response
from ebbline.core.errors import InputError
from ebbline.services.check_profile import CheckProfile, ProfileCheck
from tests.helpers import library
from tests.services.instruments import AnInstrument, Shelf, an_instrument, with_sensor

GOOD = an_instrument()


def check(instrument: AnInstrument, rate_hz: float | None = 10.0) -> ProfileCheck:
    """Check a profile against windows that no tuning of data/reduction.toml moves."""
    settings = replace(
        library().reduction,
        longest_gap_s=1.25,
        turn_in_sd=7.0,
        turn_share=0.05,
        plateau_shortest_s=1.0,
        fewest=3,
        longest_hold_s=45.0,
        u_ppm=1.0,
    )
    own = replace(library(), reduction=settings)
    return CheckProfile(own, Shelf(instrument).read_instrument)("our.toml", rate_hz=rate_hz)


def test_a_good_profile_has_nothing_against_it() -> None:
    """Each channel with its times: t90 is ln 10 and 10 to 90 % ln 9 time constants."""
    found = check(GOOD)
    assert found.warnings == ()
    assert [one.channel for one in found.channels] == ["h2_ppm", "ch4_ppm", "o2_pct", "co2_pct"]
    h2 = found.channels[0]
    assert h2.t90_s == pytest.approx(0.3, rel=1e-12)
    assert h2.rise_10_90_s == pytest.approx(0.3 * math.log(9.0) / math.log(10.0), rel=1e-12)
    assert h2.settled_s == pytest.approx(0.5 + 0.6, rel=1e-12)
    assert h2.sd_of_one == pytest.approx(0.5, rel=1e-12)


def test_the_noise_gain_needs_a_rate() -> None:
    """6.209 at 10 Hz and t90 1 s (reference values of the sensor lag)."""
    slow = Response(delay_s=0.0, tau_s=1.0 / math.log(10.0), tau2_s=0.0)
    instrument = with_sensor(GOOD, "h2_ppm", response=slow)
    assert check(instrument).channels[0].noise_gain == pytest.approx(6.209, abs=5e-4)
    assert check(instrument, None).channels[0].noise_gain is None


@pytest.mark.parametrize("rate_hz", [0.5, 200.0, math.nan])
def test_a_rate_that_no_trace_can_have_is_refused(rate_hz: float) -> None:
    """1 to 100 Hz."""
    with pytest.raises(InputError) as caught:
        check(GOOD, rate_hz)
    assert str(caught.value) == (f"rate cannot be used; allowed: 1 to 100 Hz; came: {rate_hz:g} Hz")


@pytest.mark.parametrize(
    ("instrument", "rate_hz", "said"),
    [
        (an_instrument("ch4_ppm", "o2_pct"), 10.0, "There is no H2 channel: no trace of this"),
        (an_instrument("h2_ppm", "o2_pct"), 10.0, "There is no CH4 channel: patients who make"),
        (an_instrument("h2_ppm", "ch4_ppm"), 10.0, "There is neither O2 nor CO2: a person must"),
        (with_sensor(GOOD, "o2_pct", regime="chamber"), 10.0, "O2 is measured in a chamber: a"),
        (
            with_sensor(GOOD, "o2_pct", response=Response(delay_s=0.0, tau_s=1.0, tau2_s=0.0)),
            10.0,
            "O2 takes 2.3 s to 90 %, longer than a short inhalation of 1.25 s: one may pass",
        ),
        (with_sensor(GOOD, "o2_pct", noise=0.7), 10.0, "O2 is so noisy that it must turn back by"),
        (GOOD, None, "How often values come is not known, so it was not judged. A second"),
        (GOOD, 1.2, "At 1.2 Hz one lost value leaves a gap in which a second inhalation could"),
        (GOOD, 2.0, "At 2 Hz the shortest plateau of 1 s has fewer than 3 values: patients"),
        (with_sensor(GOOD, "ch4_ppm", u_gain_fraction=None), 10.0, "CH4: calibration not known."),
        (
            with_sensor(GOOD, "h2_ppm", resolution=5.0, noise=0.0),
            10.0,
            "H2: steps of 5 leave 1.4 ppm of uncertainty, more than the 1 ppm that are asked.",
        ),
        (
            with_sensor(
                GOOD,
                "h2_ppm",
                regime="chamber",
                response=Response(delay_s=2.0, tau_s=20.0, tau2_s=0.0),
            ),
            10.0,
            "H2: 99 % of the response takes 94 s, longer than the 45 s for which gas is usually",
        ),
    ],
)
def test_each_shortcoming_has_its_warning(
    instrument: AnInstrument, rate_hz: float | None, said: str
) -> None:
    """In words, with the numbers that matter."""
    warnings = check(instrument, rate_hz).warnings
    assert [one.startswith(said) for one in warnings].count(True) == 1


def test_a_bag_analyser_needs_no_fast_line() -> None:
    """Where nothing sees the breath pass, the rate for it is not judged."""
    warnings = check(an_instrument(regime="chamber"), None).warnings
    assert not any("How often values come" in one for one in warnings)
