"""Say what a profile's channels can do, and where they fall short of what a breath needs."""

import math
from dataclasses import dataclass

import numpy as np

from ebbline.core.breath.cycle import TRACE_GASES, Watched, marker_channel
from ebbline.core.breath.reading import Dilution
from ebbline.core.breath.response import noise_gain, rise_10_90_s, t90_s, time_to_share_s
from ebbline.core.breath.sensor import Sensor, rounding_left, variance_of_one
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.breath.trace import FASTEST_HZ, SLOWEST_HZ, Channel
from ebbline.core.errors import InputError
from ebbline.services.library import Library
from ebbline.services.ports import Instrument, InstrumentReader

# A marker that must go back by half of the way before it counts as turned misses shallow
# inhalations. Judgement, no source.
_TOO_NOISY = 0.5


@dataclass(frozen=True, slots=True)
class ChannelCheck:
    """One channel of a profile.

    Parameters
    ----------
    channel : str
        Its name.
    sensor : Sensor
        What the profile says of it.
    t90_s, rise_10_90_s : float
        Time from the end of the delay to 90 %, and from 10 to 90 % of a step, s.
    settled_s : float
        Time from a step to 99 % of it, delay included, s.
    sd_of_one : float
        Standard deviation of one value in room air, rounding included, in the channel's unit.
    noise_gain : float or None
        How many times noisier the channel would be if its slowest lag were undone exactly; None
        where it is not known how often values come.
    """

    channel: Channel
    sensor: Sensor
    t90_s: float
    rise_10_90_s: float
    settled_s: float
    sd_of_one: float
    noise_gain: float | None


@dataclass(frozen=True, slots=True)
class ProfileCheck:
    """What was found in a profile; the warnings are sentences.

    Parameters
    ----------
    instrument : Instrument
        The profile.
    rate_hz : float or None
        How often values come, as far as it is known.
    channels : tuple of ChannelCheck
        Its gas channels.
    warnings : tuple of str
        Where it falls short.
    """

    instrument: Instrument
    rate_hz: float | None
    channels: tuple[ChannelCheck, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CheckProfile:
    """The use case, with what it needs from outside."""

    library: Library
    read_instrument: InstrumentReader

    def __call__(self, name: str, *, rate_hz: float | None) -> ProfileCheck:
        """Return what was found in a profile.

        Parameters
        ----------
        name : str
            Name of the profile.
        rate_hz : float or None
            How often the analyser sends values; None: not known.

        Returns
        -------
        ProfileCheck

        Raises
        ------
        ProfileError
            If the profile is refused.
        InputError
            If no trace can have such a rate.
        """
        if rate_hz is not None and not SLOWEST_HZ <= rate_hz <= FASTEST_HZ:
            raise InputError(
                f"rate cannot be used; allowed: {SLOWEST_HZ:g} to {FASTEST_HZ:g} Hz; "
                f"came: {rate_hz:g} Hz"
            )
        instrument = self.read_instrument(name)
        dilution, settings = self.library.dilution, self.library.reduction
        channels = tuple(
            _channel(name, sensor, _ambient(name, dilution), rate_hz)
            for name, sensor in instrument.sensors.items()
        )
        return ProfileCheck(
            instrument=instrument,
            rate_hz=rate_hz,
            channels=channels,
            warnings=(
                *_about_gases(channels),
                *_about_marker(channels, dilution, settings),
                *_about_rate(channels, rate_hz, settings),
                *(warning for one in channels for warning in _about_channel(one, settings)),
            ),
        )


def _ambient(name: Channel, dilution: Dilution) -> float:
    """Return what room air holds of a gas, ppm or percent."""
    for marker in dilution.markers:
        if marker_channel(marker) == name:
            return marker.ambient_pct
    return 0.0


def _channel(name: Channel, sensor: Sensor, ambient: float, rate_hz: float | None) -> ChannelCheck:
    response = sensor.response
    slowest_s = max(response.tau_s, response.tau2_s)
    return ChannelCheck(
        channel=name,
        sensor=sensor,
        t90_s=t90_s(response),
        rise_10_90_s=rise_10_90_s(response),
        settled_s=response.delay_s + time_to_share_s(0.99, response),
        sd_of_one=math.sqrt(float(variance_of_one(sensor, np.array(ambient)))),
        noise_gain=None if rate_hz is None else noise_gain(1.0 / rate_hz, slowest_s),
    )


def _about_gases(channels: tuple[ChannelCheck, ...]) -> list[str]:
    """Warn where a gas is missing that a breath test needs."""
    names = [one.channel for one in channels]
    if "h2_ppm" not in names:
        return ["There is no H2 channel: no trace of this analyser can be reduced."]
    if "ch4_ppm" not in names:
        return ["There is no CH4 channel: patients who make methane are not found."]
    return []


def _about_marker(
    channels: tuple[ChannelCheck, ...], dilution: Dilution, settings: ReductionSettings
) -> list[str]:
    """Warn where the gas that shows the breath cannot show all of it."""
    by_name = {one.channel: one for one in channels}
    marker = next((one for one in dilution.markers if marker_channel(one) in by_name), None)
    if marker is None:
        return [
            (
                "There is neither O2 nor CO2: a person must say when each breath began, and nobody "
                "can tell how much room air is in a sample, or whether the patient breathed in."
            )
        ]
    check = by_name[marker_channel(marker)]
    gas = _gas(check.channel)
    if check.sensor.regime == "chamber":
        return [
            (
                f"{gas} is measured in a chamber: a second inhalation or an early stop in a blow "
                "cannot be seen."
            )
        ]
    found = []
    if check.t90_s > settings.longest_gap_s:
        found.append(
            f"{gas} takes {check.t90_s:.2g} s to 90 %, longer than a short inhalation of "
            f"{settings.longest_gap_s:g} s: one may pass unseen."
        )
    turn = settings.turn_in_sd * Watched(check.channel, marker, check.sensor).sd_share
    if turn > _TOO_NOISY:
        found.append(
            f"{gas} is so noisy that it must turn back by {100.0 * turn:.0f} % of the way to room "
            "air before an inhalation is told from noise."
        )
    return found


def _about_rate(
    channels: tuple[ChannelCheck, ...], rate_hz: float | None, settings: ReductionSettings
) -> list[str]:
    """Warn where values come too seldom for a breath that passes."""
    if all(one.sensor.regime == "chamber" for one in channels):
        return []
    needed_hz = 1.0 / settings.longest_gap_s
    plateau_hz = settings.fewest / settings.plateau_shortest_s
    if rate_hz is None:
        return [
            (
                "How often values come is not known, so it was not judged. A second inhalation "
                f"needs {2.0 * needed_hz:.1f} Hz or more, the shortest plateau {plateau_hz:g} Hz."
            )
        ]
    found = []
    if rate_hz < 2.0 * needed_hz:
        found.append(
            f"At {rate_hz:g} Hz one lost value leaves a gap in which a second inhalation could "
            f"hide, and then the blow is refused; {2.0 * needed_hz:.1f} Hz or more would not."
        )
    if rate_hz < plateau_hz:
        found.append(
            f"At {rate_hz:g} Hz the shortest plateau of {settings.plateau_shortest_s:g} s has "
            f"fewer than {settings.fewest} values: patients must blow for longer."
        )
    return found


def _about_channel(check: ChannelCheck, settings: ReductionSettings) -> list[str]:
    """Warn where one channel falls short."""
    gas, sensor = _gas(check.channel), check.sensor
    found = []
    if sensor.u_gain_fraction is None:
        found.append(f"{gas}: calibration not known. Its uncertainty is not in the results.")
    if check.channel in TRACE_GASES:
        left = rounding_left(sensor, 0.0)
        if left > settings.u_ppm:
            found.append(
                f"{gas}: steps of {sensor.resolution:g} leave {left:.2g} ppm of uncertainty, more "
                f"than the {settings.u_ppm:g} ppm that are asked."
            )
    if sensor.regime == "chamber" and check.settled_s > settings.longest_hold_s:
        found.append(
            f"{gas}: 99 % of the response takes {check.settled_s:.0f} s, longer than the "
            f"{settings.longest_hold_s:g} s for which gas is usually watched. It is watched for as "
            "long as it needs."
        )
    return found


def _gas(channel: Channel) -> str:
    """Return a channel's gas as it is written."""
    return channel.partition("_")[0].upper()
