"""Lines with garbage in them that a lenient reader would take for blanks or overlook."""

from dataclasses import replace

import pytest

from ebbline.adapters.files.library import DATA
from ebbline.adapters.instrument.lines import Assembler, Unreadable, parse_line
from ebbline.adapters.instrument.profile import Profile
from ebbline.adapters.instrument.profile_file import read_profile

STREAM = read_profile(str(DATA / "profiles" / "harbour-stream.toml"))
CHAMBER = read_profile(str(DATA / "profiles" / "harbour-chamber.toml"))
SERIAL = read_profile(str(DATA / "profiles" / "harbour-serial.toml"))
SPACED = replace(STREAM, lines=replace(STREAM.lines, separator=" "))


@pytest.mark.parametrize("garbage", ["\x0b", "\x0c", "\x1c", "\x1d", "\x1e", "\x1f", "\x85"])
@pytest.mark.parametrize(
    ("profile", "line"),
    [
        (STREAM, "12.5,45.?,4.1,20.86,0.04,0.31"),
        (SPACED, "1.0 2 3 20.9 0.04?0"),
        (SERIAL, "H2= ?2,5 ppm CH4= 4,1 ppm O2= 14,02 %"),
    ],
    ids=["end of a column", "between columns", "before a group"],
)
def test_a_digit_that_became_a_control_character_does_not_shorten_a_number(
    profile: Profile, line: str, garbage: str
) -> None:
    """12,5 with its first digit garbled is not 2,5, though a pattern counts that as a blank."""
    found = parse_line(line.replace("?", garbage), profile)
    shown = line.replace("?", garbage.encode("unicode_escape").decode())
    assert found == Unreadable("garbled", f"a control character in {shown}")


def test_a_no_break_space_is_part_of_a_text_and_no_blank() -> None:
    """It would be stripped from an end by Python, and hide that something is there."""
    found = parse_line("12.5,45.\xa0,4.1,20.86,0.04,0.31", STREAM)
    assert found == Unreadable("refused_number", "h2_ppm: 45.\\xa0 is not a number")


@pytest.mark.parametrize(
    ("line", "path"),
    [
        ('{"gas":{"h2":1,"ch4":2,"o2":20.9,"co2":0.1,"h2":9}}', "gas.h2"),
        ('{"gas":{"h2":1,"ch4":2,"o2":20.9,"co2":0.1},"gas.h2":9}', "gas.h2"),
    ],
)
def test_a_value_that_is_there_twice_is_not_chosen_from(line: str, path: str) -> None:
    """Neither the first nor the last of two is known to be right."""
    found = parse_line(line, CHAMBER)
    assert isinstance(found, Unreadable)
    assert found.code == "garbled"
    assert found.words.startswith(f"{path} is there twice: ")


def test_an_encoding_that_fails_in_its_own_way_is_a_garbled_line() -> None:
    """Some codecs raise the parent of what the others raise."""
    form = replace(STREAM.lines, encoding="idna")
    assembler = Assembler(form)
    # A label longer than names of hosts may be.
    found = assembler.feed(b"\n" + b"xn--" + b"9" * 90 + b"\n")
    assert len(found) == 1
    assert isinstance(found[0], Unreadable)
    assert found[0].code == "garbled"
