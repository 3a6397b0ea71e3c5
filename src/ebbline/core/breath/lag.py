"""Apply a sensor's lag to a gas, and take it back from what was shown.

Between two known samples the gas is taken as straight, across a gap too, so that uneven sampling
and gaps (NaN) need no case of their own; what is shown for a gap stays NaN.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import (
    block_diag,
    bmat,
    csc_array,
    csr_array,
    diags_array,
    eye_array,
    hstack,
    vstack,
)
from scipy.sparse.linalg import splu

from ebbline.core.breath.record import known_values
from ebbline.core.breath.response import Response, decays, left_after, poles_of
from ebbline.core.errors import InputError

Float = NDArray[np.float64]


class Unlagged(NamedTuple):
    """The gas at the inlet, and sd out over sd in for white noise (median over the record)."""

    value: Float
    noise_gain: float


def lag(time_s: Float, value: Float, response: Response) -> Float:
    """Return what a sensor shows of a gas; exact for a gas that is straight between samples.

    Before the first sample the gas is taken as steady.

    Parameters
    ----------
    time_s, value : ndarray, (n_samples,)
        Times, s, strictly increasing; and the gas at the inlet, NaN for gaps.
    response : Response
        Delay and poles.

    Returns
    -------
    ndarray, (n_samples,)
        In the unit of ``value``; NaN where ``value`` is.

    Raises
    ------
    InputError
        If the arrays do not fit or hold fewer than two values.
    """
    known = known_values("lag", time_s, value, fewest=2)
    inlet_s, gas = time_s[known], value[known]
    # The delayed gas bends at its own times, so those are steps of the filter as well.
    knots = np.union1d(inlet_s, inlet_s + response.delay_s)
    x = np.interp(knots - response.delay_s, inlet_s, gas)
    interval = np.diff(knots)
    slope = np.diff(x) / interval
    slow, fast, carried = decays(interval, response)
    tau, tau2 = poles_of(response)
    shown = x.copy()
    first = second = x[0]
    for i in range(interval.size):
        # On a ramp each y follows at a fixed distance; what is off that distance dies away.
        off_first = first - x[i] + slope[i] * tau
        off_second = second - x[i] + slope[i] * (tau + tau2)
        first = x[i + 1] - slope[i] * tau + slow[i] * off_first
        second = x[i + 1] - slope[i] * (tau + tau2) + fast[i] * off_second + carried[i] * off_first
        shown[i + 1] = second if tau2 > 0.0 else first
    result = np.full(time_s.shape, np.nan)
    result[known] = shown[np.searchsorted(knots, inlet_s)]
    return result


def unlag_exact(value: Float, *, dt_s: float, tau_s: float) -> Float:
    """Return the gas behind one pole without smoothing, (y[n] - a y[n-1])/(1 - a).

    Exact for a gas that holds its value from sample to sample; :func:`noise_gain` is its price.

    Parameters
    ----------
    value, dt_s, tau_s : ndarray, (n_samples,), float and float
        What was shown, evenly sampled, NaN for gaps; interval and time constant, s, above 0.

    Returns
    -------
    ndarray, (n_samples,)
        The gas before each sample; NaN at the first one, in a gap and just after it.
    """
    alpha = left_after(dt_s, tau_s)
    before = np.concatenate([[np.nan], value[:-1]])
    return (value - alpha * before) / (1.0 - alpha)


def unlag(time_s: Float, value: Float, response: Response, *, smoothing_s: float) -> Unlagged:
    """Return the gas at the inlet by regularised least squares, a linear smoother.

    Of all gases that are straight between samples it is the one with the least

        sum (shown - lag(gas))² + weight integral (gas'')² dt

    (Tikhonov on second differences), the state at the first sample left open. The weight lets a
    gas that swings with period 2 pi ``smoothing_s`` come back at half its height, whatever the
    poles; a straight line comes back whole. The last ``delay_s`` are NaN: not seen yet.

    Parameters
    ----------
    time_s, value : ndarray, (n_samples,)
        Times, s, strictly increasing; and what was shown, NaN for gaps.
    response : Response
        Delay and poles.
    smoothing_s : float
        Time scale of the smoothing, s, above 0.

    Returns
    -------
    Unlagged
        The gas on ``time_s`` in the unit of ``value``, NaN for gaps; and the noise gain.

    Raises
    ------
    InputError
        If the arrays do not fit each other, hold fewer than five values, or nothing is smoothed.
    """
    if not smoothing_s > 0.0:
        raise InputError(
            f"unlag: smoothing cannot be used; allowed: above 0 s; came: {smoothing_s:g} s"
        )
    known = known_values("unlag", time_s, value, fewest=5)
    shown = value[known]
    n = shown.size
    unknowns = n * (2 if response.tau2_s == 0.0 else 3)
    solver = splu(_normal_equations(time_s[known], response, smoothing_s))
    right = np.zeros((solver.shape[0], 1))
    right[unknowns - n : unknowns, 0] = shown
    gas = solver.solve(right)[:n, 0]
    # The matrix is symmetric, so one solution shows how one value depends on all that was shown;
    # but for its ends a record is alike all along, so 25 values tell the gain.
    some = np.unique(np.linspace(0, n - 1, 25).round().astype(np.intp))
    unit = np.zeros((solver.shape[0], some.size))
    unit[some, np.arange(some.size)] = 1.0
    weights = solver.solve(unit)[unknowns - n : unknowns]
    gain = float(np.median(np.sqrt(np.sum(weights * weights, axis=0))))
    result = np.full(time_s.shape, np.nan)
    result[known] = gas
    if response.delay_s > 0.0:
        result = np.interp(time_s, time_s - response.delay_s, result, right=np.nan)
    return Unlagged(result, gain)


def _normal_equations(time_s: Float, response: Response, smoothing_s: float) -> csc_array:
    """Return the symmetric matrix of least squares with the sensor's equations as constraints.

    Unknowns: the gas, each pole's state, and one multiplier for each pole and interval. A row
    touches neighbours only, so the work grows with the record's length and not faster.
    """
    n = time_s.size
    h = np.diff(time_s)
    tau, tau2 = poles_of(response)
    slow, fast, carried = decays(h, response)
    early, late = eye_array(n - 1, n, format="csr"), eye_array(n - 1, n, k=1, format="csr")

    def each(factor: Float, rows: csr_array) -> csr_array:
        return csr_array(diags_array(factor) @ rows)

    # What lag() does in one interval, sorted by unknown.
    ramp = tau / h * (1.0 - slow)
    first = [each(ramp - 1.0, late) + each(slow - ramp, early), late - each(slow, early)]
    rows = [hstack(first)]
    if tau2 > 0.0:
        ramp2 = ((tau + tau2) * (1.0 - fast) - tau * carried) / h
        of_gas = each(ramp2 - 1.0, late) + each(fast + carried - ramp2, early)
        nothing = csr_array((n - 1, n))
        rows = [
            hstack([*first, nothing]),
            hstack([of_gas, -each(carried, early), late - each(fast, early)]),
        ]
    sensor = vstack(rows)
    # Second differences: an integral over time, against one weight a sample of what was shown.
    middle = (h[1:] + h[:-1]) / 2.0
    slopes = each(1.0 / h, csr_array(late - early))
    bend = each(1.0 / np.sqrt(middle), csr_array(slopes[1:] - slopes[:-1]))
    passed = (1.0 + (tau / smoothing_s) ** 2) * (1.0 + (tau2 / smoothing_s) ** 2)
    weight = smoothing_s**4 / (passed * float(np.median(h)))
    hidden = csr_array((sensor.shape[1] - 2 * n,) * 2)
    cost = block_diag([weight * (bend.T @ bend), hidden, eye_array(n)])
    return csc_array(bmat([[cost, sensor.T], [sensor, None]]))
