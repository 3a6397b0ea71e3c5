from dataclasses import replace

import pytest
from numpy.testing import assert_allclose

from ebbline.core.errors import InputError, SettingError
from ebbline.core.rules.interpretation import Settings
from ebbline.services.choose_settings import choose_settings
from tests.helpers import build_test, library

TYPICAL = "typical values, not measured on this analyser and not checked against a paper"


def settings(protocol: str | None = None, **facts: str) -> Settings:
    """Return the settings of a test with these lines in its head."""
    return choose_settings(build_test([0], [5], facts=facts, protocol=protocol), library())


def test_without_a_word_the_service_s_settings_hold() -> None:
    """Typical noise, which says of itself that it is not measured."""
    found = settings()
    assert found.noise == library().noise
    assert found.noise_source == f"{TYPICAL} (noise_ppm, noise_fraction, gain_fraction)"
    assert found.dilution == library().dilution
    assert (found.baseline, found.minute_tolerance) == ("mean", 0.0)


def test_noise_given_for_the_test_overrides_the_typical_one_part_by_part() -> None:
    """What was given and what is typical stand apart in the source."""
    found = settings(noise_ppm="0.8", gain_fraction="0.02")
    assert (found.noise.ppm, found.noise.fraction, found.noise.gain_fraction) == (0.8, 0.10, 0.02)
    assert found.noise_source == (
        f"given for this test (noise_ppm, gain_fraction); {TYPICAL} (noise_fraction)"
    )


def test_noise_given_whole_names_no_typical_value() -> None:
    """Nothing typical is left in it."""
    found = settings(noise_ppm="0.8", noise_fraction="0.05", gain_fraction="0")
    assert (found.noise.ppm, found.noise.fraction, found.noise.gain_fraction) == (0.8, 0.05, 0.0)
    assert found.noise_source == "given for this test (noise_ppm, noise_fraction, gain_fraction)"


def test_noise_of_zero_is_given_and_not_left_out() -> None:
    """0 is a value."""
    assert settings(noise_ppm="0").noise.ppm == 0.0
    assert settings(noise_ppm="0").noise_source.startswith("given for this test (noise_ppm)")


def test_noise_outside_its_limits_is_refused() -> None:
    """By the core's own check."""
    with pytest.raises(SettingError, match="noise ppm cannot be used; allowed: 0 to 100"):
        settings(noise_ppm="101")


@pytest.mark.parametrize(("text", "minutes"), [("0", 0.0), ("5", 5.0), ("30", 30.0)])
def test_the_tolerance_of_the_test_overrides_the_service_s(text: str, minutes: float) -> None:
    """0 too, where the service has another."""
    lenient = replace(library(), minute_tolerance=10.0)
    test = build_test([0], [5], facts={"minute_tolerance": text})
    assert choose_settings(test, lenient).minute_tolerance == minutes
    assert choose_settings(build_test([0], [5]), lenient).minute_tolerance == 10.0


@pytest.mark.parametrize(("text", "came"), [("-1", "-1"), ("30.5", "30.5"), ("nan", "nan")])
def test_a_tolerance_out_of_range_is_refused(text: str, came: str) -> None:
    """Half an hour is the most."""
    with pytest.raises(SettingError) as caught:
        settings(minute_tolerance=text)
    assert str(caught.value) == (
        f"minute_tolerance cannot be used; allowed: 0 to 30 minutes; came: {came}"
    )


@pytest.mark.parametrize("rule", ["mean", "last", "lowest"])
def test_the_baseline_rule_of_the_test_is_used(rule: str) -> None:
    """Any of the three."""
    assert settings(baseline=rule).baseline == rule


def test_a_baseline_rule_that_is_not_known_is_refused() -> None:
    """The message lists the three."""
    with pytest.raises(InputError) as caught:
        settings(baseline="first")
    assert str(caught.value) == (
        "baseline rule is not known; allowed: mean, last or lowest; came: first"
    )


def test_the_protocol_s_baseline_rule_stands_between_the_test_s_and_the_service_s() -> None:
    """A protocol that is not known says nothing."""
    plan = replace(library().protocols["lactose-180"], baseline="last")
    at = replace(library(), protocols={"lactose-180": plan})

    def rule(protocol: str | None, **facts: str) -> str:
        test = build_test([0], [5], facts=facts, protocol=protocol)
        return choose_settings(test, at).baseline

    assert rule("lactose-180") == "last"
    assert rule("lactose-180", baseline="lowest") == "lowest"
    assert rule("unknown") == rule(None) == "mean"


@pytest.mark.parametrize(
    ("text", "gas", "alveolar"),
    [("o2", "o2", 13.9), ("o2 14.2", "o2", 14.2), (" CO2 5.5 ", "co2", 5.5), ("co2", "co2", 5.0)],
)
def test_a_reference_names_one_marker_and_perhaps_its_value(
    text: str, gas: str, alveolar: float
) -> None:
    """The other marker is then not used."""
    (marker,) = settings(reference=text).dilution.markers
    assert (marker.gas, marker.alveolar_pct) == (gas, alveolar)
    assert marker.u_alveolar_pct == library().markers[gas].u_alveolar_pct


def test_no_reference_leaves_samples_as_they_are() -> None:
    """Without markers nothing is normalised and nothing is refused."""
    assert settings(reference="none").dilution.markers == ()


@pytest.mark.parametrize("text", ["n2 78", "o2 high", "none 5", "o2 13.9 %", "", "13.9", "co2 5 5"])
def test_a_reference_that_cannot_be_read_is_refused(text: str) -> None:
    """The message shows how one is written."""
    with pytest.raises(InputError) as caught:
        settings(reference=text)
    assert str(caught.value) == (
        "alveolar reference cannot be read; allowed: none, or o2 or co2 with a percentage, such as "
        f"o2 13.9; came: {text}"
    )


@pytest.mark.parametrize("text", ["o2 21", "o2 nan", "co2 0.01"])
def test_a_reference_that_leaves_nothing_to_divide_by_is_refused(text: str) -> None:
    """By the core's own check."""
    with pytest.raises(SettingError, match="reference cannot be used"):
        settings(reference=text)


def test_a_negative_carbon_dioxide_reference_is_refused() -> None:
    """A percentage below 0 is none."""
    with pytest.raises(SettingError, match="alveolar CO2 reference cannot be used"):
        settings(reference="co2 -5")


def test_room_air_that_was_measured_is_used() -> None:
    """O2 of the room moves the O2 marker only; trace gases in the room are taken off."""
    found = settings(ambient_o2_pct="20.6", ambient_h2_ppm="0.5", ambient_ch4_ppm="2").dilution
    assert [marker.ambient_pct for marker in found.markers] == [20.6, 0.04]
    assert_allclose([found.ambient_h2_ppm, found.ambient_ch4_ppm], [0.5, 2.0])
    plain = settings().dilution
    assert (plain.ambient_h2_ppm, plain.ambient_ch4_ppm) == (0.0, 0.0)


def test_room_air_and_a_reference_go_together() -> None:
    """Both are said of one marker."""
    (marker,) = settings(reference="o2 14.0", ambient_o2_pct="20.6").dilution.markers
    assert (marker.ambient_pct, marker.alveolar_pct) == (20.6, 14.0)
