"""What tests of the live side share: profiles, a clock that is set by hand, and a fake link."""

import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace

from ebbline.adapters.files.library import DATA
from ebbline.adapters.instrument.links import Received
from ebbline.adapters.instrument.listener import Listener
from ebbline.adapters.instrument.profile import Link, Profile, SerialLink, TcpLink
from ebbline.adapters.instrument.profile_file import read_profile
from ebbline.core.errors import InstrumentError
from ebbline.services.events import Arrived, Event, Restored, Trouble

STREAM = read_profile(str(DATA / "profiles" / "harbour-stream.toml"))
CHAMBER = read_profile(str(DATA / "profiles" / "harbour-chamber.toml"))
SERIAL = read_profile(str(DATA / "profiles" / "harbour-serial.toml"))
LINE = b"H2= 12,5 ppm CH4= 4,1 ppm O2= 20,90 %\r\n"
"""A line that the serial example reads."""


def on(profile: Profile, link: Link) -> Profile:
    """Return a profile on another link."""
    return replace(profile, link=link)


def at_port(port: str, speed: int = 9600) -> SerialLink:
    """Return a link to a serial port."""
    return SerialLink(port, speed, 8, "none", 1, "none")


def at_server(port: str) -> TcpLink:
    """Return a link to a server on this machine."""
    return TcpLink("127.0.0.1", int(port))


class HandClock:
    """A clock that shows what it is set to."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


class FakeConnection:
    """A link that gives what was put into ``waiting``: bytes, or an error for a lost link."""

    def __init__(self) -> None:
        self.clock = HandClock()
        self.waiting: deque[Received | InstrumentError] = deque()
        self.refusals: deque[InstrumentError] = deque()
        self.over = False
        self.remark = ""
        self.opened = 0
        self.closed = 0

    @property
    def now_s(self) -> float:
        return self.clock.now_s

    def open(self) -> None:
        if self.refusals:
            raise self.refusals.popleft()
        self.opened += 1

    def read(self, timeout_s: float) -> Received | None:
        if not self.waiting:
            return None
        found = self.waiting.popleft()
        if isinstance(found, InstrumentError):
            raise found
        return found

    def close(self) -> None:
        self.closed += 1

    def put(self, data: bytes) -> None:
        """Let bytes come now."""
        self.waiting.append(Received(self.now_s, data))


def drain(listener: Listener, link: FakeConnection) -> list[Event]:
    """Return what comes of everything that waits on a fake link."""
    events: list[Event] = []
    while link.waiting:
        events += listener.poll(0.0)
    return events


def until(
    listener: Listener, wanted: Callable[[list[Event]], bool], within_s: float
) -> list[Event]:
    """Listen until what is wanted has happened, for so long at the most."""
    events: list[Event] = []
    end = time.monotonic() + within_s
    while not wanted(events):
        assert time.monotonic() < end, f"not within {within_s} s; there was {events[-5:]}"
        events += listener.poll(0.05)
    return events


def arrived(events: list[Event]) -> list[Arrived]:
    """Return the values among events."""
    return [one for one in events if isinstance(one, Arrived)]


def troubles(events: list[Event]) -> list[str]:
    """Return the troubles' codes."""
    return [one.code for one in events if isinstance(one, Trouble)]


def restored(events: list[Event]) -> list[Restored]:
    """Return what says that it works again."""
    return [one for one in events if isinstance(one, Restored)]
