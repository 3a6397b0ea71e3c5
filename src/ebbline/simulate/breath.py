"""Virtual breaths: the true gases at the mouth during one exhalation, and the truth about it.

With E the volume expired so far, V the part of it that did not only push back air breathed in,
V_D the dead space, w the width of the transition and s the slope of the plateau,

    a(V) = 1 / (1 + exp(-(V - V_D) / w)),    C = C_room + a (C_alveolar + s (V - V_end) - C_room),

so that without slopes one share a of alveolar gas describes all gases at every moment. The form is
the smooth expirogram that is fitted to single-breath tests (Tusman G, et al. J Clin Monit Comput
2009;23:197-206 fit such a function; this one is ours). All persons and breaths are invented.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ebbline.core.errors import SettingError

Float = NDArray[np.float64]
Event = Literal[
    "hyperventilated",
    "held",
    "coughed",
    "breathed_in",
    "stopped_in_dead_space",
    "stopped_in_transition",
    "stopped_late",
]
# The order of the four gases wherever they are rows of one array.
GASES = ("h2_ppm", "ch4_ppm", "o2_pct", "co2_pct")
# The transition runs from 5 % to 95 % of the step: logit(0.95) = ln 19 on either side.
_LOGIT_95 = math.log(19.0)
# What can be computed with, part by part; wide of anything that a person does.
_LIMITS: dict[str, dict[str, tuple[float, float]]] = {
    "person": {"dead_space_l": (0.01, 1.0), "lung_l": (0.1, 10.0)},
    "flow": {"start_l_per_s": (0.01, 15.0), "end_l_per_s": (0.01, 15.0)},
    "hold": {"seconds": (0.0, 60.0)}
    | dict.fromkeys(("co2_pct_per_s", "o2_pct_per_s", "trace_fraction_per_s"), (0.0, 0.15)),
    "hyperventilation": {"marker_share": (0.0, 1.0), "trace_share": (0.0, 1.0)},
    "cough": {"at_s": (0.0, 120.0), "duration_s": (0.01, 5.0), "spike": (1.0, 20.0), "dip": (0, 1)},
    "inhalation": {"at_s": (0.0, 120.0), "duration_s": (0.05, 10.0), "volume_l": (0.001, 6.0)},
    "": {"apparatus_l": (0.0, 1.0), "room_before_s": (0.0, 600.0), "flush_s": (0.0, 60.0)},
}


def require(name: str, value: float, lowest: float, highest: float) -> None:
    """Refuse a setting that is not finite or outside its limits, which are allowed themselves."""
    if not (math.isfinite(value) and lowest <= value <= highest):
        raise SettingError(
            f"virtual {name} cannot be used; allowed: {lowest:g} to {highest:g}; came: {value:g}"
        )


@dataclass(frozen=True, slots=True)
class Gases:
    """One value for each gas: H2 and CH4 in ppm, O2 and CO2 in dry percent (or those per litre)."""

    h2_ppm: float
    ch4_ppm: float
    o2_pct: float
    co2_pct: float

    def values(self) -> Float:
        """Return them as an array (4,) in the order of `GASES`."""
        return np.array([self.h2_ppm, self.ch4_ppm, self.o2_pct, self.co2_pct])


def gases(values: Float) -> Gases:
    """Return an array (4,) in the order of `GASES` as named values."""
    return Gases(*(float(value) for value in values))


@dataclass(frozen=True, slots=True)
class Person:
    """Who blows, and in what room.

    Parameters
    ----------
    alveolar, room : Gases
        Alveolar gas at the end of the planned expiration, before holding or hyperventilation, and
        room air.
    slope_per_l : Gases
        Slope of the plateau (phase III), ppm or percent per litre expired.
    dead_space_l, transition_l : float
        Anatomical dead space, and the volume in which alveolar gas goes from 5 % to 95 %, L.
    lung_l : float
        Lung volume that air breathed in during the blow mixes with, L.
    """

    alveolar: Gases
    room: Gases
    slope_per_l: Gases
    dead_space_l: float
    transition_l: float
    lung_l: float


@dataclass(frozen=True, slots=True)
class Flow:
    """Flow at the mouth over the planned expiration.

    Parameters
    ----------
    kind : {"constant", "decaying", "ramp"}
        Constant; falling exponentially; rising or falling linearly in time.
    start_l_per_s, end_l_per_s : float
        Flow at the beginning and the planned end, L/s.
    """

    kind: Literal["constant", "decaying", "ramp"]
    start_l_per_s: float
    end_l_per_s: float

    def __post_init__(self) -> None:
        """Refuse flows that do not fit the kind."""
        start, end = self.start_l_per_s, self.end_l_per_s
        if not {"constant": start == end, "decaying": start > end, "ramp": True}[self.kind]:
            raise SettingError(
                "virtual flow cannot be used; allowed: constant with equal flows, decaying with a "
                f"lower flow at the end, or ramp; came: {self.kind} from {start:g} to {end:g} L/s"
            )

    def rate_l_per_s(self, volume_l: ArrayLike, total_l: float) -> Float:
        """Return the flow where `volume_l` of `total_l` is expired, any shape, L/s.

        A decaying flow is linear in volume, the square of a ramp is.
        """
        start, end = self.start_l_per_s, self.end_l_per_s
        share = np.asarray(volume_l, dtype=np.float64) / total_l
        if self.kind == "decaying":
            return start + (end - start) * share
        return np.sqrt(start**2 + (end**2 - start**2) * share)

    def seconds(self, volume_l: float, total_l: float) -> float:
        """Return the time in which `volume_l` of `total_l` is expired, s."""
        start = self.start_l_per_s
        rate = float(self.rate_l_per_s(volume_l, total_l))
        if self.kind == "decaying":
            return math.log(start / rate) * total_l / (start - self.end_l_per_s)
        return 2.0 * volume_l / (start + rate)

    def volume_l(self, seconds: Float, total_l: float) -> Float:
        """Return the volume expired after some time, same shape, L."""
        start, end = self.start_l_per_s, self.end_l_per_s
        if self.kind == "decaying":
            fall = (start - end) / total_l
            return -np.expm1(-fall * seconds) * start / fall
        return start * seconds + (end**2 - start**2) / (4.0 * total_l) * seconds**2


@dataclass(frozen=True, slots=True)
class Hold:
    """Breath held before the blow: so many seconds, and what each second does to alveolar gas.

    CO2 rises, O2 falls, and the excess of H2 and CH4 over the room grows by a fraction.
    """

    seconds: float
    co2_pct_per_s: float
    o2_pct_per_s: float
    trace_fraction_per_s: float


@dataclass(frozen=True, slots=True)
class Hyperventilation:
    """Deep breathing before the blow: the share of the excess over room air that remains, 0 to 1.

    CO2 and the lack of O2 keep ``marker_share``, H2 and CH4 ``trace_share``. The two differ, which
    is why no marker corrects it (Perman JA, et al. J Lab Clin Med 1985;105:436-439).
    """

    marker_share: float
    trace_share: float


@dataclass(frozen=True, slots=True)
class Cough:
    """A cough: flow times ``spike`` for half of ``duration_s``, times ``dip`` for the other half.

    ``at_s`` counts from the onset of the blow.
    """

    at_s: float
    duration_s: float
    spike: float
    dip: float


@dataclass(frozen=True, slots=True)
class Inhalation:
    """Room air breathed in during the blow, at a steady flow; ``at_s`` counts from the onset."""

    at_s: float
    duration_s: float
    volume_l: float


@dataclass(frozen=True, slots=True)
class Exhalation:
    """One blow into an apparatus.

    Parameters
    ----------
    person : Person
        Who blows.
    apparatus_l : float
        Dead space of mouthpiece and tube up to the sensor, L, 0 to 1.
    expired_l : float
        Planned expired volume, L; it must reach past the transition.
    flow : Flow
        Flow over the planned volume.
    room_before_s, flush_s : float
        Room air at the sensor before the onset, and the time constant with which room air replaces
        breath there afterwards (0: at once), s.
    hold, hyperventilation, cough, inhalation : optional
        What happened; None: it did not.
    stop_l : float or None
        Expired volume at which the blow breaks off early, L.
    """

    person: Person
    apparatus_l: float
    expired_l: float
    flow: Flow
    room_before_s: float
    flush_s: float
    hold: Hold | None = None
    hyperventilation: Hyperventilation | None = None
    stop_l: float | None = None
    cough: Cough | None = None
    inhalation: Inhalation | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot happen in one blow."""
        for part, names in _LIMITS.items():
            thing = getattr(self, part) if part else self
            for name, (lowest, highest) in names.items() if thing is not None else ():
                require(f"{part} {name}".strip(), getattr(thing, name), lowest, highest)
        # Wider than that, alveolar gas would be at the mouth from the first moment.
        require("person transition_l", self.person.transition_l, 1e-4, self.dead_space_l)
        require("expired_l", self.expired_l, self.dead_space_l + self.person.transition_l / 2, 10.0)
        if self.stop_l is not None:
            require("stop_l", self.stop_l, 1e-3, self.expired_l)

    @property
    def dead_space_l(self) -> float:
        """Anatomical and apparatus dead space, L."""
        return self.person.dead_space_l + self.apparatus_l

    @property
    def end_l(self) -> float:
        """Volume expired when the blow ends, what pushes back an inhalation included, L."""
        return self.expired_l if self.stop_l is None else self.stop_l


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
    onset, end = exhalation.room_before_s, exhalation.room_before_s + course.clock[-1]
    clock = np.clip(time - onset, 0.0, course.clock[-1])
    expired, inhaled = course.volumes(clock)
    fraction, excess = course.gas(expired, inhaled)
    # Outside the blow: room air before it, and afterwards what has not been flushed away yet.
    since = np.maximum(time - end, 0.0)
    stays = np.exp(-since / exhalation.flush_s) if exhalation.flush_s > 0.0 else since == 0.0
    share = np.where(time < onset, 0.0, stays)
    room = exhalation.person.room.values()
    h2, ch4, o2, co2 = room[:, None] + share * excess
    blowing = (time >= onset) & (time <= end)
    flow = np.where(blowing, course.flow(clock), 0.0)
    return Expirogram(time, h2, ch4, o2, co2, flow, share * fraction, _truth(exhalation, course))


@dataclass(frozen=True, slots=True)
class Course:
    """A blow in time: at each corner of the clock, the effort made and the volume breathed in.

    Effort is the time that the planned flow would have taken; it stands still during an inhalation
    and runs faster or slower in a cough. Between corners both are linear.
    """

    exhalation: Exhalation
    clock: Float
    effort: Float
    inhaled: Float
    turn_l: float

    def volumes(self, clock: Float) -> tuple[Float, Float]:
        """Return the volumes breathed out and in so far, L."""
        effort = np.interp(clock, self.clock, self.effort)
        planned = self.exhalation.expired_l
        expired = np.minimum(self.exhalation.flow.volume_l(effort, planned), self.exhalation.end_l)
        return expired, np.interp(clock, self.clock, self.inhaled)

    def flow(self, clock: Float) -> Float:
        """Return the flow at the mouth, L/s."""
        seconds = np.diff(self.clock)
        piece = np.searchsorted(self.clock[1:-1], clock, side="right")
        out = self.exhalation.flow.rate_l_per_s(self.volumes(clock)[0], self.exhalation.expired_l)
        pace = np.diff(self.effort) / seconds
        drawn = np.diff(self.inhaled) / seconds
        return out * pace[piece] - drawn[piece]

    def clock_at(self, expired_l: float) -> float:
        """Return when a volume has been expired, s after the onset."""
        exhalation = self.exhalation
        effort = exhalation.flow.seconds(expired_l, exhalation.expired_l)
        return float(np.interp(effort, self.effort, self.clock))

    def gas(self, expired_l: Float, inhaled_l: Float) -> tuple[Float, Float]:
        """Return the alveolar share (n,) and the excess of the gases over the room (4, n).

        Air breathed in fills the dead space from the mouth; what goes deeper mixes with the lungs.
        Breathing out again first pushes back what is in the dead space, last in first out.
        """
        exhalation, person = self.exhalation, self.exhalation.person
        dead, edge = exhalation.dead_space_l, exhalation.apparatus_l
        width = person.transition_l / (2.0 * _LOGIT_95)
        filled = np.minimum(inhaled_l, dead)
        after = np.maximum(expired_l - self.turn_l, 0.0)
        drawn = np.maximum(filled - after, 0.0)
        forward = np.minimum(expired_l, self.turn_l) + np.maximum(after - filled, 0.0)
        mixed = person.lung_l / (person.lung_l + np.maximum(inhaled_l - dead, 0.0))

        # The logistic step; far below it, it stays above 0, so that it can be divided by.
        def rises(volume_l: Float) -> Float:
            return 1.0 / (1.0 + np.exp(np.minimum(-volume_l / width, 300.0)))

        back = rises(edge - drawn) / rises(np.array(edge))
        fraction = mixed * back * rises(forward - dead)
        sloping = person.slope_per_l.values()[:, None] * (forward - exhalation.expired_l)
        excess = _alveolar(exhalation) - person.room.values()
        return fraction, fraction * (excess[:, None] + sloping)


def course_of(exhalation: Exhalation) -> Course:
    """Lay the events of a blow out in time, or raise SettingError where one does not fit."""
    pieces: list[tuple[str, float, float, float, float]] = []
    cough, drawn = exhalation.cough, exhalation.inhalation
    if cough is not None:
        half = cough.duration_s / 2.0
        pieces.append(("cough", cough.at_s, half, cough.spike, 0.0))
        pieces.append(("cough", cough.at_s + half, half, cough.dip, 0.0))
    if drawn is not None:
        pieces.append(("inhalation", drawn.at_s, drawn.duration_s, 0.0, drawn.volume_l))
    last = exhalation.flow.seconds(exhalation.end_l, exhalation.expired_l)
    clock, effort, inhaled, turn_l = [0.0], [0.0], [0.0], math.inf
    for name, at_s, seconds, pace, volume_l in sorted(pieces, key=lambda piece: piece[1]):
        begun = effort[-1] + at_s - clock[-1]
        if not (clock[-1] <= at_s + 1e-12 and begun + pace * seconds < last):
            raise SettingError(
                f"virtual {name} does not fit into the blow; allowed: between {clock[-1]:g} s and "
                f"{clock[-1] + last - effort[-1]:g} s; came: {at_s:g} s, for {seconds:g} s"
            )
        if at_s > clock[-1]:
            clock.append(at_s)
            effort.append(begun)
            inhaled.append(inhaled[-1])
        if name == "inhalation":
            turn_l = float(exhalation.flow.volume_l(np.array(begun), exhalation.expired_l))
        clock.append(at_s + seconds)
        effort.append(begun + pace * seconds)
        inhaled.append(inhaled[-1] + volume_l)
    clock.append(clock[-1] + last - effort[-1])
    effort.append(last)
    inhaled.append(inhaled[-1])
    return Course(exhalation, np.array(clock), np.array(effort), np.array(inhaled), turn_l)


def _alveolar(exhalation: Exhalation) -> Float:
    """Return alveolar gas (4,) at the planned end, after what was done before the blow."""
    room = exhalation.person.room.values()
    excess = exhalation.person.alveolar.values() - room
    deep, hold = exhalation.hyperventilation, exhalation.hold
    if deep is not None:
        excess *= [deep.trace_share, deep.trace_share, deep.marker_share, deep.marker_share]
    if hold is not None:
        excess[:2] *= 1.0 + hold.trace_fraction_per_s * hold.seconds
        excess[2:] += np.array([-hold.o2_pct_per_s, hold.co2_pct_per_s]) * hold.seconds
    return room + excess


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
