"""A serial port, over pseudo-terminals: opened alone, read, lost, and refused in words."""

import os
import sys
import termios
from collections.abc import Iterator
from dataclasses import replace

import pytest
import serial
from serial.tools import list_ports_common

from ebbline.adapters.instrument import serial_link
from ebbline.adapters.instrument.play import Terminal
from ebbline.adapters.instrument.serial_link import SerialConnection
from ebbline.core.errors import InstrumentError
from tests.adapters.instrument.live import HandClock, at_port


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    """A pseudo-terminal."""
    found = Terminal()
    yield found
    found.close()


def no_ports() -> list[list_ports_common.ListPortInfo]:
    """Return the ports of a computer that has none."""
    return []


def two_ports() -> list[list_ports_common.ListPortInfo]:
    """Return two ports, not in order."""
    return [list_ports_common.ListPortInfo(name) for name in ("/dev/ttyUSB1", "/dev/ttyUSB0")]


@pytest.mark.parametrize("speed", [1200, 9600, 115200])
def test_bytes_come_through_as_they_are(terminal: Terminal, speed: int) -> None:
    """All 256 of them, at any speed; the port has that speed."""
    link = SerialConnection(at_port(terminal.port, speed), HandClock())
    link.open()
    assert link.read(0.0) is None
    terminal.send(bytes(range(256)))
    got = b""
    while len(got) < 256:
        received = link.read(0.05)
        got += received.data if received else b""
    assert got == bytes(range(256))
    other = os.open(terminal.port, os.O_RDONLY | os.O_NOCTTY)
    assert termios.tcgetattr(other)[4] == getattr(termios, f"B{speed}")
    os.close(other)
    link.close()


def test_a_port_that_goes_is_lost() -> None:
    """Whether bytes are waited for or only looked for."""
    for timeout_s in (0.0, 0.05):
        terminal = Terminal()
        link = SerialConnection(at_port(terminal.port), HandClock())
        link.open()
        terminal.close()
        with pytest.raises(InstrumentError) as caught:
            link.read(timeout_s)
        assert str(caught.value) == (
            f"serial port {terminal.port} is lost; allowed: a port that stays; "
            "came: Input/output error"
        )
        link.close()
        link.close()


@pytest.mark.parametrize(
    ("ports", "allowed"),
    [(two_ports, "/dev/ttyUSB0 or /dev/ttyUSB1"), (no_ports, "none, no port is there")],
)
def test_a_port_that_is_not_there_is_refused_with_those_that_are(
    monkeypatch: pytest.MonkeyPatch, ports: object, allowed: str
) -> None:
    """The name may be misspelt."""
    monkeypatch.setattr(serial_link, "comports", ports)
    with pytest.raises(InstrumentError) as caught:
        SerialConnection(at_port("/dev/none"), HandClock()).open()
    assert str(caught.value) == (
        f"serial port /dev/none cannot be opened; allowed: {allowed}; "
        "came: No such file or directory"
    )
    assert caught.value.exit_code == 4


def test_a_port_that_another_program_holds_is_refused(
    terminal: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two readers would get half of the bytes each."""
    monkeypatch.setattr(serial_link, "comports", no_ports)
    first = SerialConnection(at_port(terminal.port), HandClock())
    first.open()
    with pytest.raises(InstrumentError) as caught:
        SerialConnection(at_port(terminal.port), HandClock()).open()
    assert str(caught.value) == (
        f"serial port {terminal.port} cannot be opened; allowed: none, no port is there; "
        "came: another program holds it"
    )
    first.close()


def test_a_refusal_without_a_number_is_told_in_the_librarys_words(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Such as a speed that the port does not have."""

    def refuse(**settings: object) -> None:
        raise ValueError("no such speed")

    monkeypatch.setattr(serial_link, "comports", no_ports)
    monkeypatch.setattr(serial, "Serial", refuse)
    with pytest.raises(InstrumentError) as caught:
        SerialConnection(at_port("COM3"), HandClock()).open()
    assert str(caught.value).endswith("; came: no such speed")


def test_the_port_is_set_as_the_profile_says(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every key of the link."""
    seen: dict[str, object] = {}

    class Recorded:
        def __init__(self, **given: object) -> None:
            seen.update(given)

    monkeypatch.setattr(serial, "Serial", Recorded)
    for flow, signals in (("none", (False, False)), ("lines", (True, False))):
        link = replace(at_port("COM3", 1200), bits=7, stop_bits=2)
        SerialConnection(
            replace(link, flow_control="none" if flow == "none" else "lines"), HandClock()
        ).open()
        assert (seen["rtscts"], seen["xonxoff"]) == signals
    SerialConnection(replace(link, flow_control="characters"), HandClock()).open()
    assert seen == {
        "port": "COM3",
        "baudrate": 1200,
        "bytesize": 7,
        "parity": "N",
        "stopbits": 2,
        "rtscts": False,
        "xonxoff": True,
        "exclusive": True,
        "timeout": 0.05,
    }


def test_bytes_of_the_wrong_parity_are_marked(terminal: Terminal) -> None:
    """So that their line is not read; without parity nothing is marked."""
    marks = termios.INPCK | termios.PARMRK
    for link, marked in (
        (replace(at_port(terminal.port), parity="even"), marks),
        (at_port(terminal.port), 0),
    ):
        connection = SerialConnection(link, HandClock())
        connection.open()
        connection.read(0.01)
        other = os.open(terminal.port, os.O_RDONLY | os.O_NOCTTY)
        assert termios.tcgetattr(other)[0] & marks == marked
        os.close(other)
        connection.close()


def test_windows_marks_nothing(terminal: Terminal, monkeypatch: pytest.MonkeyPatch) -> None:
    """It has no such setting, and the port opens all the same."""
    monkeypatch.setattr(sys, "platform", "win32")
    connection = SerialConnection(replace(at_port(terminal.port), parity="odd"), HandClock())
    connection.open()
    monkeypatch.undo()
    other = os.open(terminal.port, os.O_RDONLY | os.O_NOCTTY)
    assert not termios.tcgetattr(other)[0] & termios.PARMRK
    os.close(other)
    connection.close()


def test_a_port_that_cannot_be_closed_is_let_go(
    terminal: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It vanished, so it is closed already."""

    def fail(port: serial.Serial) -> None:
        raise OSError("no such device")

    link = SerialConnection(at_port(terminal.port), HandClock())
    link.open()
    with monkeypatch.context() as patched:
        patched.setattr(serial.Serial, "close", fail)
        link.close()
    link.close()
