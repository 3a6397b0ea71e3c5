import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.core.breath.noise import Noise
from ebbline.core.breath.reading import Dilution, Reading, read_sample
from ebbline.core.errors import SettingError
from tests.helpers import CO2, O2, a_dilution, known, library

NOISE = Noise(ppm=1.5, fraction=0.1, gain_fraction=0.05)


def read(
    h2: float = 30.0,
    ch4: float | None = 12.0,
    *,
    o2: float | None = None,
    co2: float | None = None,
    dilution: Dilution | None = None,
) -> Reading:
    """Return the reading of one sample."""
    return read_sample(
        h2_ppm=h2,
        ch4_ppm=ch4,
        o2_pct=o2,
        co2_pct=co2,
        noise=NOISE,
        dilution=dilution or a_dilution(O2, CO2),
    )


@pytest.mark.parametrize(
    ("refuse", "accept"), [(0.0, 0.985), (0.9, 0.8), (0.5, 1.1), (float("nan"), 0.9)]
)
def test_limits_in_the_wrong_order_are_refused(refuse: float, accept: float) -> None:
    """The message says the order that is allowed and both values that came."""
    with pytest.raises(SettingError) as caught:
        a_dilution(O2, refuse_fraction=refuse, accept_fraction=accept)
    assert str(caught.value) == (
        "dilution limits cannot be used; allowed: 0 < refuse_fraction <= accept_fraction <= 1; "
        f"came: refuse_fraction {refuse:g}, accept_fraction {accept:g}"
    )


def test_a_sample_without_marker_gas_is_taken_as_it_is() -> None:
    """Nothing is known of its dilution, so nothing is scaled and no fraction is claimed."""
    found = read()
    assert (found.quality, found.alveolar_fraction, found.notes) == ("accepted", None, ())
    assert found.h2.value_ppm == found.h2.raw_ppm == 30.0
    assert found.h2.normalised_ppm is None
    assert_allclose(
        [known(found.h2.sd_ppm), known(found.h2.u_ppm)], [np.hypot(1.5, 3.0), 3.6742346141747673]
    )
    assert found.h2.sd_ppm == found.h2.sd_without_marker_ppm
    assert (found.scale_u, found.reference_u) == (0.0, 0.0)


def test_a_sample_is_taken_as_it_is_where_the_service_uses_no_marker() -> None:
    """Without references an O2 value is only kept."""
    found = read(o2=19.5, dilution=a_dilution())
    assert (found.quality, found.alveolar_fraction) == ("accepted", None)
    assert found.h2.value_ppm == 30.0


def test_a_diluted_sample_is_normalised_and_says_so() -> None:
    """Both gases are scaled by one factor; the raw values stay beside them."""
    found = read(o2=16.0)
    assert found.quality == "normalised"
    assert found.notes == ("O2 16 %: alveolar fraction 0.70, scaled by 1.43",)
    assert found.ch4 is not None
    assert (found.h2.raw_ppm, found.ch4.raw_ppm) == (30.0, 12.0)
    assert_allclose([known(found.h2.value_ppm), known(found.ch4.value_ppm)], [300 / 7, 120 / 7])
    assert found.h2.value_ppm == found.h2.normalised_ppm
    assert_allclose(known(found.alveolar_fraction), 0.7)
    assert_allclose(found.scale_u, 0.2 / 4.9)


def test_the_independent_part_of_a_scaled_value_is_noise_and_marker_as_squares() -> None:
    """With nothing in the room, sd = value times the relative parts."""
    found = read(o2=16.0)
    k = 10 / 7
    assert_allclose(known(found.h2.sd_without_marker_ppm), k * np.hypot(1.5, 3.0))
    assert_allclose(known(found.h2.sd_ppm), np.hypot(k * np.hypot(1.5, 3.0), 30.0 * k * 0.2 / 4.9))


def test_the_part_of_the_alveolar_reference_is_kept_apart() -> None:
    """Its relative uncertainty is u(L)/(A - L), the same for every sample of a test."""
    markers = library().dilution.markers
    parts = [read(o2=o2, dilution=a_dilution(*markers)) for o2 in (14.5, 15.5, 17.0)]
    assert_allclose([part.reference_u for part in parts], 0.5 / 7.0)


@pytest.mark.parametrize(
    ("o2", "quality"),
    [(13.9, "accepted"), (14.0, "accepted"), (14.01, "normalised"), (17.4, "normalised"),
     (17.41, "refused"), (20.9, "refused"), (9.5, "accepted")],
)  # fmt: skip
def test_the_limits_are_14_percent_and_exactly_half_alveolar(o2: float, quality: str) -> None:
    """Source: common practice, no source: accepted to 14 %, refused above 17.4 % (k above 2)."""
    assert read(o2=o2).quality == quality


@pytest.mark.parametrize(
    ("co2", "quality"),
    [(5.2, "accepted"), (4.0, "normalised"), (2.6, "normalised"), (2.4, "refused")],
)
def test_carbon_dioxide_serves_where_oxygen_was_not_measured(co2: float, quality: str) -> None:
    """Source: common practice, no source: refused below about 2.5 % with a reference of 5 %."""
    assert read(co2=co2).quality == quality


def test_oxygen_is_preferred_where_both_were_measured() -> None:
    """The first marker in the service's order decides; the other one is not looked at."""
    assert read(o2=14.0, co2=1.0).quality == "accepted"
    swapped = a_dilution(CO2, O2)
    assert read(o2=14.0, co2=1.0, dilution=swapped).quality == "refused"


def test_a_refused_sample_keeps_its_raw_values_and_says_why() -> None:
    """Nothing of it counts, so nothing but the raw values is stated."""
    found = read(o2=19.4)
    assert found.quality == "refused"
    assert found.notes == ("O2 19.4 %: alveolar fraction 0.21, below the limit of 0.5; too dilute",)
    for value in (found.h2, found.ch4):
        assert value is not None
        assert (value.normalised_ppm, value.value_ppm, value.u_ppm, value.sd_ppm) == (None,) * 4
        assert value.sd_without_marker_ppm is None
        assert value.raw_ppm in (30.0, 12.0)


def test_a_sample_beyond_room_air_is_refused_without_a_negative_fraction_in_words() -> None:
    """A drifted sensor reads more O2 than the room has."""
    assert read(o2=21.3).notes == (
        "O2 21.3 %: alveolar fraction 0.00, below the limit of 0.5; too dilute",
    )


def test_methane_that_was_not_measured_stays_unmeasured() -> None:
    """None is not zero."""
    assert read(ch4=None, o2=16.0).ch4 is None


def test_an_accepted_sample_with_a_marker_states_its_value_twice() -> None:
    """Raw and normalised value are the same number, with the noise of the raw one."""
    found = read(o2=13.0)
    assert (found.h2.normalised_ppm, found.h2.value_ppm) == (30.0, 30.0)
    assert_allclose(known(found.h2.sd_ppm), np.hypot(1.5, 3.0))
    assert (found.scale_u, found.reference_u, found.notes) == (0.0, 0.0, ())


def test_a_scaled_value_below_the_room_is_not_negative() -> None:
    """Hydrogen below the room's, scaled, stops at 0."""
    found = read(h2=0.0, o2=17.0, dilution=a_dilution(O2, ambient_h2_ppm=4.0))
    assert found.h2.value_ppm == 0.0


@pytest.mark.parametrize("o2", [None, 13.9])
def test_a_display_below_zero_counts_as_it_was_shown(o2: float | None) -> None:
    """It is noise about 0, whether O2 was measured or not; a normalised value is never negative."""
    found = read(h2=-1.0, o2=o2).h2
    assert (found.raw_ppm, found.value_ppm) == (-1.0, -1.0)
    assert found.normalised_ppm == (None if o2 is None else 0.0)
