"""What is wrong with what an instrument sends: found by rules over times, bytes and lines.

The watch has no clock and no link. It is told what came and when, and answers with events; so all
of it can be tried without waiting. Every trouble is found within 2 s on the link's clock, since
`silent_after_s` of a profile is 2 s at the most.
"""

import math
from collections import Counter, deque

from ebbline.adapters.instrument.advice import advice, describe
from ebbline.adapters.instrument.lines import Unreadable, Values
from ebbline.adapters.instrument.profile import Profile
from ebbline.services.events import Event, Restored, Trouble

# Engineering judgement, no source. So many lines in a row that are not understood are told...
_IN_A_ROW = 3
# ...or a larger share than this of at least so many within so many seconds.
_SHARE, _LEAST, _WINDOW_S = 1.0 / 3.0, 6, 2.0
# Bytes of which fewer than this can be printed are not text at this speed; of fewer than so many
# bytes it is not said.
_PRINTABLE, _LEAST_BYTES = 0.75, 8
# Lines go well again after so many in a row over so many seconds.
_WELL_LINES, _WELL_S = 3, 1.0

_TEXT = frozenset(range(0x20, 0x7F)) | frozenset(b"\t\r\n")
# Over with the first line that is understood; the others only by a run of them.
_OF_THE_LINK = ("unplugged", "silent")
# Told once, while values go on: they stay to be seen for so long, s.
_NOTICES = ("clock_jumped", "not_logged", "torn_log")
_NOTICED_S = 5.0


class Watch:
    """Finds troubles, and that they are over.

    Parameters
    ----------
    profile : Profile
        For how long silence is no trouble, and what can be said of the link.
    """

    def __init__(self, profile: Profile) -> None:
        self._profile = profile
        self._after_s = profile.silent_after_s
        self._trouble: str | None = None
        self._told_s = 0.0
        self._good_s: float | None = None
        self._lines: deque[tuple[float, bool]] = deque()
        self.opened(0.0)

    def opened(self, now_s: float) -> None:
        """Say that the link was opened."""
        self._byte_s = now_s
        if self._trouble is None:
            self._gap_from_s = now_s
        self._lines.clear()
        self._well: tuple[float, int] | None = None
        self._start_count(None)

    def _start_count(self, since_s: float | None) -> None:
        """Count bytes and lines anew; None: from the first byte on."""
        self._since_s = since_s
        self._bytes = self._printable = self._ended = self._ignored = self._in_a_row = 0
        self._codes: Counter[str] = Counter()
        self._words = ""

    def received(self, now_s: float, data: bytes) -> tuple[Event, ...]:
        """Take bytes, before the lines in them.

        Parameters
        ----------
        now_s : float
            When they came, s.
        data : bytes
            As they came.

        Returns
        -------
        tuple of Event
        """
        events = self.tick(now_s)
        self._byte_s = now_s
        if self._since_s is None:
            self._since_s = now_s
        self._bytes += len(data)
        self._printable += sum(byte in _TEXT for byte in data)
        self._ended += sum(byte in b"\r\n" for byte in data)
        return events

    def line(self, now_s: float, found: Values | Unreadable | None) -> tuple[Event, ...]:
        """Take one line: what it says, why it says nothing, or None for one that is ignored."""
        if found is None:
            self._ignored += 1
            return ()
        good = isinstance(found, Values)
        self._lines.append((now_s, good))
        while now_s - self._lines[0][0] > _WINDOW_S:
            self._lines.popleft()
        if isinstance(found, Values):
            return self._well_again(now_s)
        self._well = None
        self._in_a_row += 1
        self._codes[found.code] += 1
        self._words = found.words
        bad = sum(not good for _, good in self._lines)
        often = len(self._lines) >= _LEAST and bad > _SHARE * len(self._lines)
        if self._in_a_row >= _IN_A_ROW or often:
            return self._tell(now_s, *self._diagnosed())
        return ()

    def tick(self, now_s: float) -> tuple[Event, ...]:
        """Say what time it is while the link is open."""
        if now_s - self._byte_s >= self._after_s:
            words = f"nothing has come for {now_s - self._byte_s:.1f} s"
            return self._tell(now_s, "silent", words)
        if self._since_s is not None and now_s - self._since_s >= self._after_s:
            return self._tell(now_s, *self._diagnosed())
        return ()

    def lost(self, now_s: float, words: str) -> tuple[Event, ...]:
        """Say that the link is gone."""
        return self._tell(now_s, "unplugged", words)

    def notice(self, now_s: float, code: str, words: str) -> tuple[Event, ...]:
        """Tell what was found elsewhere and is found only once: the clock, the raw log."""
        self._told_s = -math.inf
        return self._tell(now_s, code, words)

    def _diagnosed(self) -> tuple[str, str]:
        """Return code and words for bytes that came without a line that is understood."""
        if self._bytes >= _LEAST_BYTES and self._printable < _PRINTABLE * self._bytes:
            words = f"only {self._printable} of {self._bytes} bytes are characters of a text"
            return "wrong_speed", words
        if self._codes:
            (code, count), *_ = self._codes.most_common(1)
            lines = "1 line is" if count == 1 else f"{count} lines are"
            words = f"{lines} not understood, the last one: {self._words}"
            return {"half_line": "half_lines"}.get(code, code), words
        if self._ignored:
            return "silent", "only lines come that the profile ignores"
        if not self._ended:
            return "wrong_speed", f"{self._bytes} bytes have come, and none ends a line"
        return "half_lines", "no line has come whole"

    def _tell(self, now_s: float, code: str, words: str) -> tuple[Event, ...]:
        """Return the trouble, unless it is told already."""
        # What is wrong with lines may look different from one to the next; the first is said.
        hasty = code not in _OF_THE_LINK and now_s - self._told_s < self._after_s
        if code == self._trouble or (self._trouble is not None and hasty):
            return ()
        if self._trouble is None:
            self._gap_from_s = self._gap_from_s if self._good_s is None else self._good_s
        self._trouble, self._told_s, self._well = code, now_s, None
        return (Trouble(code, f"{describe(code, words)} {advice(code, self._profile.link)}"),)

    def _well_again(self, now_s: float) -> tuple[Event, ...]:
        """Take a line that is understood."""
        self._good_s = now_s
        self._start_count(now_s)
        if self._trouble is None:
            return ()
        first_s, count = self._well or (now_s, 0)
        self._well = (first_s, count + 1)
        noticed = self._trouble in _NOTICES
        well_s = _NOTICED_S if noticed else _WELL_S
        enough = count + 1 >= _WELL_LINES and now_s - first_s >= well_s
        if self._trouble not in _OF_THE_LINK and not enough:
            return ()
        self._trouble, self._well = None, None
        self._lines.clear()
        gap_s = first_s - self._gap_from_s
        words = "values go on" if noticed else f"values come again, after {gap_s:.1f} s"
        return (Restored(words, gap_s),)
