"""Profiles: what is read, and the whole text of every refusal."""

from pathlib import Path

import pytest

from ebbline.adapters.files.library import DATA
from ebbline.adapters.instrument.profile import SerialLink, SimulatedLink
from ebbline.adapters.instrument.profile_file import LARGEST_BYTES, read_profile
from ebbline.core.breath.response import Response
from ebbline.core.errors import ProfileError

SERIAL = (DATA / "profiles" / "harbour-serial.toml").read_text(encoding="utf-8")
STREAM = (DATA / "profiles" / "harbour-stream.toml").read_text(encoding="utf-8")


def refused(tmp_path: Path, text: str) -> str:
    """Return why a profile is refused, without the name of its file."""
    path = tmp_path / "p.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProfileError) as caught:
        read_profile(str(path))
    assert caught.value.exit_code == 2
    return str(caught.value).removeprefix(str(path))


@pytest.mark.parametrize("name", ["harbour-serial", "harbour-stream", "harbour-chamber"])
def test_the_profiles_that_come_with_ebbline_can_be_read_and_say_invented(name: str) -> None:
    """They are the examples of the how-to."""
    profile = read_profile(str(DATA / "profiles" / f"{name}.toml"))
    assert profile.invented
    assert "(invented)" in profile.name
    assert "h2_ppm" in profile.sensors


def test_a_profile_is_read_key_by_key() -> None:
    """The serial example: port, pattern, decimal comma, and what is known of hydrogen."""
    profile = read_profile(str(DATA / "profiles" / "harbour-serial.toml"))
    assert profile.link == SerialLink("/dev/ttyUSB0", 9600, 8, "none", 1, "none")
    assert (profile.lines.form, profile.lines.decimal, profile.silent_after_s) == (
        "pattern",
        ",",
        1.5,
    )
    h2 = profile.sensors["h2_ppm"]
    assert (h2.regime, h2.noise, h2.u_gain_fraction) == ("chamber", 0.6, 0.006)
    assert h2.response == Response(delay_s=1.0, tau_s=17.37, tau2_s=0.0)
    simulated = read_profile(str(DATA / "profiles" / "harbour-stream.toml"))
    assert simulated.link == SimulatedLink("stream", 11, 1.0)
    assert [one.channel for one in simulated.channels][-1] == "flow_l_per_s"
    assert "flow_l_per_s" not in simulated.sensors


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        (
            "speed = 9600",
            "speed = 12",
            (
                ", key link.speed: value cannot be used; allowed: a whole number, 50 to 4000000; "
                "came: 12"
            ),
        ),
        (
            "speed = 9600\n",
            "",
            (
                ", key link.speed: key is missing; allowed: a whole number, 50 to 4000000; "
                "came: nothing"
            ),
        ),
        (
            "speed = 9600",
            "baud = 9600\nspeed = 9600",
            (
                ", key link.baud: key is not known; allowed: kind, silent_after_s, port, "
                "speed, bits, "
                "parity, stop_bits or flow_control; came: baud"
            ),
        ),
        (
            'parity = "none"',
            'parity = "mark"',
            ", key link.parity: value cannot be used; allowed: none, even or odd; came: mark",
        ),
        (
            'kind = "serial"',
            'kind = "radio"',
            (
                ", key link.kind: value cannot be used; allowed: serial, tcp, replay or simulated; "
                "came: radio"
            ),
        ),
        (
            "silent_after_s = 1.5",
            "silent_after_s = 5",
            ", key link.silent_after_s: value cannot be used; allowed: 0.1 to 2 s; came: 5",
        ),
        (
            "invented = true",
            'invented = "yes"',
            ", key invented: value cannot be used; allowed: true or false; came: yes",
        ),
        (
            "invented = true",
            "invented = true\nmaker = 1",
            (
                ", key maker: key is not known; allowed: name, invented, link, lines or channels; "
                "came: maker"
            ),
        ),
        (
            'name = "Harbour serial analyser (invented)"',
            'name = " "',
            ", key name: value cannot be used; allowed: a text; came:  ",
        ),
        (
            'encoding = "ascii"',
            'encoding = "hex"',
            (
                ", key lines.encoding: is not known; allowed: one that holds ASCII, such as "
                "utf-8 or "
                "latin-1; "
                "came: hex"
            ),
        ),
        (
            "(?P<h2>",
            "((?P<h2>",
            (
                ", key lines.pattern: is not a regular expression; allowed: Python's syntax; "
                "came: missing ), unterminated subpattern at position 6"
            ),
        ),
        (
            'field = "h2"',
            'field = "hydrogen"',
            (
                ", key channels.h2_ppm.field: value cannot be used; allowed: a group of the "
                "pattern, "
                "h2, ch4 or o2; came: hydrogen"
            ),
        ),
        (
            'field = "ch4"',
            'field = "h2"',
            ", key channels.h2_ppm.field: is taken twice; allowed: one channel a field; came: h2",
        ),
        (
            "[channels.o2_pct]",
            "[channels.n2_pct]",
            (
                ", key channels.n2_pct: key is not known; allowed: h2_ppm, ch4_ppm, o2_pct, "
                "co2_pct "
                "or flow_l_per_s; came: n2_pct"
            ),
        ),
        (
            'unit = "percent"',
            'unit = "kPa"',
            (
                ", key channels.o2_pct.unit: value cannot be used; allowed: percent, fraction "
                "or ppm; "
                "came: kPa"
            ),
        ),
        (
            'regime = "stream"',
            'regime = "tube"',
            (
                ", key channels.o2_pct.regime: value cannot be used; allowed: stream or chamber; "
                "came: tube"
            ),
        ),
    ],
)
def test_a_profile_is_refused_with_key_and_what_was_allowed(
    tmp_path: Path, old: str, new: str, why: str
) -> None:
    """One key of the serial example made wrong."""
    assert old in SERIAL
    assert refused(tmp_path, SERIAL.replace(old, new, 1)) == why


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        (
            "field = 2\n",
            "field = 7\n",
            ", key channels.h2_ppm.field: value cannot be used; allowed: a column, 1 to 6; came: 7",
        ),
        (
            'separator = ","',
            'separator = "."',
            ", key lines.separator: is the decimal sign too; allowed: other than .; came: .",
        ),
        (
            "scale = 1\n",
            "scale = 0\n",
            (
                ", key channels.h2_ppm.scale: value cannot be used; allowed: -1e+09 to 1e+09, "
                "not 0; "
                "came: 0"
            ),
        ),
        (
            "tau_s = 0.217",
            "tau_s = 0",
            ", key channels.h2_ppm.tau_s: value cannot be used; allowed: 0.001 to 600 s; came: 0",
        ),
        (
            "noise = 0.6\nnoise_fraction = 0.01\nresolution = 0.1",
            "noise = 0\nnoise_fraction = 0.01\nresolution = 0",
            (
                ", key channels.h2_ppm: noise cannot be used; allowed: above 0 where no "
                "resolution is "
                "known; came: 0"
            ),
        ),
        (
            "lowest = -20\nhighest = 500",
            "lowest = 500\nhighest = -20",
            (
                ", key channels.h2_ppm: range cannot be used; allowed: lowest below highest; "
                "came: 500 to -20"
            ),
        ),
        (
            'missing = ["", "-"]',
            'missing = "-"',
            (
                ", key channels.h2_ppm.missing: value cannot be used; allowed: a list of texts; "
                "came: -"
            ),
        ),
        (
            "[channels.h2_ppm]",
            "[channels]\nh2_ppm = 3\n[channels2.h2_ppm]",
            (
                ", key channels2: key is not known; allowed: name, invented, link, lines or "
                "channels; "
                "came: channels2"
            ),
        ),
        (
            "seed = 11",
            "seed = true",
            (
                ", key link.seed: value cannot be used; allowed: a whole number, 0 to 4294967295; "
                "came: true"
            ),
        ),
    ],
)
def test_columns_and_sensors_are_refused_too(tmp_path: Path, old: str, new: str, why: str) -> None:
    """One key of the stream example made wrong."""
    assert old in STREAM
    assert refused(tmp_path, STREAM.replace(old, new, 1)) == why


def test_a_table_that_is_missing_or_none_is_named(tmp_path: Path) -> None:
    """Without lines nothing can be read, and a number is no table."""
    head = 'name = "x"\ninvented = true\n'
    assert refused(tmp_path, head) == (
        ", key lines: table is missing; allowed: [lines]; came: nothing"
    )
    assert refused(tmp_path, head + "lines = 3\n") == (
        ", key lines: is not a table; allowed: [lines]; came: 3"
    )


def test_a_profile_without_a_gas_is_refused(tmp_path: Path) -> None:
    """A flow alone makes no breath test."""
    before, _, rest = STREAM.partition("\n[channels.h2_ppm]")
    flow = rest[rest.index("\n[channels.flow_l_per_s]") :]
    assert refused(tmp_path, before + flow) == (
        ", key channels: no gas; allowed: h2_ppm, ch4_ppm, o2_pct or co2_pct; came: none"
    )


def test_what_is_no_profile_at_all_is_refused(tmp_path: Path) -> None:
    """No file, no TOML, no text, or far too much of it."""
    with pytest.raises(ProfileError) as caught:
        read_profile(str(tmp_path / "none.toml"))
    assert str(caught.value) == (
        f"{tmp_path / 'none.toml'}: cannot be read; allowed: a file that can be read; "
        "came: No such file or directory"
    )
    assert refused(tmp_path, "name = \n") == (
        ": is not TOML; allowed: TOML 1.0; came: Invalid value (at line 1, column 8)"
    )
    assert refused(tmp_path, "#" * (LARGEST_BYTES + 1)) == (
        ": is too large; allowed: up to 100000 bytes; came: 100001 bytes"
    )
    (tmp_path / "b.toml").write_bytes(b'name = "\xff"')
    with pytest.raises(ProfileError) as caught:
        read_profile(str(tmp_path / "b.toml"))
    assert str(caught.value).endswith("is not text; allowed: UTF-8; came: byte 8")
