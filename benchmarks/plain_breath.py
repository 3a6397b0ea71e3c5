"""The steps of reducing a trace written plainly with scipy, one trace and one channel at a time.

It does what the library does in the obvious way: a line through room air, the lag undone by
regularised least squares, a robust line in a window that slides over the end of the blow, and for
held gas a fit of the step response after every sample, until the fit is good enough.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from scipy.optimize import curve_fit
from scipy.sparse import diags_array, eye_array, vstack
from scipy.sparse.linalg import spsolve
from scipy.stats import linregress, theilslopes

from ebbline.core.breath.sensor import Sensor
from ebbline.core.breath.trace import Trace

Float = NDArray[np.float64]

_WINDOW_S = 3.0
_SMOOTHING = 3.0


def plain_stream(trace: Trace, sensors: dict[str, Sensor], room_s: float) -> dict[str, float]:
    """Return the end-tidal value above room air of each channel of one blow."""
    time = trace.time_s
    o2 = trace.o2_pct
    assert o2 is not None
    smooth = uniform_filter1d(np.nan_to_num(o2, nan=20.9), 3)
    breath = np.flatnonzero(smooth < 20.9 - 1.4)
    lowest = np.argmin(smooth)
    end = breath[-1] if breath.size else lowest
    found = {}
    for name, sensor in sensors.items():
        shown = zeroed(time, getattr(trace, name), room_s)
        part = (time > time[breath[0]] - 2.0) & (time <= time[end]) & np.isfinite(shown)
        gas = undo_lag(time[part], shown[part], sensor)
        at = time[part]
        slopes = []
        # Ten windows of 3 s, each a sample earlier than the one before it.
        for back in range(10):
            window = (at <= at[-1 - back]) & (at > at[-1 - back] - _WINDOW_S)
            slopes.append(theilslopes(gas[window], at[window]))
        flattest = min(slopes, key=lambda line: abs(line.slope))
        found[name] = float(flattest.intercept + flattest.slope * at[-1])
    return found


def plain_held(
    trace: Trace, sensors: dict[str, Sensor], room_s: float, *, u_ppm: float, u_fraction: float
) -> dict[str, float]:
    """Return what each channel of held gas settles to above room air."""
    time = trace.time_s
    o2 = trace.o2_pct
    assert o2 is not None
    start_s = float(time[np.flatnonzero(o2 < 20.9 - 1.4)[0]])
    found = {}
    # The gases that are asked for first: they say how long the others are watched.
    last_s = 0.0
    for name in ("h2_ppm", "ch4_ppm", "o2_pct", "co2_pct"):
        sensor, is_asked = sensors[name], name.endswith("_ppm")
        shown = zeroed(time, getattr(trace, name), room_s)
        part = (time > start_s) & np.isfinite(shown)
        since, value = time[part] - start_s, shown[part]
        tau, tau2 = sensor.response.tau_s, sensor.response.tau2_s

        def model(t: Float, gas: float, tau: float = tau, tau2: float = tau2) -> Float:
            return gas * (1.0 - (tau * np.exp(-t / tau) - tau2 * np.exp(-t / tau2)) / (tau - tau2))

        for n in range(4, since.size + 1):
            fitted, covariance = curve_fit(model, since[:n], value[:n], p0=[value[n - 1]])
            u = float(np.sqrt(covariance[0, 0]))
            seen = model(since[n - 1 : n], 1.0)[0]
            known = seen >= 0.5 and u <= max(u_ppm, u_fraction * abs(fitted[0]))
            if known if is_asked else since[n - 1] >= last_s:
                break
        last_s = max(last_s, float(since[n - 1]))
        found[name] = float(fitted[0])
    return found


def zeroed(time_s: Float, shown: Float, room_s: float) -> Float:
    """Take the line through room air off a channel."""
    room = (time_s <= room_s) & np.isfinite(shown)
    line = linregress(time_s[room], shown[room])
    return shown - line.intercept - line.slope * time_s


def undo_lag(time_s: Float, shown: Float, sensor: Sensor) -> Float:
    """Undo two poles by least squares with a penalty on second differences."""
    n = time_s.size
    step = float(np.median(np.diff(time_s)))
    gas = shown
    for tau in (sensor.response.tau_s, sensor.response.tau2_s):
        if tau == 0.0:
            continue
        alpha = np.exp(-step / tau)
        # y[n] = a y[n-1] + (1 - a) x[n], so that x - (y[n] - a y[n-1]) / (1 - a) is small.
        wanted = np.concatenate([gas[:1], (gas[1:] - alpha * gas[:-1]) / (1.0 - alpha)])
        bend = diags_array([1.0, -2.0, 1.0], offsets=[0, 1, 2], shape=(n - 2, n))
        rows = vstack([eye_array(n), _SMOOTHING * bend]).tocsc()
        right = np.concatenate([wanted, np.zeros(n - 2)])
        gas = spsolve((rows.T @ rows).tocsc(), rows.T @ right)
    return gas
