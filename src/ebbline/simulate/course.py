"""One exhalation in time: volumes, flow, and what the gases at the mouth are made of.

With E the volume expired so far, V the part of it that did not only push back air breathed in,
V_D the dead space, w the width of the transition and s the slope of the plateau,

    a(V) = 1 / (1 + exp(-(V - V_D) / w)),    C = C_room + a (C_alveolar + s (V - V_end) - C_room),

so that without slopes one share a of alveolar gas describes all gases at every moment. The form is
the smooth expirogram that is fitted to single-breath tests (Tusman G, et al. J Clin Monit Comput
2009;23:197-206 fit such a function; this one is ours).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ebbline.core.errors import SettingError
from ebbline.simulate.exhalation import Exhalation

Float = NDArray[np.float64]
# The transition runs from 5 % to 95 % of the step: logit(0.95) = ln 19 on either side.
_LOGIT_95 = math.log(19.0)


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
