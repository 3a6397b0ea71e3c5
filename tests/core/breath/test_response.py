from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray

from ebbline.core.breath.lag import lag, unlag, unlag_exact
from ebbline.core.breath.response import (
    Response,
    noise_gain,
    ramp_under_read,
    rise_10_90_s,
    step_response,
    t90_s,
)
from ebbline.core.breath.response_fit import fit_response
from ebbline.core.errors import InputError

Float = NDArray[np.float64]
ONE = Response(delay_s=0.0, tau_s=2.0, tau2_s=0.0)
TWO = Response(delay_s=0.8, tau_s=4.0, tau2_s=1.5)
TIME = np.arange(0.0, 40.0, 0.1)
KINDS = [ONE, TWO, Response(delay_s=0.37, tau_s=1.0, tau2_s=1.0)]
# A gas without corners: room air, a rise over about 4 s, a plateau.
SMOOTH = 20.0 / (1.0 + np.exp(-(TIME - 15.0)))


def a_step(response: Response, *, noise: float, seed: int = 4, to_s: float = 60.0) -> Any:
    """Return uneven times and a step of 20 at 0 s from a level of 3."""
    rng = np.random.default_rng(seed)
    time = np.sort(rng.uniform(-10.0, to_s, 400))
    return time, 3.0 + 20.0 * step_response(response, time) + noise * rng.normal(size=400)


def test_the_order_of_the_poles_changes_nothing() -> None:
    """Two lags in a row show the same either way round."""
    swapped = Response(delay_s=0.8, tau_s=1.5, tau2_s=4.0)
    assert_array_equal(step_response(swapped, TIME), step_response(TWO, TIME))
    assert_array_equal(lag(TIME, SMOOTH, swapped), lag(TIME, SMOOTH, TWO))
    assert t90_s(swapped) == t90_s(TWO)


def test_a_step_is_shown_only_after_the_delay() -> None:
    """Before it nothing moves."""
    shown = step_response(TWO, np.array([-1.0, 0.0, 0.8, 0.9]))
    assert_array_equal(shown[:3], [0.0, 0.0, 0.0])
    assert shown[3] > 0.0


def test_times_to_a_share_are_where_the_step_is() -> None:
    """Two poles are solved numerically; the delay is not part of t90."""
    t90 = t90_s(TWO)
    assert_allclose(step_response(TWO, np.array([0.8 + t90])), 0.9, rtol=1e-12)
    t10 = t90 - rise_10_90_s(TWO)
    assert_allclose(step_response(TWO, np.array([0.8 + t10])), 0.1, rtol=1e-12)


@pytest.mark.parametrize("response", KINDS)
def test_a_ramp_settles_at_its_under_read(response: Response) -> None:
    """A steady ramp is read low by rate (delay + tau + tau2), however settled it looks."""
    time = np.arange(0.0, 100.0, 0.5)
    shown = lag(time, 0.3 * time, response)
    assert_allclose(0.3 * time[-1] - shown[-1], ramp_under_read(0.3, response))


@pytest.mark.parametrize("response", KINDS)
def test_lag_does_not_depend_on_where_a_straight_gas_is_sampled(response: Response) -> None:
    """Exact for straight pieces: fine, coarse and uneven times agree where they meet."""
    corners, heights = [0.0, 10.0, 11.0, 30.0, 40.0], [0.0, 0.0, 5.0, 6.0, 0.0]
    fine = np.linspace(0.0, 40.0, 4001)
    uneven = np.union1d(corners, np.random.default_rng(8).choice(fine, 90, replace=False))
    shown = lag(fine, np.interp(fine, corners, heights), response)
    coarse = lag(uneven, np.interp(uneven, corners, heights), response)
    assert_allclose(coarse, np.interp(uneven, fine, shown), atol=1e-12)


def test_gaps_stay_gaps_and_a_straight_gas_is_bridged() -> None:
    """Nothing is shown for a gap; after it nothing has changed."""
    ramp = np.maximum(TIME - 10.0, 0.0)
    holed = ramp.copy()
    holed[150:160] = np.nan
    for whole, part in (
        (lag(TIME, ramp, TWO), lag(TIME, holed, TWO)),
        (
            unlag(TIME, 2.0 * TIME, ONE, smoothing_s=1.0).value,
            unlag(TIME, np.where(np.isnan(holed), np.nan, 2.0 * TIME), ONE, smoothing_s=1.0).value,
        ),
    ):
        assert_array_equal(np.isnan(part), np.isnan(holed))
        assert_allclose(part[~np.isnan(holed)], whole[~np.isnan(holed)], atol=1e-6)


@pytest.mark.parametrize("response", KINDS)
def test_lag_then_unlag_returns_the_gas(response: Response) -> None:
    """Within 0.1 % of the plateau for a smooth rise over 4 s and smoothing of 0.2 s."""
    found = unlag(TIME, lag(TIME, SMOOTH, response), response, smoothing_s=0.2).value
    seen = TIME[-1] - response.delay_s > TIME
    assert_array_equal(np.isnan(found[TIME[-1] - response.delay_s + 1e-9 < TIME]), True)
    assert_allclose(found[seen], SMOOTH[seen], atol=0.02)


@pytest.mark.parametrize("response", KINDS)
def test_a_straight_line_comes_back_whole_whatever_the_smoothing(response: Response) -> None:
    """Its second differences are 0, so nothing is smoothed away."""
    settled = 3.0 + 0.2 * TIME
    shown = settled - ramp_under_read(0.2, response)
    found = unlag(TIME, shown, response, smoothing_s=5.0).value
    seen = np.isfinite(found)
    assert_allclose(found[seen], settled[seen], rtol=1e-6)


@pytest.mark.parametrize("smoothing_s", [0.5, 1.5])
@pytest.mark.parametrize("response", KINDS)
def test_a_swing_of_the_stated_period_comes_back_at_half_its_height(
    response: Response, smoothing_s: float
) -> None:
    """That is what the time scale of the smoothing means, whatever the poles."""
    time = np.arange(0.0, 120.0, 0.1)
    swing = np.sin(time / smoothing_s)
    found = unlag(time, lag(time, swing, response), response, smoothing_s=smoothing_s).value
    middle = (time > 50.0) & (time < 70.0)
    assert_allclose(found[middle], 0.5 * swing[middle], atol=0.02)


@settings(max_examples=20, deadline=None)
@given(shift_s=st.floats(-1e3, 1e3), level=st.floats(-50.0, 50.0), kind=st.sampled_from(KINDS))
def test_a_time_shift_changes_nothing_and_a_constant_moves_only_the_level(
    shift_s: float, level: float, kind: Response
) -> None:
    """For the lag and for taking it back."""
    shown = lag(TIME, SMOOTH, kind)
    assert_allclose(lag(TIME + shift_s, SMOOTH + level, kind), shown + level, atol=1e-7)
    gas = unlag(TIME, shown, kind, smoothing_s=0.5)
    moved = unlag(TIME + shift_s, shown + level, kind, smoothing_s=0.5)
    inside = slice(5, -20)
    assert_allclose(moved.value[inside], gas.value[inside] + level, atol=1e-5)
    assert_allclose(moved.noise_gain, gas.noise_gain, rtol=1e-5)


@pytest.mark.parametrize("response", KINDS)
def test_more_smoothing_never_raises_the_noise_gain(response: Response) -> None:
    """From a twentieth of a second to five seconds."""
    shown = lag(TIME, SMOOTH, response)
    gains = [
        unlag(TIME, shown, response, smoothing_s=scale).noise_gain
        for scale in np.geomspace(0.05, 5.0, 12)
    ]
    assert_array_equal(np.diff(gains) < 0.0, True)


def test_the_noise_gain_is_the_scatter_of_many_inversions() -> None:
    """300 seeded records of noise alone, so about 0.3 % of the sd."""
    rng = np.random.default_rng(12)
    found = [unlag(TIME, rng.normal(size=TIME.size), ONE, smoothing_s=0.5) for _ in range(300)]
    middle = np.stack([one.value for one in found])[:, 100:300]
    assert_allclose(middle.std(), found[0].noise_gain, rtol=0.02)


def test_the_exact_inverse_has_its_noise_gain_and_keeps_gaps() -> None:
    """200 000 seeded samples of noise; a gap takes the sample after it too."""
    noise = np.random.default_rng(3).normal(size=200_000)
    assert_allclose(
        np.nanstd(unlag_exact(noise, dt_s=0.1, tau_s=2.0)), noise_gain(0.1, 2.0), rtol=0.01
    )
    holed = unlag_exact(np.array([1.0, 1.0, np.nan, 1.0, 1.0]), dt_s=0.1, tau_s=2.0)
    assert_allclose(holed, [np.nan, 1.0, np.nan, np.nan, 1.0])


@pytest.mark.parametrize(("response", "poles"), [(ONE, 1), (TWO, 2)])
def test_a_clean_step_gives_its_response_back(response: Response, poles: Any) -> None:
    """On uneven times, upwards and downwards, to a millionth; and it tells how many poles."""
    time, shown = a_step(response, noise=0.0)
    for value in (shown, 30.0 - shown):
        fit = fit_response(time, value, step_at_s=0.0, poles=poles)
        assert_allclose(fit.response.delay_s, response.delay_s, atol=1e-6)
        assert_allclose(fit.response.tau_s, response.tau_s, rtol=1e-6)
        assert_allclose(fit.response.tau2_s, response.tau2_s, rtol=1e-6)
        assert fit.two_poles_fit_better == (poles == 2)
        assert fit.covariance.shape == (poles + 1, poles + 1)


def test_a_noisy_step_gives_its_response_within_its_uncertainty() -> None:
    """60 seeded steps: errors over uncertainties scatter by about 1."""
    far = []
    for seed in range(60):
        time, shown = a_step(TWO, noise=0.2, seed=seed)
        fit = fit_response(time, shown, step_at_s=0.0, poles=2)
        assert fit.two_poles_fit_better
        far.append(
            [
                (fit.response.delay_s - 0.8) / fit.u_delay_s,
                (fit.response.tau_s - 4.0) / fit.u_tau_s,
                (fit.response.tau2_s - 1.5) / fit.u_tau2_s,
                fit.residual_sd / 0.2,
            ]
        )
    assert_allclose(np.std(far, axis=0)[:3], 1.0, atol=0.35)
    assert_allclose(np.mean(far, axis=0), [0.0, 0.0, 0.0, 1.0], atol=0.45)


def test_one_pole_with_noise_is_not_taken_for_two() -> None:
    """20 seeded steps of a sensor with one pole."""
    slow = Response(delay_s=0.8, tau_s=4.0, tau2_s=0.0)
    for seed in range(20):
        time, shown = a_step(slow, noise=0.2, seed=seed)
        fit = fit_response(time, shown, step_at_s=0.0, poles=1)
        assert not fit.two_poles_fit_better
        assert fit.u_tau2_s == 0.0
        assert_allclose(fit.response.tau_s, 4.0, atol=5.0 * fit.u_tau_s)


def refused(time: Float, value: Float, *, step_at_s: float = 0.0, poles: Any = 1) -> str:
    """Return what a fit says of a record that it refuses."""
    with pytest.raises(InputError) as caught:
        fit_response(time, value, step_at_s=step_at_s, poles=poles)
    return str(caught.value)


def test_a_record_that_shows_no_settled_step_is_refused() -> None:
    """Nothing is fitted to noise, to a beginning, or to a pulse."""
    time, shown = a_step(ONE, noise=0.0)
    even = np.arange(-10.0, 60.0, 0.2)
    assert refused(even, np.full(even.size, 3.0)) == (
        "response fit: there is no step; allowed: a change of more than 5 times the noise; "
        "came: 0 with noise 0"
    )
    assert "there is no step" in refused(even, np.random.default_rng(1).normal(size=even.size))
    early = even <= 4.0
    assert refused(even[early], step_response(ONE, even[early])) == (
        "response fit: the record is too short to have settled; allowed: to 99 % of the step; "
        "came: 86 % after 4 s"
    )
    pulse = step_response(ONE, even) - step_response(ONE, even - 20.0)
    assert refused(even, 5.0 * step_response(ONE, even) - 2.0 * (even > 30.0)) == (
        "response fit: the step goes back; allowed: one step that lasts; "
        "came: a change of 5 that ends at 3"
    )
    assert "the step goes back" in refused(even, pulse)
    assert refused(time, shown, step_at_s=-20.0) == (
        "response fit: the step is at the edge; allowed: 3 or more values before and after it; "
        "came: 0 and 400"
    )
    assert "came: 400 and 0" in refused(time, shown, step_at_s=70.0)
    assert refused(time, shown, poles=3) == (
        "response fit: poles cannot be used; allowed: 1 or 2; came: 3"
    )


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: lag(TIME, TIME[1:], ONE),
            (
                "lag: the arrays do not fit; allowed: time_s and value of one length; "
                "came: shapes (400,) and (399,)"
            ),
        ),
        (
            lambda: lag(TIME[::-1], TIME, ONE),
            "lag: time_s cannot be used; allowed: strictly rising; came: it is not",
        ),
        (
            lambda: lag(TIME[:1], TIME[:1], ONE),
            "lag: too few values; allowed: 2 or more; came: 1",
        ),
        (
            lambda: unlag(TIME[:4], TIME[:4], ONE, smoothing_s=1.0),
            "unlag: too few values; allowed: 5 or more; came: 4",
        ),
        (
            lambda: unlag(TIME, TIME, ONE, smoothing_s=0.0),
            "unlag: smoothing cannot be used; allowed: above 0 s; came: 0 s",
        ),
        (
            lambda: noise_gain(0.1, 0.0),
            "interval and time constant cannot be used; allowed: above 0 s; came: 0.1 s and 0 s",
        ),
        (
            lambda: Response(delay_s=-0.1, tau_s=1.0, tau2_s=0.0),
            "response: delay_s cannot be used; allowed: 0 s or more; came: -0.1 s",
        ),
        (
            lambda: Response(delay_s=0.0, tau_s=0.0, tau2_s=0.0),
            "response: tau_s cannot be used; allowed: above 0 s; came: 0 s",
        ),
        (
            lambda: Response(delay_s=0.0, tau_s=1.0, tau2_s=float("inf")),
            "response: tau2_s cannot be used; allowed: 0 s (one pole) or more; came: inf s",
        ),
    ],
)
def test_what_cannot_be_computed_with_is_refused(call: Any, text: str) -> None:
    """The message says what was wrong, what was allowed and what came."""
    with pytest.raises(InputError) as caught:
        call()
    assert str(caught.value) == text
