"""A clinic's time: a wall clock that may be set, held against a steady clock that only runs on.

A steady clock counts seconds since the machine was started and cannot be set. Where the wall clock
moves by another amount than the steady one, it has jumped: `compare` finds that, a person decides
what it means, and `minutes_since` counts the minutes of a running test so that a jump moves none by
itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

from ebbline.core.errors import FieldError

Decision = Literal["open", "follow", "keep"]


@dataclass(frozen=True, slots=True)
class Anchor:
    """Both clocks read at one moment.

    ``boot_id`` names the run of the machine; ``steady_s`` counts seconds within it and says nothing
    about another run; ``utc`` is the wall clock, with its zone.
    """

    boot_id: str
    steady_s: float
    utc: datetime


@dataclass(frozen=True, slots=True)
class Drift:
    """What became of the wall clock between two anchors.

    Parameters
    ----------
    kind : {"none", "jump", "restart", "backwards"}
        ``jump``: it was set, within one run of the machine. ``restart``: the machine was started
        anew and the wall clock went on, so that nobody can tell whether it was set meanwhile.
        ``backwards``: it was started anew and the wall clock stands before the anchor.
    step_s : float or None
        By how much the wall clock was set forward, s; negative when set back. After ``backwards``
        it was set back by more than this. None after ``restart``: not known.
    away_s : float or None
        Time between the anchors, s: by the steady clock within one run, by the wall clock after
        ``restart``. None after ``backwards``: not known.
    """

    kind: Literal["none", "jump", "restart", "backwards"]
    step_s: float | None
    away_s: float | None


@dataclass(frozen=True, slots=True)
class ClockStep:
    """A jump of the wall clock that was noticed, and what a person decided about it.

    Parameters
    ----------
    at : datetime
        When it was noticed, by the wall clock after the jump.
    step_s : float
        By how much the wall clock jumped, s; positive is forward.
    decision : {"open", "follow", "keep"}
        ``open``: nobody has decided yet. ``follow``: minutes follow the steady clock; the wall
        clock was only put right, or wrong. ``keep``: minutes keep to the wall clock, because the
        steady one stood still (a machine that slept).
    """

    at: datetime
    step_s: float
    decision: Decision


@dataclass(frozen=True, slots=True)
class Stamp:
    """A moment as it was recorded: by the wall clock, after so many recorded jumps.

    The count is needed because a wall clock that was set back shows the same hour twice: only the
    order of the record tells which of the two it was.
    """

    utc: datetime
    steps_seen: int


def compare(anchor: Anchor, now: Anchor, *, tolerance_s: float) -> Drift:
    """Return what became of the wall clock since an anchor.

    Parameters
    ----------
    anchor, now : Anchor
        The clocks then and now.
    tolerance_s : float
        By how much the two clocks may drift apart without a jump, s.

    Returns
    -------
    Drift

    Raises
    ------
    FieldError
        If a wall clock has no zone, if the steady clock went back within one run, or if the
        tolerance is negative.
    """
    if not tolerance_s >= 0.0:
        raise FieldError(
            field="tolerance_s", wrong="no tolerance", allowed="0 or more", came=f"{tolerance_s:g}"
        )
    wall_s = (_utc(now.utc) - _utc(anchor.utc)).total_seconds()
    if now.boot_id != anchor.boot_id:
        if wall_s < 0.0:
            return Drift(kind="backwards", step_s=wall_s, away_s=None)
        return Drift(kind="restart", step_s=None, away_s=wall_s)
    steady_s = now.steady_s - anchor.steady_s
    if not steady_s >= 0.0:
        raise FieldError(
            field="steady_s",
            wrong="a steady clock cannot go back within one run of the machine",
            allowed=f"{anchor.steady_s:g} or more",
            came=f"{now.steady_s:g}",
        )
    step_s = wall_s - steady_s
    kind: Literal["none", "jump"] = "jump" if abs(step_s) > tolerance_s else "none"
    return Drift(kind=kind, step_s=step_s, away_s=steady_s)


def minutes_since(t0: Stamp, at: Stamp, steps: Sequence[ClockStep]) -> float:
    """Return the minutes from T0 to another moment, with jumps of the wall clock taken out.

    The difference of the two wall clock times, less each jump recorded between the two moments
    that is ``open`` or ``follow``. A jump that is ``keep`` stays in the difference.

    Parameters
    ----------
    t0, at : Stamp
        Minute 0, and the moment asked for; it may lie before minute 0.
    steps : sequence of ClockStep
        All jumps on record, in the order of the record.

    Returns
    -------
    float
        Minutes; negative before T0.

    Raises
    ------
    FieldError
        If a time has no zone, or a stamp has seen more jumps than there are.

    Examples
    --------
    Minute 0 at 09:00. At 09:30 the wall clock jumps an hour ahead. A sample is stamped 10:45, which
    by the steady clock is a quarter of an hour later.

    >>> from datetime import UTC, datetime
    >>> t0 = Stamp(datetime(2026, 11, 27, 9, 0, tzinfo=UTC), 0)
    >>> at = Stamp(datetime(2026, 11, 27, 10, 45, tzinfo=UTC), 1)
    >>> noticed = datetime(2026, 11, 27, 10, 30, tzinfo=UTC)

    Nobody has decided, or the clock was only set: the sample is that of 45 min.

    >>> minutes_since(t0, at, [ClockStep(noticed, 3600.0, "open")])
    45.0

    The machine slept for that hour, and the patient was 105 min after the drink:

    >>> minutes_since(t0, at, [ClockStep(noticed, 3600.0, "keep")])
    105.0
    """
    for name, stamp in (("t0", t0), ("at", at)):
        if not 0 <= stamp.steps_seen <= len(steps):
            raise FieldError(
                field=name,
                wrong="has not seen the jumps on record",
                allowed=f"0 to {len(steps)} jumps",
                came=str(stamp.steps_seen),
            )
    wall_s = (_utc(at.utc) - _utc(t0.utc)).total_seconds()
    return (wall_s - _taken_out_s(at, steps) + _taken_out_s(t0, steps)) / 60.0


def _taken_out_s(stamp: Stamp, steps: Sequence[ClockStep]) -> float:
    """Return by how much the wall clock was ahead at a stamp through jumps that are taken out."""
    return sum(step.step_s for step in steps[: stamp.steps_seen] if step.decision != "keep")


def _utc(moment: datetime) -> datetime:
    """Return a moment in UTC: Python subtracts two times of one zone as if no clock had changed."""
    if moment.tzinfo is None:
        raise FieldError(
            field="utc",
            wrong="a time without its zone",
            allowed="a time with its zone",
            came=moment.isoformat(),
        )
    return moment.astimezone(UTC)
