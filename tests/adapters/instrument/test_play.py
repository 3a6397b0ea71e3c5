"""Playing: rows are sent at their times, over a terminal or the network, and it stops at once."""

import os
import socket
import time

import pytest

from ebbline.adapters.instrument.play import Server, Speaker, Terminal
from ebbline.adapters.instrument.virtual_rows import Row
from ebbline.core.errors import InstrumentError
from tests.adapters.instrument.live import SERIAL

ROWS: list[Row] = [
    (10.0 + 0.1 * count, {"h2_ppm": float(count), "ch4_ppm": 2.0, "o2_pct": 20.9})
    for count in range(20)
]


def received_by(guest: socket.socket, count: int) -> list[bytes]:
    """Return so many lines."""
    got = b""
    while got.count(b"\n") < count:
        got += guest.recv(4096)
    return got.split(b"\r\n")[:count]


def test_rows_are_sent_at_their_times_over_the_network() -> None:
    """1.9 s at ten times the pace take 0.19 s; the first row waits for a listener."""
    with Speaker(SERIAL, ROWS, speed=10.0, way="network") as speaker:
        time.sleep(0.1)
        with socket.create_connection(("127.0.0.1", int(speaker.port)), timeout=2.0) as guest:
            begun = time.monotonic()
            lines = received_by(guest, 20)
            took_s = time.monotonic() - begun
    assert lines[0] == b"H2=0 ppm CH4=2 ppm O2=20,9 %"
    assert lines[19] == b"H2=19 ppm CH4=2 ppm O2=20,9 %"
    assert 0.15 < took_s < 1.0


def test_a_listener_that_goes_away_makes_room_for_the_next() -> None:
    """One after the other, while it plays."""
    with Speaker(SERIAL, ROWS, speed=2.0, way="network") as speaker:
        address = ("127.0.0.1", int(speaker.port))
        with socket.create_connection(address, timeout=2.0) as guest:
            first = received_by(guest, 1)
        with socket.create_connection(address, timeout=2.0) as guest:
            second = received_by(guest, 1)
    assert first != second


@pytest.mark.parametrize("way", ["terminal", "network"])
def test_a_speaker_stops_at_once_though_nobody_listens(way: str) -> None:
    """Its buffer may be full, and the next row hours away."""
    many: list[Row] = [(0.0, ROWS[0][1])] * 2000
    begun = time.monotonic()
    with Speaker(
        SERIAL, [*many, (1e5, {})], speed=1.0, way="network" if way == "network" else "terminal"
    ):
        time.sleep(0.2)
    assert time.monotonic() - begun < 1.0


def test_a_row_that_cannot_be_spoken_is_told_at_the_end() -> None:
    """Not lost in the thread that found it."""
    begun = time.monotonic()
    with (
        pytest.raises(InstrumentError) as caught,
        Speaker(SERIAL, [(0.0, {"h2_ppm": 1e300 * 10.0**20})], speed=1.0, way="terminal"),
    ):
        time.sleep(0.1)
    assert time.monotonic() - begun < 1.0
    assert str(caught.value) == (
        f"{SERIAL.file}: the values cannot be spoken; allowed: a line that the profile reads; "
        "came: H2=inf ppm CH4=- ppm O2=- %"
    )


def test_a_system_without_pseudo_terminals_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows has none."""
    monkeypatch.delattr(os, "openpty")
    with pytest.raises(InstrumentError) as caught:
        Terminal()
    assert str(caught.value) == (
        "no pseudo-terminal can be made; allowed: over the network on this system; "
        "came: over a terminal"
    )


def test_a_server_without_a_guest_is_not_ready_and_can_be_closed() -> None:
    """Nobody came."""
    server = Server()
    assert not server.ready()
    server.hang_up()
    server.close()
