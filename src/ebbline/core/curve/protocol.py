"""The protocol of a test: which samples were planned, and what makes the baseline."""

from dataclasses import dataclass, replace
from typing import Literal

from ebbline.core.curve.breath_test import BreathTest, Try
from ebbline.core.errors import InputError, list_allowed

BaselineRule = Literal["mean", "last", "lowest"]


@dataclass(frozen=True, slots=True)
class Protocol:
    """One protocol: ``fasting`` and ``minutes`` are planned minutes from T0, defined by ``t0``.

    ``release`` goes up with every change; ``doses`` are the ids of the dose rules to choose from.
    """

    id: str
    release: str
    title: str
    substrates: tuple[str, ...]
    fasting: tuple[float, ...]
    minutes: tuple[float, ...]
    baseline: BaselineRule
    t0: str
    doses: tuple[str, ...]
    source: str


def with_planned_samples(test: BreathTest, protocol: Protocol) -> BreathTest:
    """Return a test in which every planned sample has a row, missed where there was none.

    A row belongs to the planned minute nearest to it, and of several the one nearest to that. A
    row halfway between two planned minutes belongs to none.

    Parameters
    ----------
    test : BreathTest
        The test as recorded.
    protocol : Protocol
        Its protocol.

    Returns
    -------
    BreathTest
        With the rows that were missing, ``row`` 0, in order of time.

    Raises
    ------
    InputError
        If the protocol is for another substrate.
    """
    if test.substrate not in protocol.substrates:
        raise InputError(
            f"{test.file}: protocol {protocol.id} does not fit; allowed: a test with "
            f"{list_allowed(protocol.substrates)}; came: {test.substrate}"
        )
    planned = (*protocol.fasting, *protocol.minutes)
    taken = {one.planned_minute for one in test.tries}
    tries = list(test.tries)
    for minute in planned:
        near = [
            place
            for place, one in enumerate(tries)
            if one.planned_minute is None and _nearest(one.minute, planned) == minute
        ]
        if minute not in taken and near:
            place = min(near, key=lambda place: abs(tries[place].minute - minute))
            tries[place] = replace(tries[place], planned_minute=minute)
            taken.add(minute)
    missed = tuple(
        Try(
            minute=minute,
            planned_minute=minute,
            status="missed",
            h2_ppm=None,
            ch4_ppm=None,
            o2_pct=None,
            co2_pct=None,
            note="no row in the file",
            symptoms={},
            row=0,
        )
        for minute in planned
        if minute not in taken
    )
    return replace(test, tries=tuple(sorted((*tries, *missed), key=lambda one: one.minute)))


def _nearest(minute: float, planned: tuple[float, ...]) -> float | None:
    """Return the planned minute nearest to an actual one, None halfway between two."""
    first, *others = sorted(planned, key=lambda one: abs(one - minute))
    halfway = bool(others) and abs(others[0] - minute) == abs(first - minute)
    return None if halfway else first
