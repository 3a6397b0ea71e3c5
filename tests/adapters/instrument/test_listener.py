"""The listener over a fake link: logged first, no wrong number, one clock, opened again."""

import errno
import time
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ebbline.adapters.instrument.listener import Listener
from ebbline.adapters.instrument.raw_log import RawLog, Record, What, read_log
from ebbline.core.errors import InstrumentError
from ebbline.services.events import Restored
from tests.adapters.instrument.live import (
    LINE,
    SERIAL,
    STREAM,
    FakeConnection,
    arrived,
    drain,
    troubles,
)


def a_listener(link: FakeConnection, log: RawLog | None = None) -> Listener:
    """Return a listener with the serial example on a fake link."""
    return Listener(SERIAL, clock=link.clock, log=log, connection=link)


def test_values_come_at_the_time_of_their_line() -> None:
    """The first piece is left out, since its beginning was not seen."""
    link = FakeConnection()
    listener = a_listener(link)
    link.put(b"5 ppm O2= 20,90 %\r\n")
    for tenth in range(1, 4):
        link.clock.now_s = tenth / 10.0
        link.put(LINE)
    events = arrived(drain(listener, link))
    assert [one.at_s for one in events] == pytest.approx([0.1, 0.2, 0.3])
    assert events[0].values == {"h2_ppm": 12.5, "ch4_ppm": 4.1, "o2_pct": 20.9}


def test_a_link_that_cannot_be_opened_at_first_is_refused() -> None:
    """Waiting for a port with a wrong name would be waiting for ever."""
    link = FakeConnection()
    link.refusals.append(InstrumentError("no such port"))
    with pytest.raises(InstrumentError, match=r"^no such port$"):
        a_listener(link).poll(0.0)


def test_a_lost_link_is_opened_again_half_a_second_later_at_the_earliest() -> None:
    """And again each half second, on the same clock."""
    link = FakeConnection()
    listener = a_listener(link)
    link.put(b"\n" + LINE)
    drain(listener, link)
    link.clock.now_s = 1.0
    link.waiting.append(InstrumentError("gone"))
    assert troubles(list(listener.poll(0.0))) == ["unplugged"]
    link.refusals.append(InstrumentError("no such port"))
    for now_s, opened in ((1.4, 1), (1.6, 1), (1.9, 1), (2.2, 2)):
        link.clock.now_s = now_s
        listener.poll(0.0)
        assert link.opened == opened
    link.clock.now_s = 2.5
    link.put(b"rest of a line\r\n" + LINE)
    events = drain(listener, link)
    assert [one.at_s for one in arrived(events)] == [2.5]
    assert [one.gap_s for one in events if isinstance(one, Restored)] == [2.5]


def test_half_a_line_before_a_cut_is_not_put_to_what_comes_after() -> None:
    """12 and 34 would be 1234."""
    link = FakeConnection()
    listener = a_listener(link)
    link.put(LINE + b"H2= 1")
    drain(listener, link)
    link.waiting.append(InstrumentError("gone"))
    listener.poll(0.0)
    link.clock.now_s = 0.6
    link.put(LINE[4:] + LINE)
    assert [one.values["h2_ppm"] for one in arrived(drain(listener, link))] == [12.5]


def test_half_a_line_before_a_pause_is_not_put_to_what_comes_after() -> None:
    """A cable was out for less time than silence is told after."""
    link = FakeConnection()
    listener = a_listener(link)
    link.put(LINE + b"H2= 1")
    drain(listener, link)
    link.clock.now_s = 0.8
    link.put(LINE[4:] + LINE)
    assert [one.values["h2_ppm"] for one in arrived(drain(listener, link))] == [12.5]


def test_an_instrument_may_send_the_end_of_each_line_before_the_next_one() -> None:
    """A second later the line is whole all the same."""
    link = FakeConnection()
    listener = a_listener(link)
    events = []
    for second in range(4):
        link.clock.now_s = float(second)
        link.put(b"\r\n" + LINE.rstrip())
        events += drain(listener, link)
    assert [one.at_s for one in arrived(events)] == [1.0, 2.0, 3.0]
    assert troubles(events) == []


def test_lines_cut_in_any_way_come_whole() -> None:
    """Byte by byte."""
    link = FakeConnection()
    listener = a_listener(link)
    for at, byte in enumerate(LINE * 3):
        link.clock.now_s = 0.01 * at
        link.put(bytes([byte]))
    assert len(arrived(drain(listener, link))) == 2


@settings(max_examples=200, deadline=None)
@given(pieces=st.lists(st.one_of(st.binary(max_size=60), st.just(LINE)), max_size=12))
def test_random_bytes_never_raise_and_never_give_a_number_that_was_not_sent(
    pieces: list[bytes],
) -> None:
    """Between good lines, in any order; an end of a line after each piece."""
    link = FakeConnection()
    listener = a_listener(link)
    for at, piece in enumerate(pieces):
        link.clock.now_s = 0.1 * at
        link.put(piece + b"\n")
    for one in arrived(drain(listener, link)):
        assert one.values == {"h2_ppm": 12.5, "ch4_ppm": 4.1, "o2_pct": 20.9}


def test_a_clock_that_jumps_is_told_before_the_value_that_it_came_with() -> None:
    """And times are those of arrival."""
    link = FakeConnection()
    listener = Listener(STREAM, clock=link.clock, log=None, connection=link)
    events = []
    for tenth in range(40):
        link.clock.now_s = tenth / 10.0
        clock_s = 7.05 + tenth / 10.0 - (5.0 if tenth >= 20 else 0.0)
        link.put(b"%.2f,3,4,20.9,0.04,0\r\n" % clock_s)
        events += drain(listener, link)
    assert troubles(events) == ["clock_jumped"]
    at_s = [one.at_s for one in arrived(events)]
    assert at_s == pytest.approx([tenth / 10.0 for tenth in range(1, 40)])


def test_bytes_are_logged_before_they_are_read(tmp_path: Path) -> None:
    """With the opening and the loss of the link, and what cannot be read too."""
    link = FakeConnection()
    log = RawLog(tmp_path / "raw.log", name="Invented")
    listener = a_listener(link, log)
    link.clock.now_s = 0.1
    link.put(b"\xff\x00" + LINE)
    link.waiting.append(InstrumentError("gone"))
    drain(listener, link)
    listener.close()
    assert read_log(str(log.path)).records == (
        Record(0.1, "opened", b""),
        Record(0.1, "data", b"\xff\x00" + LINE),
        Record(0.1, "lost", b"gone"),
    )


class FullDisk(RawLog):
    """A log on a disk that is full."""

    def add(self, at_s: float, what: What, data: bytes) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    def close(self) -> None:
        super().close()
        raise OSError(errno.ENOSPC, "No space left on device")


def test_a_full_disk_is_told_and_values_go_on(tmp_path: Path) -> None:
    """The breath under way is more than its log."""
    link = FakeConnection()
    listener = a_listener(link, FullDisk(tmp_path / "raw.log", name="Invented"))
    link.put(b"\n" + LINE)
    events = drain(listener, link)
    assert troubles(events) == ["not_logged"]
    assert len(arrived(events)) == 1
    listener.close()


def test_a_log_that_cannot_be_closed_does_not_hinder_the_end(tmp_path: Path) -> None:
    """The result is still to be shown."""
    link = FakeConnection()
    listener = a_listener(link, FullDisk(tmp_path / "raw.log", name="Invented"))
    listener.close()
    assert (listener.over, link.closed) == (True, 1)
    assert listener.poll(1.0) == ()


def test_a_remark_of_the_link_is_told_when_it_is_open() -> None:
    """A replay says that its log is torn."""
    link = FakeConnection()
    link.remark = "the last line broke off"
    assert troubles(list(a_listener(link).poll(0.0))) == ["torn_log"]


def test_a_poll_takes_no_longer_than_it_may() -> None:
    """A link that is lost and does not come back."""
    link = FakeConnection()
    listener = Listener(replace(SERIAL), log=None, connection=link)
    listener.poll(0.0)
    link.waiting.append(InstrumentError("gone"))
    assert troubles(list(listener.poll(0.1))) == ["unplugged"]
    begun = time.monotonic()
    assert listener.poll(0.25) == ()
    assert 0.2 < time.monotonic() - begun < 0.6
