"""The whole way over real pseudo-terminals and the network: cut, garbled, opened again."""

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from ebbline.adapters.instrument.listener import Listener
from ebbline.adapters.instrument.play import Server, Speaker, Terminal
from ebbline.adapters.instrument.profile import Profile
from ebbline.adapters.instrument.raw_log import RawLog, read_log
from ebbline.adapters.instrument.virtual_rows import Row
from ebbline.core.errors import InstrumentError
from ebbline.services.events import Arrived, Event
from tests.adapters.instrument.live import (
    LINE,
    SERIAL,
    STREAM,
    arrived,
    at_port,
    at_server,
    on,
    restored,
    troubles,
    until,
)

VALUES = {"h2_ppm": 12.5, "ch4_ppm": 4.1, "o2_pct": 20.9}


def some_rows(count: int) -> list[Row]:
    """Return rows ten a second, each with its own H2."""
    return [
        (0.1 * at, {"h2_ppm": float(at), "ch4_ppm": 4.1, "o2_pct": 20.9}) for at in range(count)
    ]


def has(code: str) -> Callable[[list[Event]], bool]:
    """Return what tells whether a trouble was told."""
    return lambda events: code in troubles(events)


def works_again(events: list[Event]) -> bool:
    """Return whether it was told that it works again."""
    return bool(restored(events))


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    """A pseudo-terminal."""
    found = Terminal()
    yield found
    found.close()


def listening(profile: Profile, terminal: Terminal, good: int = 3) -> Listener:
    """Return a listener that has had good lines."""
    listener = Listener(on(profile, at_port(terminal.port)), log=None)
    listener.poll(0.0)
    for _ in range(good + 1):
        terminal.send(LINE)
    until(listener, lambda events: len(arrived(events)) == good, 1.0)
    return listener


@pytest.mark.parametrize("speed", [1200, 9600, 115200])
def test_a_played_trace_comes_through_a_serial_port_at_any_speed(speed: int) -> None:
    """Every value but the first line's, in their order, five times as fast."""
    with Speaker(SERIAL, some_rows(40), speed=5.0, way="terminal") as speaker:
        listener = Listener(on(SERIAL, at_port(speaker.port, speed)), log=None)
        events = until(
            listener,
            lambda events: bool(arrived(events)) and arrived(events)[-1].values["h2_ppm"] == 39.0,
            3.0,
        )
        listener.close()
    came = arrived(events)
    h2 = [one.values["h2_ppm"] for one in came]
    assert h2 == [float(at) for at in range(40 - len(h2), 40)]
    assert len(h2) >= 36
    assert troubles(events) == []
    gaps = np.diff([one.at_s for one in came])
    assert np.all(gaps > 0.0)
    assert 0.015 < float(np.median(gaps)) < 0.03


def test_a_played_trace_comes_over_the_network() -> None:
    """Every line but the first."""
    with Speaker(SERIAL, some_rows(30), speed=10.0, way="network") as speaker:
        listener = Listener(on(SERIAL, at_server(speaker.port)), log=None)
        events = until(listener, lambda events: len(arrived(events)) == 29, 3.0)
        listener.close()
    assert [one.values["h2_ppm"] for one in arrived(events)] == [float(at) for at in range(1, 30)]
    assert troubles(events) == []


def test_a_pulled_plug_is_told_and_opened_again_on_another_device(tmp_path: Path) -> None:
    """Within 2 s, as a USB adapter that comes back under its name; times go on on one clock."""
    port = tmp_path / "analyser"
    first = Terminal()
    port.symlink_to(first.port)
    log = RawLog(tmp_path / "raw.log", name="Invented")
    listener = Listener(on(SERIAL, at_port(str(port))), log=log)
    listener.poll(0.0)
    first.send(LINE + LINE + LINE[:12])
    events = until(listener, lambda events: len(arrived(events)) == 1, 1.0)
    begun = time.monotonic()
    port.unlink()
    first.close()
    events += until(listener, has("unplugged"), 2.0)
    assert time.monotonic() - begun < 0.5
    time.sleep(0.3)
    second = Terminal()
    port.symlink_to(second.port)
    # It is opened within half a second; what is sent before that nobody hears.
    end = time.monotonic() + 0.8
    while time.monotonic() < end:
        second.send(LINE[12:] + LINE)
        events += listener.poll(0.1)
    listener.close()
    second.close()
    (again,) = restored(events)
    assert 0.3 < again.gap_s < 1.2
    came = arrived(events)
    assert all(one.values == VALUES for one in came)
    at_s = [one.at_s for one in came]
    assert all(b > a for a, b in pairwise(at_s))
    assert at_s[1] - at_s[0] == pytest.approx(again.gap_s, abs=1e-6)
    kinds = [one.what for one in read_log(str(tmp_path / "raw.log")).records]
    assert [kind for kind in kinds if kind != "data"] == ["opened", "lost", "opened"]


def test_silence_is_told_within_two_seconds_and_ends_with_the_next_whole_line(
    terminal: Terminal,
) -> None:
    """The cable between adapter and instrument is out: the port stays, nothing comes.

    The first line after it may be the tail of one, with digits missing, and is left out.
    """
    listener = listening(SERIAL, terminal)
    begun = time.monotonic()
    until(listener, has("silent"), 2.0)
    assert 1.3 < time.monotonic() - begun < 2.0
    terminal.send(LINE.replace(b"12,5", b"2,5"))
    terminal.send(LINE)
    events = until(listener, works_again, 1.0)
    (again,) = restored(events)
    assert 1.3 < again.gap_s < 2.2
    (came,) = (event for event in events if isinstance(event, Arrived))
    assert came.values["h2_ppm"] == 12.5
    listener.close()


@pytest.mark.parametrize(
    ("code", "line"),
    [
        ("garbled", b"something else than gas\r\n"),
        ("decimal_comma", LINE.replace(b",", b".")),
        ("refused_number", LINE.replace(b"12,5", b"12,5x")),
        ("half_lines", b"12;3\r\n"),
    ],
)
def test_lines_that_are_not_understood_are_told_within_two_seconds(
    terminal: Terminal, code: str, line: bytes
) -> None:
    """Ten lines a second; no number is taken from any of them."""
    profile = SERIAL
    if code == "half_lines":
        form = replace(STREAM.lines, separator=";", time=None)
        profile = replace(SERIAL, channels=STREAM.channels, lines=form)
    listener = Listener(on(profile, at_port(terminal.port)), log=None)
    listener.poll(0.0)
    begun = time.monotonic()
    events: list[Event] = []
    while code not in troubles(events):
        assert time.monotonic() - begun < 2.0
        terminal.send(line)
        events += listener.poll(0.1)
        time.sleep(0.1)
    assert troubles(events) == [code]
    assert arrived(events) == []
    listener.close()


def test_garbage_between_lines_never_gives_a_number_and_good_lines_end_it(
    terminal: Terminal,
) -> None:
    """Random bytes as of another speed, told within 2 s; then a second of good lines."""
    rng = np.random.default_rng(8)
    listener = listening(SERIAL, terminal)
    begun = time.monotonic()
    events: list[Event] = []
    while not troubles(events):
        assert time.monotonic() - begun < 2.0
        terminal.send(rng.integers(0, 256, 40, dtype=np.uint8).tobytes())
        events += listener.poll(0.05)
        time.sleep(0.05)
    assert troubles(events) == ["wrong_speed"]
    assert arrived(events) == []
    begun = time.monotonic()
    while not restored(events):
        assert time.monotonic() - begun < 2.0
        terminal.send(b"\r\n" + LINE)
        events += listener.poll(0.05)
        time.sleep(0.05)
    assert all(one.values == VALUES for one in arrived(events))
    listener.close()


def test_a_server_that_hangs_up_is_told_and_called_again() -> None:
    """Over the network, on the same clock."""
    server = Server()
    listener = Listener(on(SERIAL, at_server(server.port)), log=None)
    listener.poll(0.0)
    events: list[Event] = []
    assert server.ready()
    server.send(LINE + LINE)
    events += until(listener, lambda events: bool(arrived(events)), 1.0)
    begun = time.monotonic()
    server.hang_up()
    events += until(listener, has("unplugged"), 2.0)
    assert time.monotonic() - begun < 0.5
    while not restored(events):
        assert time.monotonic() - begun < 2.0
        events += listener.poll(0.05)
        if server.ready():
            server.send(LINE + LINE)
    assert all(one.values == VALUES for one in arrived(events))
    listener.close()
    server.close()


def test_a_port_that_is_not_there_is_refused_at_the_first_poll() -> None:
    """A wrong name is not waited for."""
    listener = Listener(on(SERIAL, at_port("/dev/there-is-none")), log=None)
    with pytest.raises(
        InstrumentError, match=r"^serial port /dev/there-is-none cannot be opened; "
    ):
        listener.poll(0.1)
    listener.close()
