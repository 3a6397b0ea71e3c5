"""Gas held in a chamber: the value a slow sensor is on its way to, before it gets there.

After a step at t0 the sensor shows

    y(t) = z + C g(t),    g = step response of the sensor,

with z the zero and C the gas above room air. The time constants are known to a fraction e and t0 to
a time d, so by first order

    y(t) = z + C g + (C e) (t - t0 - delay) (-g') + (C d) (-g'),

a model linear in C, C e, C d and z, each of the last three with what is known of it as a further
measurement (JCGM 100:2008, 4.3). Least squares then needs sums over the samples only, so every
sample gives a new estimate, and the samples' noise, zero and response are all in its uncertainty.
"""

import math
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.budget import Budget
from ebbline.core.breath.response import poles_of, step_rate_per_s, step_response
from ebbline.core.breath.sensor import Sensor, variance_of_one

Float = NDArray[np.float64]

# Values of prior weight that the profile's noise has against the scatter seen about the model.
_PROFILE_COUNTS = 20.0
# Second order in the unknown start is left out where it could be more than this share of C.
_SECOND_ORDER = 0.005
# Where each sum stands: the upper triangle of the normal matrix, its right side, squares, count.
_PLACE = {pair: at for at, pair in enumerate((i, j) for i in range(4) for j in range(i, 4))}
_RIGHT, _SQUARES, _COUNT = 10, 14, 15


@dataclass(frozen=True, slots=True, eq=False)
class Running:
    """Estimates after each sample of a block, arrays (n_samples,).

    ``value`` is the gas above room air and ``u`` its standard uncertainty from noise, zero and
    response; both NaN before there is anything to tell them by. ``share`` is how much of the step
    the sensor has shown, ``count`` how many values were used, ``misfit`` the mean square of what
    the model leaves over, in the profile's noise.
    """

    value: Float
    u: Float
    share: Float
    count: Float
    misfit: Float

    def at(self, index: int) -> Self:
        """Return the estimates after one sample only."""
        one = slice(index, index + 1)
        return type(self)(
            self.value[one], self.u[one], self.share[one], self.count[one], self.misfit[one]
        )


class HeldGas:
    """The running estimate of one channel.

    Parameters
    ----------
    sensor : Sensor
        What is known of the channel.
    start_s, u_start_s : float
        When the gas came to the inlet, and the standard uncertainty of that, s.
    u_zero : float
        Standard uncertainty of the zero, which must have been taken off, in the channel's unit.
    fewest : int
        Values needed before there is an estimate.
    """

    def __init__(
        self, sensor: Sensor, *, start_s: float, u_start_s: float, u_zero: float, fewest: int
    ) -> None:
        self._sensor = sensor
        self._start_s = start_s
        self._u_start_s = math.hypot(u_start_s, sensor.u_delay_s)
        self._u_zero = u_zero
        self._fewest = fewest
        self._from_s = self._first_usable_s()
        self._sums = np.zeros(16)
        self._block = self._sums[:, None]

    def _first_usable_s(self) -> float:
        """Return the time after t0 from which the first order in an unknown start will do."""
        u = self._u_start_s
        slow = poles_of(self._sensor.response)[0]
        curved = u * u / (2.0 * slow * slow * _SECOND_ORDER)
        settled = slow * math.log(curved) if curved > 1.0 else 0.0
        return self._sensor.response.delay_s + max(3.0 * u, settled)

    def feed(self, time_s: Float, value: Float) -> Running:
        """Take a block of samples and return the estimate after each of them.

        Parameters
        ----------
        time_s, value : ndarray, (n_samples,)
            Times, s, and the channel with its zero taken off, in its unit; NaN for gaps.

        Returns
        -------
        Running
        """
        since = time_s - self._start_s
        share = step_response(self._sensor.response, since)
        self._block = self._add(since, value, share)
        self._sums = self._block[:, -1]
        return self._solve(self._block, share)

    def settle(self, index: int) -> None:
        """Go back to just after one sample of the last block, at which the watching ended."""
        self._sums = self._block[:, index]

    def _add(self, since: Float, value: Float, share: Float) -> Float:
        """Return the running sums after each sample, (16, n_samples), in the order of `_PLACE`."""
        slow = poles_of(self._sensor.response)[0]
        rate = step_rate_per_s(self._sensor.response, since) * slow
        late = (since - self._sensor.response.delay_s) / slow
        used = np.isfinite(value) & (since >= self._from_s)
        shown = np.where(used, value, 0.0)
        weight = np.where(used, 1.0 / variance_of_one(self._sensor, shown), 0.0)
        # Both unknowns of time in units of the slow pole, so that the four are of one size.
        row = (share, -late * rate, -rate, np.ones_like(share))
        block = np.empty((16, since.size + 1))
        block[:, 0] = self._sums
        for (i, j), place in _PLACE.items():
            block[place, 1:] = weight * row[i] * row[j]
        for i, part in enumerate(row):
            block[_RIGHT + i, 1:] = weight * part * shown
        block[_SQUARES, 1:] = weight * shown * shown
        block[_COUNT, 1:] = used
        # Strictly one after the other, so that one block and many give the same bits.
        return np.add.accumulate(block, axis=1)[:, 1:]

    def _solve(self, sums: Float, share: Float) -> Running:
        """Return the estimates from running sums."""
        value, u, misfit = (np.full(share.shape, np.nan) for _ in range(3))
        known = sums[_COUNT] >= self._fewest
        if known.any():
            some = sums[:, known]
            value[known], variance, _, left = self._estimate(some)
            scale = (_PROFILE_COUNTS + left) / (_PROFILE_COUNTS + some[_COUNT])
            misfit[known] = left / np.maximum(some[_COUNT] - 1.0, 1.0)
            # Never less than the profile's noise says, more where the samples scatter by more.
            u[known] = np.sqrt(variance * np.maximum(scale, 1.0))
        return Running(value, u, share, sums[_COUNT], misfit)

    def _estimate(self, sums: Float) -> tuple[Float, Float, Float, Float]:
        """Return C, its variance, the part of that from noise and zero, and what is left over.

        The normal equations are solved by taking one unknown after the other out of them.
        """
        matrix = {at: sums[place].copy() for at, place in _PLACE.items()}
        right = [sums[_RIGHT + i].copy() for i in range(4)]
        matrix[3, 3] += 1.0 / self._u_zero**2
        explained = _take_out(3, matrix, right)
        without_response = 1.0 / matrix[0, 0]
        # How far the two unknowns of time may go depends on C, so C is found without them first.
        size = np.maximum(
            np.abs(right[0] * without_response), self._sensor.noise + self._sensor.resolution
        )
        slow = poles_of(self._sensor.response)[0]
        for row, u in ((2, self._u_start_s / slow), (1, self._sensor.u_tau_fraction)):
            matrix[row, row] += 1.0 / (size * max(u, 1e-9)) ** 2
        for row in (2, 1):
            explained += _take_out(row, matrix, right)
        value, variance = right[0] / matrix[0, 0], 1.0 / matrix[0, 0]
        explained += right[0] * value
        left = np.maximum(sums[_SQUARES] - explained, 0.0)
        return value, variance, without_response, left

    def budget(self) -> Budget:
        """Return the uncertainty after the last sample by source, without calibration."""
        sums = self._sums[:, None]
        _, variance, with_zero, left = (float(part[0]) for part in self._estimate(sums))
        scale = max((_PROFILE_COUNTS + left) / (_PROFILE_COUNTS + self._sums[_COUNT]), 1.0)
        only_noise = 1.0 / float(self._sums[_PLACE[0, 0]])
        return Budget(
            noise=math.sqrt(only_noise * scale),
            zero=math.sqrt(max(with_zero - only_noise, 0.0) * scale),
            response=math.sqrt(max(variance - with_zero, 0.0) * scale),
            resolution=0.0,
            calibration=0.0,
        )


def _take_out(row: int, matrix: dict[tuple[int, int], Float], right: list[Float]) -> Float:
    """Take one unknown out of normal equations in place; return what it explains."""
    pivot = matrix[row, row]
    explained = right[row] * right[row] / pivot
    for j in range(row):
        part = matrix[j, row] / pivot
        for i in range(j + 1):
            matrix[i, j] -= matrix[i, row] * part
        right[j] -= right[row] * part
    return explained
