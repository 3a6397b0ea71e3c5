"""What a cycle is run with: the analyser's channels, the method, settings and references."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.dilution import Marker
from ebbline.core.breath.reading import Dilution
from ebbline.core.breath.sensor import Sensor, Sensors, variance_of_one
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.breath.trace import Channel
from ebbline.core.errors import InputError, list_allowed

Float = NDArray[np.float64]
Method = Literal["blow", "bag"]

TRACE_GASES: tuple[Channel, ...] = ("h2_ppm", "ch4_ppm")
"""The gases that the test is about; the others are markers."""


@dataclass(frozen=True, slots=True)
class Watched:
    """The marker channel that shows the breath: its references, and what is known of its sensor."""

    channel: Channel
    marker: Marker
    sensor: Sensor

    def share(self, shown_pct: Float) -> Float:
        """Return how far values are on the way from room air (0) to the alveolar reference (1)."""
        marker = self.marker
        return (marker.ambient_pct - shown_pct) / (marker.ambient_pct - marker.alveolar_pct)

    @property
    def sd_share(self) -> float:
        """Standard deviation of one sample, as a share."""
        marker = self.marker
        variance = float(variance_of_one(self.sensor, np.array(marker.alveolar_pct)))
        return math.sqrt(variance) / abs(marker.ambient_pct - marker.alveolar_pct)


@dataclass(frozen=True, slots=True)
class Cycle:
    """One cycle's givens.

    Parameters
    ----------
    sensors : mapping of channel name to Sensor
        What is known of each gas channel; H2 must be among them.
    method : {"blow", "bag"}
        A blow is seen as it passes by channels of the stream regime, and held for those of the
        chamber regime; a bag is held for all.
    settings : ReductionSettings
        Windows and limits.
    dilution : Dilution
        References for room air and alveolar gas.

    Raises
    ------
    InputError
        If H2 is missing, a channel has no reference for room air, or nothing shows a blow that a
        channel is to see as it passes.
    """

    sensors: Sensors
    method: Method
    settings: ReductionSettings
    dilution: Dilution

    def __post_init__(self) -> None:
        """Refuse what cannot be reduced."""
        if "h2_ppm" not in self.sensors:
            raise InputError(
                "reduction: channels cannot be used; allowed: h2_ppm among them; "
                f"came: {', '.join(self.sensors) or 'none'}"
            )
        for name in self.sensors:
            self.ambient(name)
        passing = [name for name, sensor in self.sensors.items() if sensor.regime == "stream"]
        watched = self.watched
        shown = watched is not None and watched.sensor.regime == "stream"
        if self.method == "blow" and passing and not shown:
            raise InputError(
                "reduction: a blow cannot be seen as it passes; allowed: O2 or CO2 of the stream "
                f"regime among the channels; came: {', '.join(passing)} of it"
            )

    @property
    def watched(self) -> Watched | None:
        """The marker channel that shows the breath: the first in order of preference."""
        for marker in self.dilution.markers:
            name = marker_channel(marker)
            if name in self.sensors:
                return Watched(name, marker, self.sensors[name])
        return None

    def ambient(self, name: Channel) -> float:
        """Return what room air holds of a channel's gas, ppm or percent."""
        known = {
            "h2_ppm": self.dilution.ambient_h2_ppm,
            "ch4_ppm": self.dilution.ambient_ch4_ppm,
        }
        for marker in self.dilution.markers:
            known[marker_channel(marker)] = marker.ambient_pct
        if name not in known:
            raise InputError(
                "reduction: a channel has no reference for room air; allowed: "
                f"{list_allowed(known)}; came: {name}"
            )
        return known[name]


def marker_channel(marker: Marker) -> Channel:
    """Return the channel of a marker gas.

    Parameters
    ----------
    marker : Marker
        The marker's references.

    Returns
    -------
    str
        Name of the channel.
    """
    return "o2_pct" if marker.gas == "o2" else "co2_pct"
