"""The alveolar plateau: a gas that is straight in time, seen through a sensor with a lag.

From the moment t1 at which the plateau has begun at the inlet, one and two poles show exactly

    y(t) = c + s (t - T - t2) + z1 e^(-(t - t1)/tau) + z2 e^(-(t - t1)/tau2),    T = tau + tau2,

with c the value at the end t2, s the slope, and z1 and z2 what the sensor still remembers of before
(times counted without the delay). The lag is undone by fitting this line, not by a filter, so no
noise is amplified beyond what the number of samples allows. The fit is robust: values far off count
less, so that heart beats and single bad samples do not turn the line.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.budget import Budget
from ebbline.core.breath.response import poles_of, step_response
from ebbline.core.breath.sensor import Sensor, variance_of_one

Float = NDArray[np.float64]

# Huber's weights leave values within so many standard deviations alone; at 2.5 the fit is 99 %
# efficient for normal noise (Huber, Robust Statistics, 1981; from memory, not checked).
_HUBER = 2.5
_PASSES = 3
# So much less is known of the slope when the samples are asked whether what is known holds.
_LOOSE = 100.0
# Values of prior weight that the profile's noise has against the scatter seen about the line.
_PROFILE_COUNTS = 20.0


@dataclass(frozen=True, slots=True)
class Plateau:
    """A line through the plateau of one channel, above room air, in the channel's unit.

    ``value`` is the end-tidal value, where the line ends; ``level`` the median shown;
    ``slope_per_s`` and ``u_slope_per_s`` the line's slope; ``noise_gain`` the value's standard
    deviation from noise over that of one sample; ``largest_residual`` the farthest sample from the
    line and ``misfit`` the mean square of all, both in the profile's noise; ``count`` and
    ``span_s`` how many samples over how long.
    """

    value: float
    level: float
    slope_per_s: float
    u_slope_per_s: float
    budget: Budget
    noise_gain: float
    largest_residual: float
    misfit: float
    count: int
    span_s: float

    @property
    def drift_share(self) -> float:
        """Return the change over the plateau as a share of its level."""
        return self.slope_per_s * self.span_s / self.level if self.level != 0.0 else 0.0


def fit_plateau(
    time_s: Float,
    value: Float,
    sensor: Sensor,
    *,
    onset_s: float,
    window_s: tuple[float, float],
    end_s: float,
    u_zero: float,
    slope_fraction_per_s: float,
    u_slope_fraction_per_s: float,
    fewest: int,
) -> Plateau | None:
    """Fit the line to the part of a record in which the inlet has plateau gas.

    Parameters
    ----------
    time_s, value : ndarray, (n_samples,)
        Times, s, and the channel with its zero taken off, in its unit; NaN for gaps.
    sensor : Sensor
        What is known of the channel.
    onset_s : float
        When breath came to the inlet, s.
    window_s : tuple of float
        When the plateau was at the inlet, both ends included, s.
    end_s : float
        When expiration ended at the inlet, s: where the end-tidal value is read off the line.
    u_zero : float
        Standard uncertainty of the zero, in the channel's unit.
    slope_fraction_per_s, u_slope_fraction_per_s : float
        What is known of the slope before looking, and its standard uncertainty, as shares of the
        level a second.
    fewest : int
        Least number of values.

    Returns
    -------
    Plateau or None
        None where there are too few values.
    """
    seen_s = time_s - sensor.response.delay_s
    used = np.isfinite(value) & (seen_s >= window_s[0]) & (seen_s <= window_s[1])
    count = int(used.sum())
    if count < fewest:
        return None
    shown = value[used]
    late = seen_s[used] - window_s[0]
    slow, fast = poles_of(sensor.response)
    level = float(np.median(shown))
    one_sd = math.sqrt(float(variance_of_one(sensor, np.array(level))))
    size = max(abs(level), one_sd)
    columns = [
        np.ones(count),
        seen_s[used] - (slow + fast) - end_s,
        np.exp(-late / slow),
        np.exp(-late / fast) if fast > 0.0 else np.zeros(count),
    ]
    # Before looking: a line that rises a little, and no more memory of the front than if all of it
    # had come half-way from the onset to the window.
    halfway = np.array([sensor.response.delay_s + (window_s[0] - onset_s) / 2.0])
    memory = size * max(1.0 - float(step_response(sensor.response, halfway)[0]), 1e-6)
    before = np.array([0.0, 1.0 / (size * u_slope_fraction_per_s) ** 2, memory**-2.0, memory**-2.0])
    expected = np.array([0.0, level * slope_fraction_per_s, 0.0, 0.0])
    theta, matrix, scaled = _robust(
        np.stack(columns, axis=1) / one_sd, shown / one_sd, before, expected
    )
    left = float(np.sum(np.minimum(np.abs(scaled), _HUBER) ** 2))
    scale = (_PROFILE_COUNTS + left) / (_PROFILE_COUNTS + count)
    covariance = np.linalg.inv(matrix)
    noise = math.sqrt(float(covariance[0, 0]) * scale)
    timing_s = math.hypot(sensor.u_tau_fraction * (slow + fast), sensor.u_delay_s)
    return Plateau(
        value=float(theta[0]),
        level=level,
        slope_per_s=float(theta[1]),
        u_slope_per_s=math.sqrt(float(covariance[1, 1]) * scale),
        budget=Budget(
            noise=noise,
            zero=u_zero,
            response=abs(float(theta[1])) * timing_s,
            resolution=0.0,
            calibration=0.0,
        ),
        noise_gain=noise / one_sd,
        largest_residual=float(np.max(np.abs(scaled))),
        misfit=float(np.mean(scaled**2)),
        count=count,
        span_s=float(late[-1] - late[0]),
    )


def _robust(
    rows: Float, shown: Float, before: Float, expected: Float
) -> tuple[Float, Float, Float]:
    """Return the unknowns, the normal matrix, and the residuals in standard deviations.

    ``before`` is the weight of what was known before looking, and ``expected`` its value.
    """
    weight = np.ones(shown.size)
    known = _as_far_as_it_holds(rows, shown, before, expected)
    for _ in range(_PASSES):
        weighted = rows * weight[:, None]
        matrix = weighted.T @ rows + np.diag(known)
        theta = _solved(matrix, weighted.T @ shown + known * expected)
        residual = shown - rows @ theta
        weight = np.minimum(1.0, _HUBER / np.maximum(np.abs(residual), _HUBER))
    return theta, matrix, residual


def _as_far_as_it_holds(rows: Float, shown: Float, before: Float, expected: Float) -> Float:
    """Return what was known of the slope with less weight where the samples contradict it.

    The samples are asked with next to nothing known. If their slope is further from the expected
    one than both uncertainties together, its uncertainty is made as much larger (a breath of a kind
    that nobody thought of must not be bent to what was expected).
    """
    loose = before.copy()
    loose[1] /= _LOOSE
    matrix = rows.T @ rows + np.diag(loose)
    theta = _solved(matrix, rows.T @ shown + loose * expected)
    variance = float(np.linalg.inv(matrix)[1, 1]) + 1.0 / float(before[1])
    conflict = float(theta[1] - expected[1]) ** 2 / variance
    known = before.copy()
    known[1] /= max(conflict, 1.0)
    return known


def _solved(matrix: Float, right: Float) -> Float:
    return np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)
