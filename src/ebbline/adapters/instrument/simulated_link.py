"""A link to a virtual analyser in this program, to learn on and to try a profile with."""

import time
from collections.abc import Callable

from ebbline.adapters.instrument.links import Pace, Received
from ebbline.adapters.instrument.profile import Profile, SimulatedLink
from ebbline.adapters.instrument.speak import speak
from ebbline.adapters.instrument.virtual_rows import Row, virtual_rows


class SimulatedConnection:
    """A virtual analyser that speaks the profile: room air, a breath, and so on without end.

    Parameters
    ----------
    profile : Profile
        Its lines and sensors.
    link : SimulatedLink
        What is measured, the seed and the pace.
    clock : callable
        Returns seconds that never go back.
    """

    over = False
    remark = ""

    def __init__(self, profile: Profile, link: SimulatedLink, clock: Callable[[], float]) -> None:
        self._profile, self._link, self._clock = profile, link, clock
        self._rows = virtual_rows(profile, what=link.what, seed=link.seed)
        self._pace = Pace(clock, speed=link.speed, start_s=0.0)
        self._next: Row | None = None

    @property
    def now_s(self) -> float:
        """Seconds on the virtual analyser's clock, not beyond its next line."""
        return 0.0 if self._next is None else min(self._pace.now_s, self._next[0])

    def open(self) -> None:
        """Begin with room air; the first breath is computed before the clock starts."""
        if self._next is None:
            self._next = next(self._rows)
            self._pace = Pace(self._clock, speed=self._link.speed, start_s=0.0)

    def read(self, timeout_s: float) -> Received | None:
        """Return the next line, if its time has come."""
        assert self._next is not None
        time_s, values = self._next
        early_s = (time_s - self._pace.now_s) / self._link.speed
        if early_s > timeout_s:
            time.sleep(timeout_s)
            return None
        if early_s > 0.0:
            time.sleep(early_s)
        self._next = next(self._rows)
        return Received(time_s, speak(self._profile, values, clock_s=time_s))

    def close(self) -> None:
        """Nothing is held."""
