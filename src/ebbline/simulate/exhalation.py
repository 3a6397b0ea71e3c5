"""One exhalation as it is set: who blows, in what room, with what flow, and what happens.

All persons and breaths are invented. What follows for the gases is in `ebbline.simulate.course`.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ebbline.core.errors import SettingError
from ebbline.simulate.gas import Gases, require

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
