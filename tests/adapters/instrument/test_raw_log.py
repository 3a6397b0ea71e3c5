"""The raw log: every byte is kept, can be read again, and a torn end is told."""

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ebbline.adapters.instrument.raw_log import (
    RawLog,
    Record,
    escape,
    read_log,
    unescape,
    utc_now,
)
from ebbline.core.errors import InputError, InstrumentError


def noon() -> datetime:
    """Return a time of day in another zone than UTC."""
    return datetime(2030, 1, 2, 13, 0, 0, 5, tzinfo=timezone(timedelta(hours=1)))


def a_log(path: Path) -> None:
    """Write a log of three records."""
    log = RawLog(path, name="Invented", utc=noon)
    log.add(0.0, "opened", b"")
    log.add(0.25, "data", b"1.5\t\x00\xff\\\r\n")
    log.add(1.0, "lost", "gone – so".encode())
    log.close()


def refused(path: Path, text: bytes) -> str:
    """Return why a log is refused, without its name."""
    path.write_bytes(text)
    with pytest.raises(InstrumentError) as caught:
        read_log(str(path))
    return str(caught.value).removeprefix(str(path))


def test_a_log_is_text_with_times_of_day_in_utc(tmp_path: Path) -> None:
    """One record a line: time of day, seconds, what it is, and the bytes, escaped."""
    a_log(tmp_path / "raw.log")
    assert (tmp_path / "raw.log").read_text(encoding="ascii").split("\n") == [
        "# ebbline raw log 1 Invented",
        "2030-01-02T12:00:00.000005Z\t0.000000\topened\t",
        "2030-01-02T12:00:00.000005Z\t0.250000\tdata\t1.5\\t\\x00\\xff\\\\\\r\\n",
        "2030-01-02T12:00:00.000005Z\t1.000000\tlost\tgone \\xe2\\x80\\x93 so",
        "",
    ]


def test_a_log_gives_back_what_was_written(tmp_path: Path) -> None:
    """The bytes and their times."""
    a_log(tmp_path / "raw.log")
    found = read_log(str(tmp_path / "raw.log"))
    assert not found.torn
    assert found.records == (
        Record(0.0, "opened", b""),
        Record(0.25, "data", b"1.5\t\x00\xff\\\r\n"),
        Record(1.0, "lost", "gone – so".encode()),
    )


def test_a_record_is_in_the_file_as_soon_as_it_is_added(tmp_path: Path) -> None:
    """Whoever pulls the plug of the computer finds it there."""
    log = RawLog(tmp_path / "raw.log", name="Invented")
    log.add(0.5, "data", b"x")
    assert read_log(str(tmp_path / "raw.log")).records == (Record(0.5, "data", b"x"),)
    log.close()


@given(data=st.binary(max_size=200))
def test_any_bytes_come_back_from_their_escaped_form(data: bytes) -> None:
    """On one line, in ASCII, without a tab."""
    text = escape(data)
    assert text.isascii()
    assert text.isprintable()
    assert unescape(text) == data


@pytest.mark.parametrize("text", ["é", "\\", "\\x4", "\\u0041", "\\101", "\\x41"])
def test_a_text_that_no_escape_writes_gives_no_bytes(text: str) -> None:
    """It was damaged, or not written by this program."""
    assert unescape(text) is None


@pytest.mark.parametrize("cut", [1, 2, 10, 40])
def test_a_torn_last_line_is_left_out_and_told(tmp_path: Path, cut: int) -> None:
    """What came before it is kept."""
    a_log(tmp_path / "raw.log")
    whole = (tmp_path / "raw.log").read_bytes()
    (tmp_path / "raw.log").write_bytes(whole[:-cut])
    found = read_log(str(tmp_path / "raw.log"))
    assert found.torn
    assert [record.what for record in found.records] == ["opened", "data"]


def test_what_is_no_raw_log_is_refused(tmp_path: Path) -> None:
    """By its first line, or because it is no text."""
    path = tmp_path / "raw.log"
    assert refused(path, b"time;h2\n1;2\n") == (
        ": is no raw log; allowed: a raw log of ebbline; came: a first line of 'time;h2'"
    )
    assert refused(path, b"\xff\xfe") == (
        ": is no raw log; allowed: a raw log of ebbline; came: byte 0 is not ASCII"
    )


@pytest.mark.parametrize(
    "line",
    ["", "a\tb", "t\t1.0\tdata\tx", "t\t1.000000\tother\tx", "t\tnan\tdata\tx", "t\t1.0\tdata\t\\"],
)
def test_a_damaged_line_before_the_last_refuses_the_log(tmp_path: Path, line: str) -> None:
    """A replay that leaves something out in silence would be another measurement."""
    text = f"# ebbline raw log 1 x\n{line}\nt\t2.000000\tdata\ty\n"
    assert refused(tmp_path / "raw.log", text.encode()) == (
        f": line 2 is damaged; allowed: a raw log of ebbline; came: {line!r}"
    )


def test_a_log_that_goes_back_in_time_is_refused(tmp_path: Path) -> None:
    """Two logs were put together."""
    text = b"# ebbline raw log 1 x\nt\t2.000000\tdata\ty\nt\t1.500000\tdata\ty\n"
    assert refused(tmp_path / "raw.log", text) == (
        ": line 3 goes back in time; allowed: a raw log of ebbline; came: 1.500000 s"
    )


@pytest.mark.parametrize(
    ("name", "reason"), [("none.log", "No such file or directory"), ("a\0b", "embedded null byte")]
)
def test_a_log_that_cannot_be_read_is_refused(name: str, reason: str) -> None:
    """With the reason of the operating system."""
    with pytest.raises(InstrumentError) as caught:
        read_log(name)
    assert str(caught.value) == (
        f"{name}: cannot be read; allowed: a file that can be read; came: {reason}"
    )


def test_a_log_is_never_written_over(tmp_path: Path) -> None:
    """It is evidence."""
    path = tmp_path / "raw.log"
    path.write_text("there", encoding="ascii")
    with pytest.raises(InputError) as caught:
        RawLog(path, name="Invented")
    assert str(caught.value) == (
        f"{path}: the raw log cannot be made; allowed: a new file in a folder that can be written; "
        "came: File exists"
    )
    assert path.read_text(encoding="ascii") == "there"


def test_the_time_of_day_has_its_zone() -> None:
    """UTC, so that no change to summer time is in a log."""
    assert utc_now().tzinfo is UTC
