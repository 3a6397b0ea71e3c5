"""Fit a sensor's delay and poles to a recorded step."""

import math
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from ebbline.core.breath.record import known_values
from ebbline.core.breath.response import Response, step_response
from ebbline.core.errors import InputError

Float = NDArray[np.float64]

# A record must reach this share of its step, or its last level is a guess.
_SETTLED = 0.99
# A change counts as seen above this many times the noise, and as gone back above this share.
_SEEN_IN_SD = 5.0
_GONE_BACK = 0.1
# Two poles must lower AICc by this much: then one pole has essentially no support left (Burnham
# and Anderson, Model Selection and Multimodel Inference, 2002, 2.6; from memory, not checked).
_CLEARLY = 10.0
# No sensor resolves this share of a step; a fit better than that is perfect, not better still.
_PERFECT = 1e-6
# Relative tolerance of the search, near what double precision can tell.
_CONVERGED = 1e-12


class ResponseFit(NamedTuple):
    """A response fitted to a recorded step.

    ``covariance`` is that of delay, first and, with two poles, second time constant, s²; the
    uncertainties are the roots of its diagonal (``u_tau2_s`` is 0 with one pole). ``residual_sd``
    is in the record's unit. ``two_poles_fit_better`` holds where two poles lower AICc by 10 or
    more, whichever was asked for.
    """

    response: Response
    u_delay_s: float
    u_tau_s: float
    u_tau2_s: float
    covariance: Float
    residual_sd: float
    two_poles_fit_better: bool


def fit_response(
    time_s: Float, value: Float, *, step_at_s: float, poles: Literal[1, 2]
) -> ResponseFit:
    """Fit delay and poles to a recorded step by least squares.

    The levels before and after are fitted too. Noise is taken as white, so that a slow drift makes
    the uncertainties too small.

    Parameters
    ----------
    time_s, value : ndarray, (n_samples,)
        Times, s, strictly increasing, from before the step until it has settled; and what was
        shown, NaN for gaps.
    step_at_s : float
        When the gas at the inlet changed, s.
    poles : {1, 2}
        How many.

    Returns
    -------
    ResponseFit
        The response and how sure it is.

    Raises
    ------
    InputError
        If there is no step, it goes back, or the record ends before 99 % of it.
    """
    if poles not in (1, 2):
        raise InputError(f"response fit: poles cannot be used; allowed: 1 or 2; came: {poles}")
    known = known_values("response fit", time_s, value, fewest=12)
    since, shown = time_s[known] - step_at_s, value[known]
    start, height = _levels(since, shown)
    fits = [_fit_poles(since, shown, start, height, count) for count in (1, 2)]
    aicc = [_aicc(residual, height, theta.size) for theta, residual, _ in fits]
    theta, residual, jacobian = fits[poles - 1]
    response = _response_of(theta)
    reached = float(step_response(response, since[-1:])[0])
    if reached < _SETTLED:
        raise InputError(
            "response fit: the record is too short to have settled; allowed: to 99 % of the step; "
            f"came: {100.0 * reached:.0f} % after {since[-1]:g} s"
        )
    variance = float(residual @ residual) / (shown.size - theta.size)
    covariance = _covariance(jacobian, variance)[2:, 2:]
    u = np.sqrt(np.diag(covariance))
    return ResponseFit(
        response=response,
        u_delay_s=float(u[0]),
        u_tau_s=float(u[1]),
        u_tau2_s=float(u[2]) if poles == 2 else 0.0,
        covariance=covariance,
        residual_sd=math.sqrt(variance),
        two_poles_fit_better=aicc[0] - aicc[1] >= _CLEARLY,
    )


def _levels(since_s: Float, shown: Float) -> tuple[float, float]:
    """Return the level before a step and its height, or refuse what is not one lasting step."""
    before = since_s <= 0.0
    if before.sum() < 3 or (~before).sum() < 3:
        raise InputError(
            "response fit: the step is at the edge; allowed: 3 or more values before and after it; "
            f"came: {int(before.sum())} and {int((~before).sum())}"
        )
    start = float(np.median(shown[before]))
    # Second differences see the noise and not the step; 6 is the sum of 1, 4 and 1.
    noise = float(np.median(np.abs(np.diff(shown, 2)))) / (0.6745 * math.sqrt(6.0))
    smooth = np.median(np.lib.stride_tricks.sliding_window_view(shown, 5), axis=1) - start
    far = float(smooth[np.argmax(np.abs(smooth))])
    end = float(np.median(shown[-max(5, shown.size // 10) :])) - start
    if abs(far) <= _SEEN_IN_SD * noise or far == 0.0:
        raise InputError(
            "response fit: there is no step; allowed: a change of more than 5 times the noise; "
            f"came: {far:.3g} with noise {noise:.3g}"
        )
    if abs(far - end) > max(_GONE_BACK * abs(far), _SEEN_IN_SD * noise):
        raise InputError(
            "response fit: the step goes back; allowed: one step that lasts; "
            f"came: a change of {far:.3g} that ends at {end:.3g}"
        )
    return start, end


def _response_of(theta: Float) -> Response:
    """Return the response in fitted parameters: start, height, delay, tau and perhaps tau2."""
    return Response(delay_s=float(theta[2]), tau_s=float(theta[3]), tau2_s=float(np.sum(theta[4:])))


def _fit_poles(
    since_s: Float, shown: Float, start: float, height: float, poles: int
) -> tuple[Float, Float, Float]:
    """Return parameters, residuals and Jacobian of the best fit with so many poles."""
    # The area between the step and what is shown is height (delay + tau + tau2).
    after = since_s > 0.0
    missing = 1.0 - (shown[after] - start) / height
    span_s = float(since_s[-1])
    mean_s = float(np.trapezoid(missing, since_s[after]))
    mean_s = min(max(mean_s, 0.01 * span_s), 0.5 * span_s)

    def residual(theta: Float) -> Float:
        modelled: Float = theta[0] + theta[1] * step_response(_response_of(theta), since_s)
        return modelled - shown

    # Poles of one size cannot be told apart by slope, so the search starts with them apart.
    apart = [1.0] if poles == 1 else [0.75, 0.25]
    lowest = [-np.inf, -np.inf, 0.0, *[1e-9 * span_s] * poles]
    scale = [abs(height), abs(height), *[mean_s] * (poles + 1)]
    fits = []
    for late in (0.1, 0.5):
        first = [start, height, late * mean_s, *((1.0 - late) * mean_s * part for part in apart)]
        fits.append(
            least_squares(
                residual,
                first,
                bounds=(lowest, np.inf),
                x_scale=scale,
                xtol=_CONVERGED,
                ftol=_CONVERGED,
                gtol=_CONVERGED,
            )
        )
    best = min(fits, key=lambda fit: float(fit.cost))
    order = np.concatenate([[0, 1, 2], 3 + np.argsort(-best.x[3:])]).astype(np.intp)
    return best.x[order], np.asarray(best.fun), np.asarray(best.jac)[:, order]


def _aicc(residual: Float, height: float, parameters: int) -> float:
    """Return Akaike's criterion for least squares, corrected for few samples."""
    n = residual.size
    k = parameters + 1
    mean_square = float(residual @ residual) / n + (_PERFECT * height) ** 2
    return n * math.log(mean_square) + 2.0 * k + 2.0 * k * (k + 1) / (n - k - 1)


def _covariance(jacobian: Float, variance: float) -> Float:
    """Return variance (J'J)^-1; where the record cannot tell parameters apart it is huge."""
    _, size, directions = np.linalg.svd(jacobian, full_matrices=False)
    safe = np.maximum(size, size[0] * np.finfo(np.float64).eps)
    scaled: Float = directions.T / safe
    return np.asarray(variance * (scaled @ scaled.T))
