"""The minutes of a test, counted so that a jump of the computer's clock moves none by itself."""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from ebbline.core.clinic.clock import ClockStep, Decision, Stamp, minutes_since
from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.entry import Entry, Kept
from ebbline.core.clinic.record.staff import ClockStep as NoticedStep
from ebbline.core.clinic.record.visit import Test
from ebbline.services.clinic.ports import Look

E = TypeVar("E", bound=Entry)

_DECISIONS: dict[str, Decision] = {"open": "open", "follow": "follow", "keep": "keep"}


@dataclass(frozen=True, slots=True)
class TestClock:
    """How minutes are counted in one test.

    ``t0`` is None while minute 0 is not recorded; ``noticed`` are the acts that recorded the jumps
    in ``steps``, in the same order.
    """

    __test__ = False  # Tells pytest that this is no test of its own.

    t0: Stamp | None
    steps: tuple[ClockStep, ...]
    noticed: tuple[int, ...]

    def minute(self, at: datetime, *, seq: int | None) -> float | None:
        """Return the minute from T0, None while there is none.

        Parameters
        ----------
        at : datetime
            The moment by the clock on the wall.
        seq : int or None
            The act that recorded it; None for the act at hand, or now.

        Returns
        -------
        float or None
            Minutes.
        """
        if self.t0 is None:
            return None
        seen = len(self.noticed) if seq is None else bisect_left(self.noticed, seq)
        return minutes_since(self.t0, Stamp(at, seen), self.steps)


def clock_of(look: Look, test: Test) -> TestClock:
    """Return how minutes are counted in a test.

    Parameters
    ----------
    look : Look
        The record.
    test : Test
        The test as it stands.

    Returns
    -------
    TestClock
    """
    jumps = [
        (look.versions(NoticedStep, one.entry.id)[0].seq, one.entry)
        for one in look.find(NoticedStep, {})
    ]
    jumps.sort(key=lambda jump: jump[0])
    noticed = tuple(seq for seq, _ in jumps)
    stamp = None
    if test.t0 is not None:
        seq = _recorded(look.versions(Test, test.id), "t0") if jumps else 0
        stamp = Stamp(test.t0, bisect_left(noticed, seq))
    return TestClock(
        t0=stamp,
        steps=tuple(ClockStep(one.at, one.step_s, _DECISIONS[one.decision]) for _, one in jumps),
        noticed=noticed,
    )


def minute_of_try(look: Look, clock: TestClock, one: Kept[SampleTry]) -> float | None:
    """Return the minute of a sample, None while there is no minute 0.

    Parameters
    ----------
    look : Look
        The record.
    clock : TestClock
        How minutes are counted in its test, or in another that it is moved to.
    one : Kept of SampleTry
        The sample.

    Returns
    -------
    float or None
        Minutes.
    """
    seq = _taken(look, one) if clock.steps else one.seq
    return clock.minute(one.entry.at, seq=seq)


def _taken(look: Look, one: Kept[SampleTry]) -> int:
    """Return the act that recorded the time of a sample: where it was moved, in its first test."""
    versions = look.versions(SampleTry, one.entry.id)
    seq = _recorded(versions, "at")
    if one.entry.moved_from is None or seq != versions[0].seq:
        return seq
    return _taken(look, look.get(SampleTry, one.entry.moved_from))


def _recorded(versions: Sequence[Kept[E]], field: str) -> int:
    """Return the act in which a field got the value that it has now."""
    value = getattr(versions[-1].entry, field)
    seq = versions[-1].seq
    for one in reversed(versions):
        if getattr(one.entry, field) != value:
            break
        seq = one.seq
    return seq
