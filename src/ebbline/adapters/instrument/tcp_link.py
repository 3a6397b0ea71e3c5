"""A link over the network: the instrument, or a box it is plugged into, is a TCP server."""

import select
import socket
from collections.abc import Callable

from ebbline.adapters.instrument.links import Pace, Received
from ebbline.adapters.instrument.profile import TcpLink
from ebbline.core.errors import InstrumentError

# The screen stands still while a link is opened, so it is not waited for longer, s.
_OPEN_WITHIN_S = 0.5
# A first opening may need the host's name looked up.
_FIRST_WITHIN_S = 5.0
_MOST_BYTES = 65536
# The network asks a silent other end after so many seconds, every second, three times, so that one
# that was switched off is noticed. No data is sent by that. Not every system lets it be set.
_KEEP_ALIVE = (("TCP_KEEPIDLE", 3), ("TCP_KEEPINTVL", 1), ("TCP_KEEPCNT", 3))


class TcpConnection:
    """An instrument on the network.

    Parameters
    ----------
    link : TcpLink
        Host and port.
    clock : callable
        Returns seconds that never go back.
    """

    over = False
    remark = ""

    def __init__(self, link: TcpLink, clock: Callable[[], float]) -> None:
        self._link = link
        self._pace = Pace(clock, speed=1.0, start_s=0.0)
        self._socket: socket.socket | None = None
        self._within_s = _FIRST_WITHIN_S

    @property
    def now_s(self) -> float:
        """Seconds since it was made."""
        return self._pace.now_s

    @property
    def _place(self) -> str:
        return f"{self._link.host} port {self._link.port}"

    def open(self) -> None:
        """Connect.

        Raises
        ------
        InstrumentError
            If nobody answers there.
        """
        address = (self._link.host, self._link.port)
        try:
            opened = socket.create_connection(address, timeout=self._within_s)
        except (OSError, UnicodeError) as error:
            raise InstrumentError(
                f"{self._place} cannot be reached; allowed: a server that sends lines; "
                f"came: {_reason(error)}"
            ) from error
        opened.setblocking(False)
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for name, value in _KEEP_ALIVE:
            if hasattr(socket, name):
                opened.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)
        self._socket, self._within_s = opened, _OPEN_WITHIN_S

    def read(self, timeout_s: float) -> Received | None:
        """Return what has come, or None.

        Raises
        ------
        InstrumentError
            If the other end has closed the link, or it was lost.
        """
        assert self._socket is not None
        try:
            ready, _, _ = select.select([self._socket], [], [], timeout_s)
            if not ready:
                return None
            data = self._socket.recv(_MOST_BYTES)
        except BlockingIOError:
            return None
        except OSError as error:
            raise self._lost(_reason(error)) from error
        if not data:
            raise self._lost("closed by the other end")
        return Received(self.now_s, data)

    def _lost(self, came: str) -> InstrumentError:
        return InstrumentError(
            f"the link to {self._place} is lost; allowed: one that stays; came: {came}"
        )

    def close(self) -> None:
        """Let go of the link."""
        opened, self._socket = self._socket, None
        if opened is not None:
            opened.close()


def _reason(error: Exception) -> str:
    """Return why, in the words of the operating system where it gave any."""
    return getattr(error, "strerror", None) or str(error)
