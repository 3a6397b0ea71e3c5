"""The reading: what one breath says, with its uncertainty, its quality and the reasons for it."""

import math
from dataclasses import dataclass, replace
from typing import Literal

from ebbline.core.breath.dilution import Marker, normalise, scale, u_normalised
from ebbline.core.breath.noise import Noise
from ebbline.core.errors import SettingError

Quality = Literal["accepted", "normalised", "refused"]

# Limits are given in round numbers (O2 17.4 % is exactly half alveolar); binary fractions are not.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Dilution:
    """How samples are judged alveolar and brought to full alveolar fraction.

    Parameters
    ----------
    markers : tuple of Marker
        In order of preference; the first that a sample has a value for is used. Empty: samples
        are taken as they are.
    ambient_h2_ppm, ambient_ch4_ppm, u_ambient_ppm : float
        The trace gases in the room and the standard uncertainty of that, ppm. 0 where the
        analyser is zeroed on room air.
    accept_fraction : float
        At this alveolar fraction or more the raw value stands.
    refuse_fraction : float
        Below this alveolar fraction the sample is refused; between the two it is normalised.
    smallest_span_in_u : float
        The sample is refused where the marker's difference from the room is less than so many of
        its own standard uncertainties: first-order propagation fails there.

    Raises
    ------
    SettingError
        If the two fractions are not 0 < refuse <= accept <= 1.
    """

    markers: tuple[Marker, ...]
    ambient_h2_ppm: float
    ambient_ch4_ppm: float
    u_ambient_ppm: float
    accept_fraction: float
    refuse_fraction: float
    smallest_span_in_u: float

    def __post_init__(self) -> None:
        """Refuse limits in the wrong order."""
        if not 0.0 < self.refuse_fraction <= self.accept_fraction <= 1.0:
            raise SettingError(
                "dilution limits cannot be used; allowed: 0 < refuse_fraction <= accept_fraction "
                f"<= 1; came: refuse_fraction {self.refuse_fraction:g}, accept_fraction "
                f"{self.accept_fraction:g}"
            )


@dataclass(frozen=True, slots=True)
class GasValue:
    """One gas of one reading, ppm.

    ``raw_ppm`` is what the analyser showed. ``normalised_ppm`` is None where no marker gas was
    measured or the sample is refused, and never negative. ``value_ppm`` is what counts in the
    curve: the normalised value where the sample was scaled, otherwise the raw one, None where it is
    refused. ``u_ppm`` is its combined standard uncertainty; ``sd_ppm`` the part that is independent
    of all other samples, and ``sd_without_marker_ppm`` that part without the marker gas, which both
    gases share.
    """

    raw_ppm: float
    normalised_ppm: float | None
    value_ppm: float | None
    u_ppm: float | None
    sd_ppm: float | None
    sd_without_marker_ppm: float | None


@dataclass(frozen=True, slots=True)
class Reading:
    """The end-tidal values of one sample.

    ``scale_u`` is the relative standard uncertainty of the factor from this sample's own marker
    readings, and ``reference_u`` the relative one from the alveolar reference that all normalised
    readings of the test share; both are 0 unless the reading is normalised.
    """

    h2: GasValue
    ch4: GasValue | None
    alveolar_fraction: float | None
    quality: Quality
    scale_u: float
    reference_u: float
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Measured:
    """One raw value with what is known of its error.

    ``sd`` is the standard uncertainty that is independent of all other samples, in the value's
    unit; ``gain_fraction`` the relative one of the gain, which all readings share.
    """

    value: float
    sd: float
    gain_fraction: float


@dataclass(frozen=True, slots=True)
class _Judgement:
    fraction: float | None
    quality: Quality
    factor: float
    u_independent: float
    u_shared: float
    notes: tuple[str, ...]


def read_sample(
    *,
    h2_ppm: float,
    ch4_ppm: float | None,
    o2_pct: float | None,
    co2_pct: float | None,
    noise: Noise,
    dilution: Dilution,
) -> Reading:
    """Return the reading of one sample that was typed or exported.

    Parameters
    ----------
    h2_ppm : float
        Raw hydrogen, ppm.
    ch4_ppm : float or None
        Raw methane, ppm, where measured.
    o2_pct, co2_pct : float or None
        Marker gases in the same sample, dry percent, where measured.
    noise : Noise
        Noise of the analyser.
    dilution : Dilution
        References and limits.

    Returns
    -------
    Reading
        With quality ``accepted``, ``normalised`` or ``refused`` and the reasons in words.
    """
    return read_values(
        h2=_by_noise(h2_ppm, noise),
        ch4=None if ch4_ppm is None else _by_noise(ch4_ppm, noise),
        o2_pct=o2_pct,
        co2_pct=co2_pct,
        dilution=dilution,
    )


def _by_noise(value_ppm: float, noise: Noise) -> Measured:
    return Measured(value_ppm, noise.sd_ppm(value_ppm), noise.gain_fraction)


def read_values(
    *,
    h2: Measured,
    ch4: Measured | None,
    o2_pct: float | None,
    co2_pct: float | None,
    dilution: Dilution,
) -> Reading:
    """Return the reading of values whose uncertainties are known one by one.

    Parameters
    ----------
    h2 : Measured
        Raw hydrogen, ppm.
    ch4 : Measured or None
        Raw methane, ppm, where measured.
    o2_pct, co2_pct : float or None
        Marker gases in the same sample, dry percent, where measured; their uncertainties stand in
        ``dilution``.
    dilution : Dilution
        References and limits.

    Returns
    -------
    Reading
        As of :func:`read_sample`.
    """
    judged = _judge({"o2": o2_pct, "co2": co2_pct}, dilution)
    normalised = judged.quality == "normalised"
    return Reading(
        h2=_value(h2, dilution.ambient_h2_ppm, judged, dilution),
        ch4=None if ch4 is None else _value(ch4, dilution.ambient_ch4_ppm, judged, dilution),
        alveolar_fraction=judged.fraction,
        quality=judged.quality,
        scale_u=judged.u_independent / judged.factor if normalised else 0.0,
        reference_u=judged.u_shared / judged.factor if normalised else 0.0,
        notes=judged.notes,
    )


def refuse(reading: Reading, notes: tuple[str, ...]) -> Reading:
    """Return a reading that does not count: its raw values are kept, and nothing else of them.

    Parameters
    ----------
    reading : Reading
        The reading.
    notes : tuple of str
        Why, in words.

    Returns
    -------
    Reading
    """
    ch4 = reading.ch4
    return replace(
        reading,
        h2=GasValue(reading.h2.raw_ppm, None, None, None, None, None),
        ch4=None if ch4 is None else GasValue(ch4.raw_ppm, None, None, None, None, None),
        quality="refused",
        scale_u=0.0,
        reference_u=0.0,
        notes=notes,
    )


def _judge(sample_pct: dict[str, float | None], dilution: Dilution) -> _Judgement:
    """Judge how alveolar a sample is, by the first marker that it has a value for."""
    for marker in dilution.markers:
        value = sample_pct[marker.gas]
        if value is not None:
            return _judge_by(marker, value, dilution)
    return _Judgement(None, "accepted", 1.0, 0.0, 0.0, ())


def _judge_by(marker: Marker, sample_pct: float, dilution: Dilution) -> _Judgement:
    found = scale(sample_pct, marker)
    fraction = max(float(found.fraction), 0.0)
    name = f"{marker.gas.upper()} {sample_pct:g} %"
    share = f"alveolar fraction {fraction:.2f}"
    if fraction < dilution.refuse_fraction - _ROUNDING:
        note = f"{name}: {share}, below the limit of {dilution.refuse_fraction:g}; too dilute"
        return _Judgement(fraction, "refused", 1.0, 0.0, 0.0, (note,))
    if fraction >= dilution.accept_fraction - _ROUNDING:
        # At or beyond the reference low O2 (or high CO2) reflects a held breath, not gas that is
        # more than alveolar, so nothing is scaled down.
        return _Judgement(fraction, "accepted", 1.0, 0.0, 0.0, ())
    if float(found.span_in_u) < dilution.smallest_span_in_u:
        note = f"{name}: too near room air for its uncertainty; a factor would not be reliable"
        return _Judgement(fraction, "refused", 1.0, 0.0, 0.0, (note,))
    factor = float(found.factor)
    return _Judgement(
        fraction,
        "normalised",
        factor,
        float(found.u_independent),
        float(found.u_shared),
        (f"{name}: {share}, scaled by {factor:.2f}",),
    )


def _value(
    measured: Measured, ambient_ppm: float, judged: _Judgement, dilution: Dilution
) -> GasValue:
    """Return one gas with the uncertainty of what is used of it."""
    raw_ppm, sd_ppm = measured.value, measured.sd
    if judged.quality == "refused":
        return GasValue(raw_ppm, None, None, None, None, None)
    if judged.quality == "accepted":
        # The raw value counts as the analyser showed it, a little below 0 too: that is noise about
        # 0, and to cut it off would bias rises. What is shown as normalised is never negative.
        shown = None if judged.fraction is None else max(raw_ppm, 0.0)
        u_ppm = math.hypot(sd_ppm, measured.gain_fraction * raw_ppm)
        return GasValue(raw_ppm, shown, raw_ppm, u_ppm, sd_ppm, sd_ppm)
    value = float(normalise(raw_ppm, ambient_ppm, judged.factor))

    def u(u_factor: float) -> float:
        return float(
            u_normalised(
                raw_ppm, sd_ppm, ambient_ppm, dilution.u_ambient_ppm, judged.factor, u_factor
            )
        )

    return GasValue(
        raw_ppm=raw_ppm,
        normalised_ppm=value,
        value_ppm=value,
        u_ppm=math.hypot(
            u(math.hypot(judged.u_independent, judged.u_shared)),
            measured.gain_fraction * value,
        ),
        sd_ppm=u(judged.u_independent),
        sd_without_marker_ppm=u(0.0),
    )
