"""How a sensor answers a change of gas: a transport delay and one or two poles in a row.

    tau y1' = x - y1,    tau2 y2' = y1 - y2,

with x the gas at the inlet, shifted by the delay, and the last y what is shown.
`ebbline.core.breath.lag` applies it and takes it back, `ebbline.core.breath.response_fit` finds it.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ebbline.core.errors import InputError

Float = NDArray[np.float64]

# More halvings than a number has binary digits.
_HALVINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """Transport delay and lag of one channel.

    Parameters
    ----------
    delay_s : float
        Transport delay, s, 0 or more.
    tau_s, tau2_s : float
        Time constants of the poles, s; the first above 0, the second 0 where there is one pole.

    Raises
    ------
    InputError
        If a value is outside its range.
    """

    delay_s: float
    tau_s: float
    tau2_s: float

    def __post_init__(self) -> None:
        """Refuse what no sensor can do."""
        for name, good, allowed in (
            ("delay_s", self.delay_s >= 0.0, "0 s or more"),
            ("tau_s", self.tau_s > 0.0, "above 0 s"),
            ("tau2_s", self.tau2_s >= 0.0, "0 s (one pole) or more"),
        ):
            value = getattr(self, name)
            if not (good and math.isfinite(value)):
                raise InputError(
                    f"response: {name} cannot be used; allowed: {allowed}; came: {value:g} s"
                )


def step_response(response: Response, time_s: Float) -> Float:
    """Return what is shown of a step from 0 to 1 at the inlet at time 0, 1 - exp(-t/tau).

    Parameters
    ----------
    response : Response
        Delay and poles.
    time_s : ndarray (n_samples,), s
        Counted from the step.

    Returns
    -------
    ndarray (n_samples,), 1
        Shares of the step.
    """
    since = np.maximum(np.asarray(time_s, dtype=np.float64) - response.delay_s, 0.0)
    slow, _, carried = decays(since, response)
    if response.tau2_s == 0.0:
        return 1.0 - slow
    # 1 - (tau e^(-t/tau) - tau2 e^(-t/tau2)) / (tau - tau2), in a form that bears equal poles.
    tau, tau2 = poles_of(response)
    return 1.0 - slow - carried * tau2 / tau


def step_rate_per_s(response: Response, time_s: Float) -> Float:
    """Return how fast what is shown of a step rises: the derivative of :func:`step_response`.

    Parameters
    ----------
    response : Response
        Delay and poles.
    time_s : ndarray (n_samples,), s
        Counted from the step.

    Returns
    -------
    ndarray (n_samples,), 1/s
        Shares of the step per second; 0 until the delay is over.
    """
    since = np.asarray(time_s, dtype=np.float64) - response.delay_s
    slow, _, carried = decays(np.maximum(since, 0.0), response)
    passed = slow if response.tau2_s == 0.0 else carried
    return np.where(since >= 0.0, passed / poles_of(response)[0], 0.0)


def t90_s(response: Response) -> float:
    """Return the time from the end of the delay to 90 % of a step.

    Parameters
    ----------
    response : Response
        Delay and poles.

    Returns
    -------
    float
        s; ln 10 tau for one pole.
    """
    return time_to_share_s(0.9, response)


def rise_10_90_s(response: Response) -> float:
    """Return the time from 10 to 90 % of a step.

    Parameters
    ----------
    response : Response
        Delay and poles.

    Returns
    -------
    float
        s; ln 9 tau for one pole.
    """
    return time_to_share_s(0.9, response) - time_to_share_s(0.1, response)


def ramp_under_read(rate_per_s: float, response: Response) -> float:
    """Return how far a steady ramp is read low once it has settled.

    Parameters
    ----------
    rate_per_s : float
        Slope of the ramp, in the reading's unit per s.
    response : Response
        Delay and poles.

    Returns
    -------
    float
        rate (delay + tau + tau2), in the reading's unit.
    """
    return rate_per_s * (response.delay_s + response.tau_s + response.tau2_s)


def noise_gain(dt_s: float, tau_s: float) -> float:
    """Return the noise gain of the exact inverse for white noise, sqrt(1 + a²)/(1 - a).

    Parameters
    ----------
    dt_s, tau_s : float
        Interval and time constant, s; a = exp(-dt/tau).

    Returns
    -------
    float
        sd out over sd in, 1; 6.209 at an interval of 0.1 s and a t90 of 1 s.
    """
    alpha = left_after(dt_s, tau_s)
    return math.sqrt(1.0 + alpha * alpha) / (1.0 - alpha)


def left_after(dt_s: float, tau_s: float) -> float:
    """Return what is left of one pole's state after an interval.

    Parameters
    ----------
    dt_s, tau_s : float
        Interval and time constant, s.

    Returns
    -------
    float
        exp(-dt/tau).

    Raises
    ------
    InputError
        If either is not above 0.
    """
    if not (dt_s > 0.0 and tau_s > 0.0):
        raise InputError(
            "interval and time constant cannot be used; allowed: above 0 s; "
            f"came: {dt_s:g} s and {tau_s:g} s"
        )
    return math.exp(-dt_s / tau_s)


def poles_of(response: Response) -> tuple[float, float]:
    """Return the time constants, the slower first; the order in a row changes nothing shown.

    Parameters
    ----------
    response : Response
        Delay and poles.

    Returns
    -------
    slow, fast : float
        s; the second is 0 where there is one pole.
    """
    return max(response.tau_s, response.tau2_s), min(response.tau_s, response.tau2_s)


def decays(interval_s: Float, response: Response) -> tuple[Float, Float, Float]:
    """Return what is left of each pole's state, and what the first hands to the second.

    Parameters
    ----------
    interval_s : ndarray (n,), s
        Intervals.
    response : Response
        Delay and poles.

    Returns
    -------
    slow, fast, carried : ndarray (n,), 1
    """
    tau, tau2 = poles_of(response)
    slow = np.exp(-interval_s / tau)
    if tau2 == 0.0:
        return slow, np.zeros_like(slow), np.zeros_like(slow)
    # tau (e^(-h/tau) - e^(-h/tau2)) / (tau - tau2), without dividing by a small difference.
    apart = interval_s * ((tau - tau2) / (tau * tau2))
    safe = np.where(apart > 0.0, apart, 1.0)
    mean = np.where(apart > 0.0, -np.expm1(-safe) / safe, 1.0)
    return slow, np.exp(-interval_s / tau2), slow * interval_s / tau2 * mean


@lru_cache(maxsize=1024)
def time_to_share_s(share: float, response: Response) -> float:
    """Return when a step reaches a share of its height.

    Parameters
    ----------
    share : float
        0 to below 1.
    response : Response
        Delay and poles.

    Returns
    -------
    float
        s, counted from the end of the delay.

    Raises
    ------
    InputError
        If the share is not from 0 to below 1.
    """
    if not 0.0 <= share < 1.0:
        raise InputError(f"response: share cannot be used; allowed: 0 to below 1; came: {share:g}")
    if share == 0.0:
        return 0.0
    if response.tau2_s == 0.0:
        return -math.log(1.0 - share) * response.tau_s
    # Halving holds for any two poles and needs nothing to be loaded; the response only rises.
    lag_only = Response(delay_s=0.0, tau_s=response.tau_s, tau2_s=response.tau2_s)
    latest = 10.0 * max(1.0, -math.log(1.0 - share)) * (response.tau_s + response.tau2_s)
    low, high = 0.0, latest
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        reached = float(step_response(lag_only, np.array([middle]))[0])
        low, high = (middle, high) if reached < share else (low, middle)
    return (low + high) / 2.0
