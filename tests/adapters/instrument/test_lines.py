"""Lines: put together from any pieces, and no number from what is not wholly understood."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ebbline.adapters.files.library import DATA
from ebbline.adapters.instrument.lines import (
    Assembler,
    Unreadable,
    Values,
    parse_line,
    read_number,
    shown,
)
from ebbline.adapters.instrument.profile import TimeField, TimeUnit
from ebbline.adapters.instrument.profile_file import read_profile

STREAM = read_profile(str(DATA / "profiles" / "harbour-stream.toml"))
CHAMBER = read_profile(str(DATA / "profiles" / "harbour-chamber.toml"))
SERIAL = read_profile(str(DATA / "profiles" / "harbour-serial.toml"))


def values(line: str) -> Values:
    """Return what a line of the stream example says."""
    found = parse_line(line, STREAM)
    assert isinstance(found, Values)
    return found


def why(line: str) -> tuple[str, str]:
    """Return why a line of the stream example gives nothing."""
    found = parse_line(line, STREAM)
    assert isinstance(found, Unreadable)
    return found.code, found.words


def test_columns_are_read_by_their_number() -> None:
    """Time, four gases and a flow, with one that says that it has no value."""
    found = values("12.5,3.2, 4.1 ,20.86,-,0.31")
    assert found.clock_s == 12.5
    assert found.values["h2_ppm"] == 3.2
    assert found.values["ch4_ppm"] == 4.1
    assert found.values["o2_pct"] == 20.86
    assert math.isnan(found.values["co2_pct"])
    assert found.values["flow_l_per_s"] == 0.31


def test_blanks_part_columns_in_any_number() -> None:
    """A separator of one blank stands for a run of them."""
    spaced = replace(STREAM, lines=replace(STREAM.lines, separator=" "))
    found = parse_line("  1.0  2 3   20.9 0.04  0 ", spaced)
    assert isinstance(found, Values)
    assert found.values["o2_pct"] == 20.9


def test_units_scale_and_shift_come_to_the_channels_own_unit() -> None:
    """A line in ppb, counted in tenths from an offset of 5: (5 + 0.1 n) / 1000 ppm."""
    h2 = replace(STREAM.channels[0], scale=0.1, shift=5.0, factor=1e-3)
    ours = replace(STREAM, channels=(h2, *STREAM.channels[1:]))
    found = parse_line("0,12345,4,20.9,0.04,0", ours)
    assert isinstance(found, Values)
    assert found.values["h2_ppm"] == pytest.approx((5.0 + 1234.5) * 1e-3)


def test_json_is_read_by_its_keys_and_null_is_no_value() -> None:
    """Numbers as numbers or as texts; what else is in the object does not matter."""
    found = parse_line(
        '{"gas":{"h2":"12.5","ch4":3,"o2":null,"co2":4.9,"n2":[1]},"ok":true}', CHAMBER
    )
    assert isinstance(found, Values)
    assert (found.values["h2_ppm"], found.values["ch4_ppm"]) == (12.5, 3.0)
    assert math.isnan(found.values["o2_pct"])


def test_a_pattern_must_fit_the_whole_line() -> None:
    """With a decimal comma, and nothing before or behind it."""
    found = parse_line("H2=  12,3 ppm CH4=  4,1 ppm O2= 14,02 %", SERIAL)
    assert isinstance(found, Values)
    assert found.values == {"h2_ppm": 12.3, "ch4_ppm": 4.1, "o2_pct": 14.02}
    again = parse_line("H2=  12,3 ppm CH4=  4,1 ppm O2= 14,02 %!", SERIAL)
    assert again == Unreadable(
        "garbled", "the pattern does not fit: H2=  12,3 ppm CH4=  4,1 ppm O2= 14,02 %!"
    )


@pytest.mark.parametrize("line", ["", "   ", "time,h2,ch4"])
def test_blank_lines_and_heads_are_no_fault(line: str) -> None:
    """They hold no values and are passed over."""
    assert parse_line(line, STREAM) is None


@pytest.mark.parametrize(
    ("line", "code", "words"),
    [
        ("1,2,3", "half_line", "3 columns, 6 are said: 1,2,3"),
        ("1,2,3,4,5,6,7", "garbled", "7 columns, 6 are said: 1,2,3,4,5,6,7"),
        ("1,2x,3,20.9,0,0", "refused_number", "h2_ppm: 2x is not a number"),
        ("1,nan,3,20.9,0,0", "refused_number", "h2_ppm: nan is not a number"),
        ("1,1e999,3,20.9,0,0", "refused_number", "h2_ppm: 1e999 is not a number"),
        ("1,1 234,3,20.9,0,0", "refused_number", "h2_ppm: 1 234 is not a number"),
        ("1,0x1A,3,20.9,0,0", "refused_number", "h2_ppm: 0x1A is not a number"),
        ("1,1_0,3,20.9,0,0", "refused_number", "h2_ppm: 1_0 is not a number"),
        ("1,\u0663,3,20.9,0,0", "refused_number", "h2_ppm: \\u0663 is not a number"),
        ("x,2,3,20.9,0,0", "refused_number", "no time in x,2,3,20.9,0,0"),
    ],
)
def test_what_is_not_wholly_a_number_gives_none(line: str, code: str, words: str) -> None:
    """Not one value of such a line is used."""
    assert why(line) == (code, words)


def test_another_decimal_sign_is_named() -> None:
    """A comma where the profile says a point is the fault most often made."""
    spaced = replace(STREAM, lines=replace(STREAM.lines, separator=";"))
    found = parse_line("1;2,5;3;20,9;0;0", spaced)
    assert found == Unreadable(
        "decimal_comma", "h2_ppm: 2,5 has the decimal sign ,, the profile says ."
    )


def test_a_key_that_is_missing_is_half_a_line() -> None:
    """The document is whole, but not what the profile says."""
    assert parse_line('{"gas":{"h2":1}}', CHAMBER) == Unreadable(
        "half_line", 'no field gas.ch4 in {"gas":{"h2":1}}'
    )


@pytest.mark.parametrize("line", ['{"gas":{"h2":1', "[1,2]", "3", "{" * 4000])
def test_what_is_no_object_is_garbled(line: str) -> None:
    """Cut, a list, a number, or nesting without end."""
    found = parse_line(line, CHAMBER)
    assert isinstance(found, Unreadable)
    assert found.code == "garbled"
    assert found.words.startswith("not a JSON object: ")


@pytest.mark.parametrize(
    ("unit", "text", "seconds"),
    [("s", "1.5", 1.5), ("ms", "1500", 1.5), ("min", "0.5", 30.0), ("clock", "01:02:03.5", 3723.5)],
)
def test_the_instruments_own_clock_is_read_in_its_unit(
    unit: TimeUnit, text: str, seconds: float
) -> None:
    """As seconds, whatever it counts in."""
    lines = replace(STREAM.lines, time=TimeField("1", unit))
    found = parse_line(f"{text},2,3,20.9,0.04,0", replace(STREAM, lines=lines))
    assert isinstance(found, Values)
    assert found.clock_s == pytest.approx(seconds)


@pytest.mark.parametrize("end", [b"\n", b"\r", b"\r\n"])
def test_lines_are_put_together_whatever_ends_them(end: bytes) -> None:
    """The first piece is left out: nobody saw where it began."""
    assembler = Assembler(STREAM.lines)
    assert assembler.feed(b"5,6" + end + b"1,2") == []
    assert assembler.pending == 3
    assert assembler.feed(b",3" + end + end + b"4" + end) == ["1,2,3", "4"]


def test_bytes_that_are_no_text_and_lines_without_end_are_told() -> None:
    """And what follows the next end of line is read again."""
    assembler = Assembler(STREAM.lines)
    assembler.feed(b"\n")
    (wrong,) = assembler.feed(b"\xff\xfe\n")
    assert wrong == Unreadable("garbled", "not ascii text: \\xff\\xfe")
    (endless,) = assembler.feed(b"7" * 300)
    assert endless == Unreadable("garbled", "a line is longer than 200 bytes and has no end")
    assert assembler.feed(b"7" * 300) == []
    assert assembler.feed(b"7\nnext\n") == ["next"]
    (long,) = assembler.feed(b"8" * 150 + b"8" * 60 + b"\n")
    assert long == Unreadable("garbled", "a line of 210 bytes; the longest is 200")
    assembler.feed(b"half")
    assembler.reset()
    assert assembler.feed(b"line\nwhole\n") == ["whole"]


def test_a_line_is_shown_escaped_and_short() -> None:
    """So that no byte of it can do anything to a terminal."""
    assert shown("a\x1b[31m") == "a\\x1b[31m"
    assert shown("x" * 80) == "x" * 57 + "..."


@given(st.binary(max_size=400), st.lists(st.integers(1, 40), max_size=20))
def test_any_cutting_gives_the_same_lines(data: bytes, cuts: list[int]) -> None:
    """As they arrive, or all at once."""
    whole = Assembler(SERIAL.lines)
    expected = [one for one in whole.feed(data) if isinstance(one, str)]
    pieces = Assembler(SERIAL.lines)
    found: list[str] = []
    rest = data
    for cut in cuts:
        found += [one for one in pieces.feed(rest[:cut]) if isinstance(one, str)]
        rest = rest[cut:]
    found += [one for one in pieces.feed(rest) if isinstance(one, str)]
    assert found == expected


@given(st.text(max_size=80))
def test_any_text_gives_finite_numbers_or_none(text: str) -> None:
    """And never an error."""
    for profile in (STREAM, CHAMBER, SERIAL):
        found = parse_line(text, profile)
        if isinstance(found, Values):
            assert all(math.isnan(one) or math.isfinite(one) for one in found.values.values())


@given(st.floats(-1e6, 1e6).map(lambda number: round(number, 3)), st.sampled_from(".,"))
def test_a_number_that_is_written_is_read_back(number: float, decimal: str) -> None:
    """With either decimal sign."""
    text = f"{number:.3f}".replace(".", decimal)
    assert read_number(text, decimal) == number


@given(st.floats(0.0, 1e4), st.integers(0, 6))
def test_a_cut_number_is_not_read_with_the_wrong_sign(number: float, cut: int) -> None:
    """A piece of a number is a number or nothing; a bare sign or comma is nothing."""
    text = f"{number:.2f}"[:cut]
    found = read_number(text, ".")
    assert found is None or found >= 0.0
