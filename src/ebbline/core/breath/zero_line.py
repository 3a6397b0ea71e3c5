"""The straight line in time that a zero is: fitted in room air, and carried on with its doubt."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Zero:
    """A sensor's error in room air: offset at the end of the window, and drift.

    The uncertainties take the noise about the line as independent from sample to sample. Where
    something is known of the drift before, `drift_per_s` is drawn towards 0 by that much.

    Parameters
    ----------
    at_s : float
        Time that the offset holds for: the last sample of the window, s.
    offset : float
        Shown minus true at ``at_s``, in the channel's unit.
    drift_per_s : float
        Change of the offset, the channel's unit per second.
    u_offset, u_drift_per_s : float
        Their standard uncertainties.
    covariance : float
        Of offset and drift.
    residual_sd : float
        Sd about the straight line of least squares, in the channel's unit.
    window_s : tuple of float
        Times of the first and the last sample used, s.
    """

    at_s: float
    offset: float
    drift_per_s: float
    u_offset: float
    u_drift_per_s: float
    covariance: float
    residual_sd: float
    window_s: tuple[float, float]

    def error(self, time_s: Float) -> Float:
        """Return the sensor's error at other times, the line carried on.

        Parameters
        ----------
        time_s : ndarray, (n_samples,), s
            Times.

        Returns
        -------
        ndarray, (n_samples,)
            In the channel's unit.
        """
        return self.offset + self.drift_per_s * (np.asarray(time_s) - self.at_s)

    def u_error(self, time_s: Float) -> Float:
        """Return the standard uncertainty of the error at other times.

        u² = u²(offset) + 2 Δ cov + Δ² u²(drift), Δ the time since ``at_s`` (JCGM 100:2008, 5.2.2).

        Parameters
        ----------
        time_s : ndarray, (n_samples,), s
            Times.

        Returns
        -------
        ndarray, (n_samples,)
            In the channel's unit.
        """
        since = np.asarray(time_s) - self.at_s
        variance = (
            self.u_offset**2 + 2.0 * since * self.covariance + since * since * self.u_drift_per_s**2
        )
        return np.sqrt(np.maximum(variance, 0.0))


@dataclass(frozen=True, slots=True)
class Line:
    """A line about the mean time, where its level and its slope are independent."""

    window_s: tuple[float, float]
    count: int
    centre_s: float
    spread: float
    mean: float
    leaning: float
    residual_sd: float

    def zero(self, least_sd: float, u_drift_per_s: float) -> Zero:
        """Return the line as a zero, with what is known of the drift as one more measurement."""
        sd = max(self.residual_sd, least_sd)
        known = math.inf if u_drift_per_s == 0.0 else (sd / u_drift_per_s) ** 2
        weight = self.spread + known
        ahead_s = self.window_s[1] - self.centre_s
        # About the mean time offset and drift are independent; moved to the end they are not.
        return Zero(
            at_s=self.window_s[1],
            offset=self.mean + self.leaning / weight * ahead_s,
            drift_per_s=self.leaning / weight,
            u_offset=sd * math.sqrt(1.0 / self.count + ahead_s * ahead_s / weight),
            u_drift_per_s=sd / math.sqrt(weight),
            covariance=sd * sd * ahead_s / weight,
            residual_sd=self.residual_sd,
            window_s=self.window_s,
        )


def fit_line(time_s: Float, error: Float) -> Line:
    """Fit a straight line by least squares.

    Parameters
    ----------
    time_s, error : ndarray, (n_samples,)
        Times, s, and what was shown over what is true, in the channel's unit; three or more.

    Returns
    -------
    Line
    """
    count = time_s.size
    centre_s = float(time_s.sum()) / count
    since = time_s - centre_s
    spread = float(since @ since)
    mean = float(error.sum()) / count
    leaning = float(since @ (error - mean))
    residual = error - mean - leaning / spread * since
    residual_sd = math.sqrt(float(residual @ residual) / (count - 2))
    return Line(
        (float(time_s[0]), float(time_s[-1])), count, centre_s, spread, mean, leaning, residual_sd
    )
