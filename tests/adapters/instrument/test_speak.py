"""Speaking a profile: what is spoken is read again, and what cannot be said is refused."""

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ebbline.adapters.instrument.lines import Assembler, Values, parse_line
from ebbline.adapters.instrument.profile import Profile, TimeField, TimeUnit
from ebbline.adapters.instrument.profile_channels import UNITS
from ebbline.adapters.instrument.speak import speak
from ebbline.core.breath.trace import PHYSICAL, Channel
from ebbline.core.errors import InstrumentError
from tests.adapters.instrument.live import CHAMBER, SERIAL, STREAM


def read_again(profile: Profile, sent: bytes) -> Values:
    """Return what is read from bytes that were sent."""
    assembler = Assembler(profile.lines)
    (line,) = assembler.feed(b"\n" + sent)
    assert isinstance(line, str)
    found = parse_line(line, profile)
    assert isinstance(found, Values)
    return found


def test_each_example_is_spoken_as_its_instrument_would() -> None:
    """Columns, a pattern with decimal commas, and JSON; one value is missing."""
    values: dict[Channel, float] = {"h2_ppm": 12.3, "ch4_ppm": math.nan, "o2_pct": 20.93}
    assert speak(STREAM, values, clock_s=1.5) == b"1.500000,12.3,-,20.93,-,-\r\n"
    assert speak(SERIAL, values, clock_s=1.5) == b"H2=12,3 ppm CH4=- ppm O2=20,93 %\r\n"
    assert speak(CHAMBER, values, clock_s=1.5) == (
        b'{"gas": {"h2": 12.3, "ch4": "-", "o2": 20.93, "co2": "-"}}\r\n'
    )


def test_no_text_for_a_missing_value_is_null_in_json() -> None:
    """Where the profile has only the empty one."""
    channels = tuple(replace(one, missing=("",)) for one in CHAMBER.channels)
    bare = replace(CHAMBER, channels=channels)
    assert b'"ch4": null' in speak(bare, {"h2_ppm": 1.0}, clock_s=0.0)


@st.composite
def spoken(draw: st.DrawFn) -> tuple[Profile, Mapping[Channel, float]]:
    """Return a profile of any form, with any units and scales, and values for it."""
    profile = draw(st.sampled_from([STREAM, CHAMBER, SERIAL]))
    if profile.lines.form == "columns":
        signs: list[tuple[str, Literal[".", ","]]]
        signs = [(",", "."), (" ", ","), ("\t", "."), (";", ",")]
        separator, decimal = draw(st.sampled_from(signs))
        profile = replace(
            profile, lines=replace(profile.lines, separator=separator, decimal=decimal)
        )
    channels, values = [], {}
    for one in profile.channels:
        units = UNITS["flow" if one.channel == "flow_l_per_s" else one.channel.rpartition("_")[2]]
        unit = draw(st.sampled_from(sorted(units)))
        scale = draw(st.sampled_from([1.0, -1.0, 0.1, 250.0]))
        shift = draw(st.sampled_from([0.0, 5.0]))
        channels.append(
            replace(one, unit=unit, factor=units[unit], scale=scale, shift=shift / units[unit])
        )
        values[one.channel] = draw(st.one_of(st.just(math.nan), st.floats(*PHYSICAL[one.channel])))
    return replace(profile, channels=tuple(channels)), values


@given(case=spoken(), clock_s=st.floats(0.0, 80_000.0))
def test_what_is_spoken_is_read_again(
    case: tuple[Profile, Mapping[Channel, float]], clock_s: float
) -> None:
    """To seven digits of the number in the line, and its time to a microsecond."""
    profile, values = case
    found = read_again(profile, speak(profile, values, clock_s=clock_s))
    for one in profile.channels:
        value, again = values[one.channel], found.values[one.channel]
        number = value / one.factor - one.shift
        assert (math.isnan(value) and math.isnan(again)) or math.isclose(
            value, again, rel_tol=1e-12, abs_tol=6e-7 * abs(number * one.factor) + 1e-12
        )
    if profile.lines.time is not None:
        assert found.clock_s == pytest.approx(clock_s, abs=1e-6)


@pytest.mark.parametrize("unit", ["s", "ms", "min", "clock"])
@pytest.mark.parametrize("clock_s", [0.0, 3725.25, 86_399.999])
def test_the_instruments_clock_is_spoken_in_its_unit(unit: TimeUnit, clock_s: float) -> None:
    """A clock of the day shows thousandths."""
    profile = replace(STREAM, lines=replace(STREAM.lines, time=TimeField("1", unit)))
    found = read_again(profile, speak(profile, {"h2_ppm": 1.0}, clock_s=clock_s))
    assert found.clock_s == pytest.approx(clock_s, abs=1e-4)


def test_a_clock_of_the_day_begins_again_at_midnight() -> None:
    """Also where it is only rounded up to it."""
    profile = replace(STREAM, lines=replace(STREAM.lines, time=TimeField("1", "clock")))
    for clock_s, text in ((86_400.0 + 61.5, b"00:01:01.500"), (86_399.9999, b"00:00:00.000")):
        assert speak(profile, {"h2_ppm": 1.0}, clock_s=clock_s).startswith(text)


def refused(profile: Profile, values: Mapping[Channel, float]) -> str:
    """Return why values cannot be spoken, from what came on."""
    with pytest.raises(InstrumentError) as caught:
        speak(profile, values, clock_s=0.0)
    text = str(caught.value)
    start = (
        f"{profile.file}: the values cannot be spoken; allowed: a line that the profile reads; "
        "came: "
    )
    assert text.startswith(start)
    return text.removeprefix(start)


def test_a_line_that_would_not_be_read_is_refused() -> None:
    """No text for a missing value, a pattern that is too deep, a line that is too long."""
    channels = tuple(replace(one, missing=()) for one in STREAM.channels)
    assert refused(replace(STREAM, channels=channels), {"h2_ppm": 1.0}) == "0.000000,1,,,,"
    deep = replace(SERIAL.lines, pattern=re.compile(r"(?P<h2>\S+)(?P<ch4>\S+)(?P<o2>\S+)(?!x) "))
    gases: dict[Channel, float] = {"h2_ppm": 1.0, "ch4_ppm": 2.0, "o2_pct": 3.0}
    assert refused(replace(SERIAL, lines=deep), gases) == "123?!x "
    short = replace(SERIAL.lines, longest=20)
    assert refused(replace(SERIAL, lines=short), gases) == "H2=1 ppm CH4=2 ppm O2=3 %"
    vague = replace(SERIAL.lines, pattern=re.compile(r"(?P<h2>\S+)(?P<ch4>\S+) (?P<o2>\S+)"))
    assert refused(replace(SERIAL, lines=vague), gases | {"ch4_ppm": 25.0}) == "125 3"
    other = replace(SERIAL.lines, pattern=re.compile(r"(?P<h2>\S+) (?P<ch4>\S+) (?P<o2>\S+) µ"))
    assert refused(replace(SERIAL, lines=other), gases) == "1 2 3 \\xb5"
