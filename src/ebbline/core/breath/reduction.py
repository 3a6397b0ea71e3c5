"""What a trace was reduced to: the reading, each raw value by source of uncertainty, and why."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.budget import Budget
from ebbline.core.breath.cycle import Method
from ebbline.core.breath.reading import Quality, Reading
from ebbline.core.breath.reasons import Outside, Reason
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.breath.trace import Channel
from ebbline.core.breath.zero import Zeroing

Float = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Value:
    """One gas of one breath, in its channel's unit.

    ``raw`` is the final value: end-tidal from the plateau, or what the held gas settles to, zero
    taken off and room air put back. ``peak`` is the highest that was shown (of O2 the lowest) and
    ``last`` the last: neither is a result. ``noise_gain`` is the sd of ``raw`` from noise over that
    of one sample; ``slope_per_s`` that of the plateau, None for a held gas.
    """

    raw: float
    budget: Budget
    peak: float
    last: float
    noise_gain: float
    slope_per_s: float | None
    count: int

    @property
    def u(self) -> float:
        """Return the combined standard uncertainty of ``raw``."""
        return self.budget.total


@dataclass(frozen=True, slots=True)
class Times:
    """When things happened, s on the trace's clock; None: it was not seen.

    ``onset_s`` and ``end_s`` are of the breath at the inlet, and ``plateau_s`` is where alveolar
    air was looked for; ``held_s`` is when gas was held for the slow sensors and ``done_s`` when the
    reading was known; ``waited_s`` is the time between the two, and ``saved_s`` how much sooner
    that is than 99 % of the slowest response.
    """

    onset_s: float | None
    end_s: float | None
    plateau_s: tuple[float, float] | None
    held_s: float | None
    done_s: float | None
    waited_s: float | None
    saved_s: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Reduction:
    """The outcome of one trace, with the settings that made it.

    ``reading`` is None where no value of H2 could be had; otherwise it has the numbers, of a
    refused breath too. ``covariance`` is (4, 4), of the raw H2, CH4 (ppm), O2 and CO2 (%), NaN for
    what is not there; ``covariance_used`` is (2, 2), of the values of H2 and CH4 that count, ppm²,
    in which normalising makes them move together.
    """

    method: Method
    quality: Quality
    reasons: tuple[Reason, ...]
    reading: Reading | None
    values: Mapping[Channel, Value]
    covariance: Float
    covariance_used: Float
    zeros: Mapping[Channel, Zeroing]
    times: Times
    outside: tuple[Outside, ...]
    settings: ReductionSettings
