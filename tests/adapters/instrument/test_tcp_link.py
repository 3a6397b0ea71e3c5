"""A link over the network: bytes, a server that goes, and nobody there."""

import socket

import pytest

from ebbline.adapters.instrument.tcp_link import TcpConnection
from ebbline.core.errors import InstrumentError
from tests.adapters.instrument.live import HandClock, at_server


class BrokenSocket:
    """A socket whose other end was switched off."""

    def __init__(self, error: OSError) -> None:
        self.error = error
        self.waiting, self._far = socket.socketpair()
        self._far.send(b"x")

    def fileno(self) -> int:
        return self.waiting.fileno()

    def recv(self, count: int) -> bytes:
        raise self.error

    def close(self) -> None:
        self.waiting.close()
        self._far.close()


def test_bytes_come_with_their_time_and_nothing_is_sent() -> None:
    """Then nothing, then the end."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        clock = HandClock()
        link = TcpConnection(at_server(str(port)), clock)
        link.open()
        guest, _ = server.accept()
        guest.settimeout(0.0)
        assert link.read(0.0) is None
        guest.sendall(b"1\r\n")
        clock.now_s = 0.5
        received = link.read(1.0)
        assert received is not None
        assert (received.at_s, received.data) == (0.5, b"1\r\n")
        with pytest.raises(BlockingIOError):
            guest.recv(1)
        guest.close()
        with pytest.raises(InstrumentError) as caught:
            link.read(1.0)
        assert str(caught.value) == (
            f"the link to 127.0.0.1 port {port} is lost; allowed: one that stays; "
            "came: closed by the other end"
        )
        link.close()
        link.close()


def test_nobody_there_is_refused() -> None:
    """A port that nobody listens on, and a name that cannot be one."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    with pytest.raises(InstrumentError) as caught:
        TcpConnection(at_server(str(port)), HandClock()).open()
    assert str(caught.value) == (
        f"127.0.0.1 port {port} cannot be reached; allowed: a server that sends lines; "
        "came: Connection refused"
    )


def test_a_silent_other_end_is_asked_by_the_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """So that one that was switched off is noticed; also where the times cannot be set."""
    monkeypatch.delattr(socket, "TCP_KEEPCNT")
    with socket.create_server(("127.0.0.1", 0)) as server:
        link = TcpConnection(at_server(str(server.getsockname()[1])), HandClock())
        link.open()
        opened = link._socket
        assert opened is not None
        assert opened.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE) == 1
        assert opened.getsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPIDLE) == 3
        link.close()


@pytest.mark.parametrize(
    ("error", "came"),
    [
        (ConnectionResetError(104, "Connection reset by peer"), "Connection reset by peer"),
        (OSError("no more"), "no more"),
    ],
)
def test_a_link_that_breaks_is_lost(
    error: OSError, came: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the reason of the operating system, or whatever words there are."""
    link = TcpConnection(at_server("9"), HandClock())
    broken = BrokenSocket(error)
    monkeypatch.setattr(link, "_socket", broken)
    with pytest.raises(InstrumentError) as caught:
        link.read(0.5)
    assert str(caught.value) == (
        f"the link to 127.0.0.1 port 9 is lost; allowed: one that stays; came: {came}"
    )
    link.close()


def test_bytes_that_are_there_and_then_are_not_are_no_fault(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The system may change its mind."""
    link = TcpConnection(at_server("9"), HandClock())
    monkeypatch.setattr(link, "_socket", BrokenSocket(BlockingIOError()))
    assert link.read(0.5) is None
    link.close()
