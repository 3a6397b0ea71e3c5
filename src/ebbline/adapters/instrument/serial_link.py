"""A link over a serial port."""

import sys
from collections.abc import Callable
from errno import EAGAIN
from os import strerror

import serial
from serial.tools.list_ports import comports

from ebbline.adapters.instrument.links import Pace, Received
from ebbline.adapters.instrument.profile import SerialLink
from ebbline.core.errors import InstrumentError, list_allowed

_FAULTS: tuple[type[Exception], ...] = (OSError, ValueError)
try:
    import termios
except ImportError:  # Windows has none.
    pass
else:
    _FAULTS = (*_FAULTS, termios.error)

# One wait for a byte, s; how long a read takes at the most.
_WAIT_S = 0.05
_PARITY = {"none": serial.PARITY_NONE, "even": serial.PARITY_EVEN, "odd": serial.PARITY_ODD}


class SerialConnection:
    """An instrument on a serial port.

    Parameters
    ----------
    link : SerialLink
        Port and its settings.
    clock : callable
        Returns seconds that never go back.
    """

    over = False
    remark = ""

    def __init__(self, link: SerialLink, clock: Callable[[], float]) -> None:
        self._link = link
        self._pace = Pace(clock, speed=1.0, start_s=0.0)
        self._port: serial.Serial | None = None

    @property
    def now_s(self) -> float:
        """Seconds since it was made."""
        return self._pace.now_s

    def open(self) -> None:
        """Open the port for this program alone.

        Raises
        ------
        InstrumentError
            If it cannot be opened, with the ports that are there.
        """
        link = self._link
        try:
            port = serial.Serial(
                port=link.port,
                baudrate=link.speed,
                bytesize=link.bits,
                parity=_PARITY[link.parity],
                stopbits=link.stop_bits,
                rtscts=link.flow_control == "lines",
                xonxoff=link.flow_control == "characters",
                exclusive=True,
                timeout=_WAIT_S,
            )
            if link.parity != "none":
                _mark_parity_errors(port)
        except _FAULTS as error:
            there = list_allowed(sorted(port.device for port in comports()))
            raise InstrumentError(
                f"serial port {link.port} cannot be opened; "
                f"allowed: {there or 'none, no port is there'}; came: {_reason(error)}"
            ) from error
        self._port = port

    def read(self, timeout_s: float) -> Received | None:
        """Return what has come, or None.

        Raises
        ------
        InstrumentError
            If the port is lost.
        """
        assert self._port is not None
        try:
            port = self._port
            data = port.read(1) if timeout_s > 0.0 and not port.in_waiting else b""
            data += port.read(port.in_waiting)
        except _FAULTS as error:
            raise InstrumentError(
                f"serial port {self._link.port} is lost; allowed: a port that stays; "
                f"came: {_reason(error)}"
            ) from error
        return Received(self.now_s, data) if data else None

    def close(self) -> None:
        """Let go of the port."""
        port, self._port = self._port, None
        if port is not None:
            try:
                port.close()
            except _FAULTS:
                # A port that vanished is closed already.
                return


def _mark_parity_errors(port: serial.Serial) -> None:
    """Let a byte of the wrong parity come as FF 00 and itself, so that its line is not read.

    By itself the port hands it on as if it were good. Windows marks nothing.
    """
    if sys.platform != "win32":
        settings = termios.tcgetattr(port.fileno())
        settings[0] |= termios.INPCK | termios.PARMRK
        termios.tcsetattr(port.fileno(), termios.TCSANOW, settings)


def _reason(error: Exception) -> str:
    """Return why, in the words of the operating system where it gave any."""
    number = getattr(error, "errno", None)
    if number == EAGAIN:
        return "another program holds it"
    return strerror(number) if number else str(error)
