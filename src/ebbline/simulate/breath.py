"""Virtual breaths: the true gases at the mouth during one exhalation, and the truth about it.

`ebbline.simulate.exhalation` says what happens, and `ebbline.simulate.course` what that does.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ebbline.simulate.course import Course, course_of
from ebbline.simulate.exhalation import Event, Exhalation
from ebbline.simulate.gas import Gases, gases

Float = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Marks:
    """When the parts of a blow begin and end, seconds on the trace's clock; NaN: never.

    ``transition_s`` is where 5 % of the step, ``plateau_s`` where 95 % of it has come; ``turn_s``
    is where the inhalation begins.
    """

    onset_s: float
    transition_s: float
    plateau_s: float
    turn_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class BreathTruth:
    """What is true of one blow and no instrument shows.

    ``alveolar`` is undiluted alveolar gas at the end of what was expired, after holding and
    hyperventilation; ``last`` is the gas that left last and ``fraction`` its alveolar share.
    """

    alveolar: Gases
    last: Gases
    fraction: float
    marks: Marks
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class Expirogram:
    """True gases at the mouth, arrays (n_samples,), with the truth about the blow.

    ``flow_l_per_s`` is negative while air is breathed in; ``fraction`` is the alveolar share.
    """

    time_s: Float
    h2_ppm: Float
    ch4_ppm: Float
    o2_pct: Float
    co2_pct: Float
    flow_l_per_s: Float
    fraction: Float
    truth: BreathTruth


def expirogram(exhalation: Exhalation, time_s: ArrayLike) -> Expirogram:
    """Return the true gases at the mouth.

    Parameters
    ----------
    exhalation : Exhalation
        The blow; its onset is at ``room_before_s``.
    time_s : array-like (n_samples,), seconds
        Moments to look at, in any order; 0 is the beginning of the trace.

    Returns
    -------
    Expirogram

    Raises
    ------
    SettingError
        If a cough or an inhalation does not fit into the blow.
    """
    time = np.asarray(time_s, dtype=np.float64)
    course = course_of(exhalation)
    truth = _truth(exhalation, course)
    onset, end = truth.marks.onset_s, truth.marks.end_s
    fraction, flow, excess = np.zeros(len(time)), np.zeros(len(time)), np.zeros((4, len(time)))
    room = exhalation.person.room.values()
    # Outside the blow there is room air, but for what has not been flushed away yet.
    blowing = (time >= onset) & (time <= end)
    clock = np.minimum(time[blowing] - onset, course.clock[-1])
    fraction[blowing], excess[:, blowing] = course.gas(*course.volumes(clock))
    flow[blowing] = course.flow(clock)
    if exhalation.flush_s > 0.0:
        after = time > end
        stays = np.exp((end - time[after]) / exhalation.flush_s)
        fraction[after] = truth.fraction * stays
        excess[:, after] = np.outer(truth.last.values() - room, stays)
    h2, ch4, o2, co2 = room[:, None] + excess
    return Expirogram(time, h2, ch4, o2, co2, flow, fraction, truth)


def _truth(exhalation: Exhalation, course: Course) -> BreathTruth:
    """Gather what is true of a blow."""
    onset, end = exhalation.room_before_s, np.array([exhalation.end_l])
    fraction, excess = course.gas(end, course.inhaled[-1:])
    room = exhalation.person.room.values()
    share = float(fraction[0])
    dead, half = exhalation.dead_space_l, exhalation.person.transition_l / 2.0
    filled = min(float(course.inhaled[-1]), dead)

    def reached(volume_l: float) -> float:
        expired = volume_l if volume_l <= course.turn_l else volume_l + filled
        return onset + course.clock_at(expired) if expired <= exhalation.end_l else math.nan

    drawn = exhalation.inhalation
    return BreathTruth(
        alveolar=gases(room + excess[:, 0] / share),
        last=gases(room + excess[:, 0]),
        fraction=share,
        marks=Marks(
            onset_s=onset,
            transition_s=reached(dead - half),
            plateau_s=reached(dead + half),
            turn_s=math.nan if drawn is None else onset + drawn.at_s,
            end_s=onset + float(course.clock[-1]),
        ),
        events=_events(exhalation),
    )


def _events(exhalation: Exhalation) -> tuple[Event, ...]:
    """Name what happened, in the order in which it happens."""
    dead, half = exhalation.dead_space_l, exhalation.person.transition_l / 2.0
    stop = exhalation.stop_l
    happened: list[tuple[Event, bool]] = [
        ("hyperventilated", exhalation.hyperventilation is not None),
        ("held", exhalation.hold is not None),
        ("coughed", exhalation.cough is not None),
        ("breathed_in", exhalation.inhalation is not None),
        ("stopped_in_dead_space", stop is not None and stop < dead - half),
        ("stopped_in_transition", stop is not None and dead - half <= stop <= dead + half),
        ("stopped_late", stop is not None and stop > dead + half),
    ]
    return tuple(name for name, did in happened if did)
