"""How far a cycle has come: what an operator and a patient see while it runs."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ebbline.core.breath.trace import Channel

Phase = Literal["room", "blow", "held", "done"]


@dataclass(frozen=True, slots=True)
class Settling:
    """A held gas on its way: where it will settle with its uncertainty, and how much was seen.

    ``value`` and ``u`` are None before there is anything to tell them by; ``asked`` is the
    uncertainty at which the watching ends.
    """

    value: float | None
    u: float | None
    asked: float | None
    share: float


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a cycle is; times in s.

    Parameters
    ----------
    phase : {"room", "blow", "held", "done"}
        Room air before the breath, the breath passing, gas held, or over.
    at_s : float or None
        Time of the last sample; None before the first.
    room_s, room_needed_s : float
        Room air that a zero could be taken from now, and how much is needed.
    alveolar_share : float or None
        How far the marker gas is on the way from room air (0) to the alveolar reference (1), as
        shown now; None without a marker.
    blown_s : float or None
        Time since breath came to the inlet.
    steady_s, steady_needed_s : float
        For how long the marker has been near its highest, and how long that must be: alveolar air
        is reached, and the patient may stop, when the first is as long as the second.
    at_most_s : float or None
        Time that held gas will be watched for at the most.
    settling : mapping of channel name to Settling
        The held gases.
    live : mapping of channel name to float
        What each channel shows now: not zeroed, not a result.
    """

    phase: Phase
    at_s: float | None
    room_s: float
    room_needed_s: float
    alveolar_share: float | None
    blown_s: float | None
    steady_s: float
    steady_needed_s: float
    at_most_s: float | None
    settling: Mapping[Channel, Settling]
    live: Mapping[Channel, float]
