"""The chance beside each verdict: the same rows, read with the measurement uncertainty."""

import math

import numpy as np
from numpy.typing import NDArray

from ebbline.core.curve.chance import chance_of_reaching
from ebbline.core.curve.curves import Curves, Spread
from ebbline.core.rules.codes import BASELINE, MET, NOT_MET, RISE_OVER_BASELINE, RISE_OVER_LOWEST
from ebbline.core.rules.rows import Byte, Float, Rows, Verdicts


def chances(
    curves: Curves,
    spread: Spread,
    rows: Rows,
    verdicts: Verdicts,
    *,
    ambient_h2_ppm: float,
    ambient_ch4_ppm: float,
    u_gain: float,
    baseline_rule: int,
    minute_tolerance: float,
) -> Float:
    """Return the chance that each statement is met, given the measurement uncertainty.

    Parameters
    ----------
    curves, spread : Curves, Spread
        The tests and the uncertainty of their values.
    rows, verdicts : Rows, Verdicts
        The rows, and what they say without uncertainty.
    ambient_h2_ppm, ambient_ch4_ppm : float
        The gases in the room, ppm: only what is above them moves with the alveolar reference.
    u_gain : float
        Relative standard uncertainty of the gain, shared by a test, 1.
    baseline_rule : int
        A code of `ebbline.core.curve.chance`.
    minute_tolerance : float
        As for the verdicts, minutes.

    Returns
    -------
    ndarray (n_tests, n_rows)
        NaN where a statement was not asked, cannot be judged, or is about symptoms.
    """
    out = np.full(verdicts.result.shape, np.nan)
    chance_range(
        0, curves.n_tests, curves.minute, curves.h2_ppm, curves.ch4_ppm, spread.h2_sd,
        spread.ch4_sd, spread.scale_u, spread.normalised, spread.reference_u, rows,
        verdicts.result, ambient_h2_ppm, ambient_ch4_ppm, u_gain, baseline_rule,
        minute_tolerance, out,
    )  # fmt: skip
    return out


def chance_range(
    start: int,
    stop: int,
    minute: Float,
    h2: Float,
    ch4: Float,
    h2_sd: Float,
    ch4_sd: Float,
    scale_u: Float,
    normalised: NDArray[np.bool_],
    reference_u: Float,
    rows: Rows,
    result: Byte,
    ambient_h2: float,
    ambient_ch4: float,
    u_gain: float,
    baseline_rule: int,
    tolerance: float,
    out: Float,
) -> None:
    """Write the chances of tests `start` to `stop` into `out`; the loop behind `chances`.

    Parameters
    ----------
    start, stop : int
        Which tests.
    minute, h2, ch4 : ndarray (n_tests, n_samples), minutes and ppm
        As in `Curves`.
    h2_sd, ch4_sd, scale_u, normalised, reference_u : ndarray
        As in `Spread`.
    rows : Rows
        The rows.
    result : ndarray (n_tests, n_rows)
        As in `Verdicts`.
    ambient_h2, ambient_ch4 : float
        The gases in the room, ppm.
    u_gain : float
        Relative standard uncertainty of the gain, 1.
    baseline_rule : int
        A code of `ebbline.core.curve.chance`.
    tolerance : float
        Minutes.
    out : ndarray (n_tests, n_rows)
        Written to; what is not asked or cannot be judged is left as it is.
    """
    n_samples = minute.shape[1]
    mean = np.empty(n_samples)
    sd = np.empty(n_samples)
    moving = np.empty(n_samples)
    done = np.empty(rows.n_events, dtype=np.int64)
    for test in range(start, stop):
        done[:] = -1
        for row in range(rows.first_validity):
            by_h2 = rows.weights[rows.series[row], 0]
            by_ch4 = rows.weights[rows.series[row], 1]
            judged = result[test, row] == MET or result[test, row] == NOT_MET
            if not judged or by_h2 + by_ch4 == 0.0 or rows.measure[row] == BASELINE:
                continue
            twin = done[rows.event[row]]
            if twin >= 0:
                out[test, row] = out[test, twin]
                continue
            done[rows.event[row]] = row
            limit = rows.end[row] + tolerance if rows.closed[row] else math.inf
            count = 0
            fasting = 0
            for i in range(n_samples):
                if minute[test, i] > limit:
                    break
                above_h2 = h2[test, i] - ambient_h2 if by_h2 > 0.0 else 0.0
                above_ch4 = ch4[test, i] - ambient_ch4 if by_ch4 > 0.0 else 0.0
                above = by_h2 * above_h2 + by_ch4 * above_ch4
                if above != above:
                    continue
                mean[count] = above + by_h2 * ambient_h2 + by_ch4 * ambient_ch4
                variance = (scale_u[test, i] * above) ** 2
                if by_h2 > 0.0:
                    variance += (by_h2 * h2_sd[test, i]) ** 2
                if by_ch4 > 0.0:
                    variance += (by_ch4 * ch4_sd[test, i]) ** 2
                sd[count] = math.sqrt(variance)
                moving[count] = above if normalised[test, i] else 0.0
                count += 1
                if minute[test, i] <= 0.0:
                    fasting = count
            rise = rows.measure[row] in (RISE_OVER_BASELINE, RISE_OVER_LOWEST)
            first = fasting if rise else 0
            if rows.measure[row] == RISE_OVER_LOWEST:
                # Without a fasting reading the first one has nothing before it to rise from.
                first = max(first, 1)
            out[test, row] = chance_of_reaching(
                rows.measure[row], rows.threshold[row], mean, sd, moving, count, fasting, first,
                baseline_rule, u_gain, reference_u[test],
            )  # fmt: skip
