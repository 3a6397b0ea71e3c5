"""Put a reading together from what a cycle has seen, and judge it."""

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.budget import Budget
from ebbline.core.breath.cycle import TRACE_GASES, marker_channel
from ebbline.core.breath.dilution import Marker
from ebbline.core.breath.ended import Ended
from ebbline.core.breath.hold import above_room, asked, u_zero
from ebbline.core.breath.judge_breath import reasons_against
from ebbline.core.breath.plateau import Plateau, fit_plateau
from ebbline.core.breath.reading import Measured, Reading, read_values, refuse
from ebbline.core.breath.reasons import Reason
from ebbline.core.breath.reduction import Reduction, Times, Value
from ebbline.core.breath.sensor import Sensor, rounding_left, variance_of_one
from ebbline.core.breath.trace import Channel

Float = NDArray[np.float64]

_GASES: tuple[Channel, ...] = ("h2_ppm", "ch4_ppm", "o2_pct", "co2_pct")


def compose(ended: Ended) -> Reduction:
    """Return the outcome of a cycle.

    Parameters
    ----------
    ended : Ended
        What the cycle has seen.

    Returns
    -------
    Reduction
    """
    plateaus = _plateaus(ended)
    values: dict[Channel, Value] = {}
    for name in ended.cycle.sensors:
        value = _value(ended, name, plateaus.get(name))
        if value is not None:
            values[name] = value
    reading = _measured(ended, values)
    reasons = (*reasons_against(ended, plateaus, values), *_too_dilute(reading))
    if reading is not None and reasons:
        # What was scaled is told as well; what is too dilute has become a reason.
        told = () if reading.quality == "refused" else reading.notes
        reading = refuse(reading, (*(reason.seen for reason in reasons), *told))
    variances = [values[name].u ** 2 if name in values else math.nan for name in _GASES]
    return Reduction(
        method=ended.cycle.method,
        quality="refused" if reading is None else reading.quality,
        reasons=reasons,
        reading=reading,
        values=values,
        covariance=np.diag(variances),
        covariance_used=_covariance_used(reading),
        zeros=ended.zeros,
        times=_times(ended),
        outside=ended.outside,
        settings=ended.cycle.settings,
    )


def plateau_window_s(ended: Ended) -> tuple[float, float] | None:
    """Return when alveolar air is looked for at the inlet.

    Parameters
    ----------
    ended : Ended
        What the cycle has seen.

    Returns
    -------
    tuple of float or None
        Start and end, s on the trace's clock; None where no blow has passed.
    """
    if ended.blow_end_s is None or ended.onset_s is None:
        return None
    settings = ended.cycle.settings
    end_s = ended.blow_end_s[0] - settings.trim_s
    return max(ended.onset_s + settings.wash_s, end_s - settings.plateau_longest_s), end_s


def _plateaus(ended: Ended) -> dict[Channel, Plateau | None]:
    """Fit the plateau of every channel that saw the breath pass."""
    window_s = plateau_window_s(ended)
    if window_s is None or ended.blow_end_s is None or ended.onset_s is None:
        return {}
    cycle = ended.cycle
    found: dict[Channel, Plateau | None] = {}
    for name, sensor in cycle.sensors.items():
        if sensor.regime == "stream":
            zero = ended.zeros[name]
            found[name] = fit_plateau(
                ended.rows[:, 0],
                above_room(cycle, name, zero, ended.rows),
                sensor,
                onset_s=ended.onset_s,
                window_s=window_s,
                end_s=sum(ended.blow_end_s) / 2.0,
                u_zero=u_zero(cycle, name, zero, window_s[1]),
                slope_fraction_per_s=cycle.settings.slope_fraction_per_s,
                u_slope_fraction_per_s=cycle.settings.u_slope_fraction_per_s,
                fewest=cycle.settings.fewest,
            )
    return found


def _value(ended: Ended, name: Channel, plateau: Plateau | None) -> Value | None:
    """Return one channel's value, or None where it has none."""
    if ended.onset_s is None:
        return None
    sensor, ambient = ended.cycle.sensors[name], ended.cycle.ambient(name)
    shown = above_room(ended.cycle, name, ended.zeros[name], ended.rows)
    # What passed is over when the blow is; what is held is shown to the last.
    end_s = math.inf if plateau is None or ended.blow_end_s is None else ended.blow_end_s[1]
    during = (ended.rows[:, 0] >= ended.onset_s) & (ended.rows[:, 0] <= end_s)
    if plateau is not None:
        above, part, count = plateau.value, plateau.budget, plateau.count
    elif name in ended.budgets:
        above, part = float(ended.held[name].value[-1]), ended.budgets[name]
        count = int(ended.held[name].count[-1])
    else:
        return None
    breath = shown[during & np.isfinite(shown)]
    one_sd = math.sqrt(float(variance_of_one(sensor, np.array(above))))
    return Value(
        raw=above + ambient,
        budget=_whole(part, sensor, above),
        # Of O2, which breath brings down, what is shown farthest on the way is the lowest.
        peak=float(breath.min() if name == "o2_pct" else breath.max()) + ambient,
        last=float(breath[-1]) + ambient,
        noise_gain=part.noise / one_sd,
        slope_per_s=None if plateau is None else plateau.slope_per_s,
        count=count,
    )


def _whole(part: Budget, sensor: Sensor, above: float) -> Budget:
    """Add rounding and calibration, which no fit sees."""
    gain = 0.0 if sensor.u_gain_fraction is None else sensor.u_gain_fraction
    return replace(part, resolution=rounding_left(sensor, above), calibration=gain * abs(above))


def _measured(ended: Ended, values: Mapping[Channel, Value]) -> Reading | None:
    """Return the reading that the values make, whatever else speaks against the breath."""
    if "h2_ppm" not in values:
        return None
    measured = {
        name: Measured(
            value.raw,
            math.sqrt(max(value.u**2 - value.budget.calibration**2, 0.0)),
            ended.cycle.sensors[name].u_gain_fraction or 0.0,
        )
        for name, value in values.items()
    }
    markers = tuple(_marker(marker, values) for marker in ended.cycle.dilution.markers)
    reading = read_values(
        h2=measured["h2_ppm"],
        ch4=measured.get("ch4_ppm"),
        o2_pct=values["o2_pct"].raw if "o2_pct" in values else None,
        co2_pct=values["co2_pct"].raw if "co2_pct" in values else None,
        dilution=replace(ended.cycle.dilution, markers=markers),
    )
    return replace(reading, notes=(*reading.notes, *_not_as_asked(ended)))


def _not_as_asked(ended: Ended) -> tuple[str, ...]:
    """Tell of held gas that is known less well than was asked, because time was up."""
    found = []
    for name, running in ended.held.items():
        u, wanted = float(running.u[-1]), float(asked(ended.cycle, running.value[-1:])[0])
        if name in TRACE_GASES and u > wanted:
            gas = name.split("_", maxsplit=1)[0].upper()
            found.append(
                f"{gas}: known to {u:.2g} ppm when the watching ended; {wanted:.2g} was asked"
            )
    return tuple(found)


def _marker(marker: Marker, values: Mapping[Channel, Value]) -> Marker:
    """Return a marker's references with this sample's own uncertainty.

    The zero ties the sample to what room air is taken to be, so an error of that is in both.
    """
    name = marker_channel(marker)
    if name not in values:
        return marker
    u_sample = math.hypot(values[name].u, marker.u_ambient_pct)
    shared = marker.u_ambient_pct / u_sample if u_sample > 0.0 else 0.0
    return replace(marker, u_sample_pct=u_sample, correlation=shared)


def _too_dilute(reading: Reading | None) -> tuple[Reason, ...]:
    """Return the reason that the alveolar fraction gives, if it refuses the reading."""
    if reading is None or reading.quality != "refused":
        return ()
    return (Reason("too_dilute", "; ".join(reading.notes)),)


def _covariance_used(reading: Reading | None) -> Float:
    """Return the covariance of the values of H2 and CH4 that count, ppm²."""
    covariance = np.full((2, 2), np.nan)
    if reading is None:
        return covariance
    for place, gas in enumerate((reading.h2, reading.ch4)):
        if gas is not None and gas.u_ppm is not None:
            covariance[place, place] = gas.u_ppm**2
    h2, ch4 = reading.h2.value_ppm, None if reading.ch4 is None else reading.ch4.value_ppm
    if h2 is not None and ch4 is not None:
        factor = reading.scale_u**2 + reading.reference_u**2
        covariance[0, 1] = covariance[1, 0] = h2 * ch4 * factor
    return covariance


def _times(ended: Ended) -> Times:
    """Gather when things happened."""
    window_s = plateau_window_s(ended)
    waited = saved = None
    if ended.held_s is not None and ended.done_s is not None and ended.settled_s is not None:
        waited = ended.done_s - ended.held_s
        saved = ended.settled_s - waited
    return Times(
        onset_s=ended.onset_s,
        end_s=None if ended.blow_end_s is None else sum(ended.blow_end_s) / 2.0,
        plateau_s=None if window_s is None or window_s[0] >= window_s[1] else window_s,
        held_s=ended.held_s,
        done_s=ended.done_s,
        waited_s=waited,
        saved_s=saved,
    )
