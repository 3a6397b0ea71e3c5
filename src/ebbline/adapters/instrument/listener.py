"""Listens to an analyser: bytes are logged, put into lines, read, timed and watched."""

import time
from collections.abc import Callable

from ebbline.adapters.instrument.connect import connection_of
from ebbline.adapters.instrument.line_times import LineTimes
from ebbline.adapters.instrument.lines import Assembler, Unreadable, Values, parse_line
from ebbline.adapters.instrument.links import Connection, Received
from ebbline.adapters.instrument.profile import Profile
from ebbline.adapters.instrument.raw_log import RawLog, What
from ebbline.adapters.instrument.watch import Watch
from ebbline.core.errors import InstrumentError
from ebbline.services.events import Arrived, Event

# A lost link is opened again no more often than this, s on the link's clock.
_AGAIN_S = 0.5
# The watch looks at the time at least so often, s.
_LOOK_S = 0.1
# A line that pauses for longer broke off: a cable may have been out in between, and the rest of
# another line must not be put to it. Engineering judgement, no source; at 300 baud a character
# takes 0.03 s.
_PAUSE_S = 0.5


class Listener:
    """What an analyser sends, as events; `ebbline.services.events.EventSource`.

    A link that is lost is opened again by itself, on the same clock.

    Parameters
    ----------
    profile : Profile
        The analyser.
    clock : callable
        Returns seconds that never go back.
    log : RawLog or None
        Where everything is written before it is read; it is closed with the listener.
    connection : Connection or None
        The link; None: the one that the profile asks for.
    """

    def __init__(
        self,
        profile: Profile,
        *,
        clock: Callable[[], float] = time.monotonic,
        log: RawLog | None,
        connection: Connection | None = None,
    ) -> None:
        self._profile, self._clock, self._log = profile, clock, log
        self._connection = connection or connection_of(profile, clock)
        self._assembler = Assembler(profile.lines)
        self._watch = Watch(profile)
        form = profile.lines.time
        self._times = LineTimes(wraps=form is not None and form.unit == "clock")
        self._open = self._opened_once = self._closed = False
        self._logging = log is not None
        self._again_s = 0.0
        self._byte_s = 0.0

    @property
    def over(self) -> bool:
        """Whether nothing more will ever come: the end of a replay, or it was closed."""
        return self._closed or self._connection.over

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        """Return what has happened, after so many seconds at the most.

        Parameters
        ----------
        timeout_s : float
            How long to wait if nothing happens, s.

        Returns
        -------
        tuple of Event

        Raises
        ------
        InstrumentError
            If the link cannot be opened at the first time.
        """
        until = self._clock() + timeout_s
        events: list[Event] = []
        while not self.over:
            left_s = until - self._clock()
            # Once something is there, only what waits already is taken with it.
            wait_s = 0.0 if events else min(max(left_s, 0.0), _LOOK_S)
            came = self._step(wait_s, events)
            if left_s <= 0.0 or (events and not came):
                break
        return tuple(events)

    def close(self) -> None:
        """Let go of link and log."""
        self._closed = True
        self._connection.close()
        log, self._log = self._log, None
        if log is not None:
            try:
                log.close()
            except OSError:
                # That it could not be written was told when it happened.
                return

    def _step(self, wait_s: float, events: list[Event]) -> bool:
        """Open, or read once; return whether bytes came."""
        if not self._open and not self._try_to_open(events):
            time.sleep(wait_s)
            return False
        try:
            received = self._connection.read(wait_s)
        except InstrumentError as error:
            self._lose(str(error), events)
            return False
        if received is None:
            events += self._watch.tick(self._connection.now_s)
            return False
        self._take(received, events)
        return True

    def _try_to_open(self, events: list[Event]) -> bool:
        """Open the link if it is time to; the first time it must open."""
        now_s = self._connection.now_s
        if self._opened_once and now_s < self._again_s:
            return False
        try:
            self._connection.open()
        except InstrumentError:
            if not self._opened_once:
                raise
            self._again_s = self._connection.now_s + _AGAIN_S
            return False
        self._open = self._opened_once = True
        now_s = self._connection.now_s
        self._byte_s = now_s
        self._assembler.reset()
        self._times.opened(now_s)
        self._watch.opened(now_s)
        self._write(now_s, "opened", b"", events)
        if self._connection.remark:
            events += self._watch.notice(now_s, "torn_log", self._connection.remark)
        return True

    def _lose(self, words: str, events: list[Event]) -> None:
        """Take note that the link is lost; half a line is lost with it."""
        now_s = self._connection.now_s
        self._connection.close()
        self._open = False
        self._again_s = now_s + _AGAIN_S
        self._write(now_s, "lost", words.encode(), events)
        events += self._watch.lost(now_s, words)

    def _write(self, at_s: float, what: What, data: bytes, events: list[Event]) -> None:
        """Write to the log; a log that fails must not take the breath under way with it."""
        if self._log is None or not self._logging:
            return
        try:
            self._log.add(at_s, what, data)
        except OSError as error:
            self._logging = False
            events += self._watch.notice(at_s, "not_logged", error.strerror or str(error))

    def _take(self, received: Received, events: list[Event]) -> None:
        """Log bytes, then read the lines that ended in them."""
        # As the log has it, so that a replay gives the same times.
        at_s = round(received.at_s, 6)
        self._write(at_s, "data", received.data, events)
        events += self._watch.received(at_s, received.data)
        pending, pause_s = self._assembler.pending, at_s - self._byte_s
        self._byte_s = at_s
        if pending and pause_s > _PAUSE_S and received.data[:1] not in b"\r\n":
            self._assembler.reset()
            words = f"a line broke off after {pending} bytes, for {pause_s:.1f} s"
            events += self._watch.line(at_s, Unreadable("half_line", words))
        elif not pending and pause_s >= self._profile.silent_after_s:
            # A cable put back in the middle of a line makes its tail look like a whole one.
            self._assembler.reset()
        lines = self._assembler.feed(received.data)
        arrivals = self._times.arrivals(at_s, len(lines))
        for line, arrived_s in zip(lines, arrivals, strict=True):
            found = line if isinstance(line, Unreadable) else parse_line(line, self._profile)
            if isinstance(found, Values):
                line_s, wrong = self._times.line(arrived_s, found.clock_s)
                if wrong:
                    events += self._watch.notice(arrived_s, "clock_jumped", f"it {wrong}")
                events.append(Arrived(line_s, found.values))
            events += self._watch.line(arrived_s, found)
