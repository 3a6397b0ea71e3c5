"""Put together what a cycle is run with: the channels that are there, references, who said what."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from ebbline.core.breath.cycle import Method
from ebbline.core.breath.reading import Dilution
from ebbline.core.breath.sensor import Sensors
from ebbline.core.breath.trace import Channel
from ebbline.core.errors import InputError
from ebbline.services.choose_settings import find_markers
from ebbline.services.library import Library

# Nobody leaves an analyser on for longer than this without a restart: 19 years, in minutes.
_LONGEST_MIN = 1e7


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a person says of a trace beside its file; None where nothing is said.

    Parameters
    ----------
    method : {"blow", "bag"} or None
        Whether a patient blew or a bag is emptied.
    begun_s : float or None
        When it began, s on the trace's clock.
    on_for_min : float or None
        How long the analyser had been on at time 0, min.
    reference : str or None
        Gas by which alveolar air is told, such as ``o2 13.9``.

    Raises
    ------
    InputError
        If a number cannot be used.
    """

    method: Method | None
    begun_s: float | None
    on_for_min: float | None
    reference: str | None

    def __post_init__(self) -> None:
        """Refuse numbers that cannot be meant."""
        if self.begun_s is not None and not math.isfinite(self.begun_s):
            raise InputError(
                f"begun cannot be used; allowed: a finite number of seconds; came: {self.begun_s:g}"
            )
        if self.on_for_min is not None and not 0.0 <= self.on_for_min <= _LONGEST_MIN:
            raise InputError(
                f"on-for cannot be used; allowed: 0 to {_LONGEST_MIN:g} min; "
                f"came: {self.on_for_min:g}"
            )


def choose_dilution(reference: str | None, library: Library) -> Dilution:
    """Return the references by which a trace is judged alveolar.

    A reference that a person names comes first and the other gas stays behind it, for the zero of
    its channel and for breaths in which the first has no value.

    Parameters
    ----------
    reference : str or None
        Such as ``o2 13.9``; None: as the service has them.
    library : Library
        The service's references.

    Returns
    -------
    Dilution

    Raises
    ------
    InputError
        If the reference cannot be read, or is none.
    """
    if reference is None:
        return library.dilution
    chosen = find_markers(reference, library)
    if not chosen:
        raise InputError(
            "alveolar reference cannot be used for a trace; allowed: o2 or co2, with a percentage "
            f"or without, such as o2 13.9; came: {reference}"
        )
    others = (one for one in library.dilution.markers if one.gas != chosen[0].gas)
    return replace(library.dilution, markers=(*chosen, *others))


def choose_sensors(sensors: Sensors, channels: Iterable[Channel]) -> tuple[Sensors, list[str]]:
    """Return the sensors whose channel a trace has, and remarks on what is left out.

    Parameters
    ----------
    sensors : mapping of channel name to Sensor
        From the profile.
    channels : iterable of str
        Channels of the trace.

    Returns
    -------
    sensors : mapping of channel name to Sensor
    remarks : list of str
        Sentences.
    """
    there = tuple(channels)
    used = {name: sensor for name, sensor in sensors.items() if name in there}
    remarks = [
        f"The profile has {name} and the trace does not." for name in sensors if name not in there
    ]
    remarks += [
        f"The trace has {name} and the profile does not, so it was not used."
        for name in there
        if name not in sensors and name != "flow_l_per_s"
    ]
    return used, remarks


def switched_on_s(on_for_min: float | None) -> float | None:
    """Return when an analyser was switched on, on a clock on which it had been on for so long at 0.

    Parameters
    ----------
    on_for_min : float or None
        How long, min; None: not known.

    Returns
    -------
    float or None
        s.
    """
    return None if on_for_min is None else -60.0 * on_for_min
