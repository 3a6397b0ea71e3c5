"""Play rows as an instrument would send them, over a pseudo-terminal or the network.

A pseudo-terminal is a serial port without hardware; POSIX systems have them, Windows has none.
"""

import os
import select
import socket
import threading
import time
from collections.abc import Iterable
from types import TracebackType
from typing import Literal, Protocol, Self

from ebbline.adapters.instrument.profile import Profile
from ebbline.adapters.instrument.speak import speak
from ebbline.adapters.instrument.virtual_rows import Row
from ebbline.core.errors import InstrumentError

# How long a thread waits before it looks whether it is to stop, s.
_LOOK_S = 0.05


class _Way(Protocol):
    """Where bytes go."""

    @property
    def port(self) -> str: ...

    def ready(self) -> bool: ...

    def send(self, data: bytes) -> int: ...

    def close(self) -> None: ...


class Terminal:
    """A pseudo-terminal; ``port`` is the device file to be opened as a serial port.

    Raises
    ------
    InstrumentError
        If the system has none.
    """

    def __init__(self) -> None:
        if not hasattr(os, "openpty"):
            raise InstrumentError(
                "no pseudo-terminal can be made; allowed: over the network on this system; "
                "came: over a terminal"
            )
        # POSIX systems only.
        import tty  # noqa: PLC0415

        self._ours, self._theirs = os.openpty()
        # Raw: bytes go through as they are. Our end of theirs stays open, so that it can be opened
        # and closed by others as often as they like.
        tty.setraw(self._theirs)
        os.set_blocking(self._ours, False)
        self.port = os.ttyname(self._theirs)

    def ready(self) -> bool:
        """Return whether bytes can go, after a short wait at the most."""
        return bool(select.select([], [self._ours], [], _LOOK_S)[1])

    def send(self, data: bytes) -> int:
        """Send what can be sent now; return how many bytes went."""
        return os.write(self._ours, data)

    def close(self) -> None:
        """Pull the plug: whoever has the port open finds it gone."""
        os.close(self._ours)
        os.close(self._theirs)


class Server:
    """A server on this machine for one listener at a time; ``port`` is its number."""

    def __init__(self) -> None:
        self._server = socket.create_server(("127.0.0.1", 0))
        self._guest: socket.socket | None = None
        self.port = str(self._server.getsockname()[1])

    def ready(self) -> bool:
        """Return whether somebody listens and bytes can go, after a short wait at the most."""
        if self._guest is None:
            if not select.select([self._server], [], [], _LOOK_S)[0]:
                return False
            self._guest, _ = self._server.accept()
            self._guest.setblocking(False)
        return bool(select.select([], [self._guest], [], _LOOK_S)[1])

    def send(self, data: bytes) -> int:
        """Send what can be sent now; return how many bytes went."""
        assert self._guest is not None
        try:
            return self._guest.send(data)
        except ConnectionError:
            # The listener went; the next one is waited for.
            self.hang_up()
            return 0

    def hang_up(self) -> None:
        """Close the link to whoever listens; the next may come."""
        guest, self._guest = self._guest, None
        if guest is not None:
            guest.close()

    def close(self) -> None:
        """Close the link and serve nobody any more."""
        self.hang_up()
        self._server.close()


class Speaker:
    """Plays rows from a thread, from the moment it is entered until it is left.

    Parameters
    ----------
    profile : Profile
        How the lines are made.
    rows : iterable of (time_s, values)
        Times rise. Over a terminal the first row is sent at once, whether anybody listens or not;
        over the network it waits for a listener.
    speed : float
        So many times as fast as the rows' times.
    way : {"terminal", "network"}
        Over a pseudo-terminal, or a server on this machine.

    Raises
    ------
    InstrumentError
        If there are no pseudo-terminals, or a row cannot be spoken, on leaving.
    """

    def __init__(
        self,
        profile: Profile,
        rows: Iterable[Row],
        *,
        speed: float,
        way: Literal["terminal", "network"],
    ) -> None:
        self._profile, self._rows, self._speed = profile, rows, speed
        self._way: _Way = Terminal() if way == "terminal" else Server()
        self._stop = threading.Event()
        self._fault: InstrumentError | None = None
        self._thread = threading.Thread(target=self._play, daemon=True)

    @property
    def port(self) -> str:
        """The device file, or the number of the server's port."""
        return self._way.port

    def __enter__(self) -> Self:
        """Begin to play."""
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop, and pull the plug."""
        self._stop.set()
        self._thread.join()
        self._way.close()
        if self._fault is not None and error is None:
            raise self._fault

    def _play(self) -> None:
        """Send each row at its time."""
        began, first_s = 0.0, 0.0
        try:
            for count, (time_s, values) in enumerate(self._rows):
                line = speak(self._profile, values, clock_s=time_s)
                if count == 0:
                    # Over the network the first row waits for somebody who listens.
                    while not self._stop.is_set() and not self._way.ready():
                        continue
                    began, first_s = time.monotonic(), time_s
                due = began + (time_s - first_s) / self._speed
                if self._stop.wait(max(due - time.monotonic(), 0.0)) or not self._send(line):
                    return
        except InstrumentError as error:
            self._fault = error

    def _send(self, data: bytes) -> bool:
        """Send all of it, however long that takes; False: it is to stop."""
        while data and not self._stop.is_set():
            if self._way.ready():
                data = data[self._way.send(data) :]
        return not data
