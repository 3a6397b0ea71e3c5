from dataclasses import replace
from typing import Any

import pytest

from ebbline.core.errors import InputError
from ebbline.services.prepare_cycle import (
    Said,
    choose_dilution,
    choose_sensors,
    switched_on_s,
)
from tests.helpers import library
from tests.services.instruments import an_instrument

NOTHING: dict[str, Any] = dict.fromkeys(("method", "begun_s", "on_for_min", "reference"))


def refusal(**said: Any) -> str:
    """Return what is said of something that a person cannot have meant."""
    with pytest.raises(InputError) as caught:
        Said(**{**NOTHING, **said})
    return str(caught.value)


def test_a_start_that_is_no_number_is_refused() -> None:
    """It must lie somewhere on the trace's clock."""
    assert refusal(begun_s=float("inf")) == (
        "begun cannot be used; allowed: a finite number of seconds; came: inf"
    )


@pytest.mark.parametrize(("minutes", "came"), [(-1.0, "-1"), (1e8, "1e+08"), (float("nan"), "nan")])
def test_a_time_since_switching_on_that_nobody_means_is_refused(minutes: float, came: str) -> None:
    """Neither before it was switched on nor for a lifetime."""
    assert refusal(on_for_min=minutes) == (
        f"on-for cannot be used; allowed: 0 to 1e+07 min; came: {came}"
    )


def test_without_a_reference_the_service_has_the_say() -> None:
    """O2, then CO2."""
    assert choose_dilution(None, library()) == library().dilution


def test_a_reference_that_is_named_comes_first_and_the_other_stays() -> None:
    """The other gas is still needed for the zero of its own channel."""
    chosen = choose_dilution("co2 5.5", library())
    markers = library().markers
    assert chosen.markers == (replace(markers["co2"], alveolar_pct=5.5), markers["o2"])
    assert replace(chosen, markers=()) == replace(library().dilution, markers=())


def test_no_reference_at_all_is_refused_for_a_trace() -> None:
    """Without one nothing would show where the breath begins."""
    with pytest.raises(InputError) as caught:
        choose_dilution("none", library())
    assert str(caught.value) == (
        "alveolar reference cannot be used for a trace; allowed: o2 or co2, with a percentage or "
        "without, such as o2 13.9; came: none"
    )


def test_channels_that_only_one_of_profile_and_trace_has_are_told() -> None:
    """Flow has no sensor, and is used all the same."""
    sensors, remarks = choose_sensors(
        an_instrument("h2_ppm", "o2_pct").sensors, ("h2_ppm", "ch4_ppm", "flow_l_per_s")
    )
    assert list(sensors) == ["h2_ppm"]
    assert remarks == [
        "The profile has o2_pct and the trace does not.",
        "The trace has ch4_ppm and the profile does not, so it was not used.",
    ]


def test_an_analyser_was_switched_on_before_time_0() -> None:
    """Where it is known at all."""
    assert switched_on_s(20.0) == -1200.0
    assert switched_on_s(None) is None
