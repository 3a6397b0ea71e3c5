from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from ebbline.core.breath.zero import Zeroing, ZeroLimits, apply_zero, zero_from
from ebbline.core.breath.zero_line import Zero
from ebbline.core.errors import InputError, SettingError

Float = NDArray[np.float64]
LIMITS: dict[str, Any] = {
    "shortest_s": 50.0,
    "fewest": 10,
    "ambient_o2_pct": 20.9,
    "o2_within_pct": 0.3,
    "steady_in_u": 5.0,
    "spread": 1.0,
    "remains": 2.0,
}
TIME = np.arange(-60.0, 20.0, 0.5)
# Known drift of which five times are allowed: 0.02 a second where there is no noise.
U_DRIFT = 0.004


def found(
    value: Float,
    o2: Float | None = None,
    *,
    least_sd: float = 0.0,
    u_drift_per_s: float = U_DRIFT,
    **changes: Any,
) -> Zeroing:
    """Return the zero of a minute of room air that holds 0.5 of the gas."""
    return zero_from(
        TIME,
        value,
        window_s=(-60.0, 0.0),
        ambient=0.5,
        o2_pct=o2,
        least_sd=least_sd,
        u_drift_per_s=u_drift_per_s,
        limits=ZeroLimits(**(LIMITS | changes)),
    )


def zero_of(zeroing: Zeroing) -> Zero:
    """Return the zero, which must be there."""
    assert zeroing.zero is not None
    return zeroing.zero


def test_offset_and_drift_of_a_straight_line_are_found_exactly() -> None:
    """Room air itself is not part of the error; the offset holds for the end of the window."""
    result = found(0.5 + 1.2 + 0.01 * TIME, np.full(TIME.size, 20.9))
    zero = zero_of(result)
    assert result.reasons == ()
    assert_allclose([zero.offset, zero.drift_per_s, zero.at_s], [1.2, 0.01, 0.0], atol=1e-12)
    assert_allclose(zero.residual_sd, 0.0, atol=1e-12)
    assert zero.window_s == (-60.0, 0.0)


def test_a_channel_without_its_zero_holds_room_air() -> None:
    """The line is carried on over the blow; gaps stay."""
    shown = 0.5 + 1.2 + 0.01 * TIME
    shown[-1] = np.nan
    clean = apply_zero(TIME, shown, zero_of(found(shown)))
    assert_allclose(clean[:-1], 0.5)
    assert np.isnan(clean[-1])


def test_uncertainties_are_those_of_polyfit() -> None:
    """Source: numpy.polyfit with cov=True, about the same time; nothing is known of the drift."""
    rng = np.random.default_rng(7)
    shown = 0.5 + 0.3 + 0.004 * TIME + rng.normal(0.0, 0.4, TIME.size)
    shown[[3, 40]] = np.nan
    zero = zero_of(found(shown, u_drift_per_s=np.inf))
    used = (TIME <= 0.0) & np.isfinite(shown)
    line, covariance = np.polyfit(TIME[used], shown[used] - 0.5, 1, cov=True)
    assert_allclose([zero.drift_per_s, zero.offset], line)
    assert_allclose(
        [zero.u_drift_per_s**2, zero.covariance, zero.u_offset**2],
        [covariance[0, 0], covariance[0, 1], covariance[1, 1]],
    )
    ahead = np.array([0.0, 20.0])
    design = np.stack([ahead, np.ones(2)], axis=1)
    assert_allclose(zero.u_error(ahead), np.sqrt(np.diag(design @ covariance @ design.T)))


def test_the_stated_uncertainty_is_the_scatter_of_many_zeros() -> None:
    """Twenty seconds after the window; 2000 seeded windows, so about 1.6 % of the sd."""
    rng = np.random.default_rng(11)
    late = np.array([20.0])
    zeros = [
        zero_of(found(rng.normal(0.5, 0.4, TIME.size), u_drift_per_s=np.inf)) for _ in range(2000)
    ]
    scatter = np.std([zero.error(late)[0] for zero in zeros])
    stated = np.sqrt(np.mean([zero.u_error(late)[0] ** 2 for zero in zeros]))
    assert_allclose(stated, scatter, rtol=0.06)


def test_what_is_known_of_the_drift_counts_as_one_more_measurement_of_it() -> None:
    """Least squares with a further row drift = 0, solved by numpy for the offset at the end."""
    rng = np.random.default_rng(2)
    shown = rng.normal(0.8, 0.4, TIME.size)
    zero = zero_of(found(shown, least_sd=0.6, u_drift_per_s=0.01))
    used = TIME <= 0.0
    design = np.stack([np.ones(int(used.sum())), TIME[used]], axis=1) / 0.6
    rows = np.vstack([design, [0.0, 1.0 / 0.01]])
    right = np.append((shown[used] - 0.5) / 0.6, 0.0)
    covariance = np.linalg.inv(rows.T @ rows)
    assert_allclose([zero.offset, zero.drift_per_s], covariance @ rows.T @ right)
    assert_allclose(
        [zero.u_offset**2, zero.covariance, zero.u_drift_per_s**2],
        [covariance[0, 0], covariance[0, 1], covariance[1, 1]],
    )


def test_the_scatter_counts_where_it_is_more_than_is_known_of_the_sensor() -> None:
    """A noisy room is not made quiet by a profile; a quiet minute does not promise quiet."""
    shown = np.random.default_rng(3).normal(0.5, 0.4, TIME.size)
    none, less, more = (
        zero_of(found(shown, least_sd=sd, u_drift_per_s=np.inf)) for sd in (0.0, 0.2, 0.8)
    )
    assert less == none
    assert (more.offset, more.residual_sd) == (none.offset, none.residual_sd)
    assert_allclose(more.u_offset / none.u_offset, 0.8 / none.residual_sd)


def test_a_sensor_that_cannot_drift_has_a_mean_for_its_zero() -> None:
    """Slopes that noise makes are not carried on."""
    shown = np.random.default_rng(4).normal(0.9, 0.4, TIME.size)
    zero = zero_of(found(shown, u_drift_per_s=0.0))
    used = shown[TIME <= 0.0] - 0.5
    assert (zero.drift_per_s, zero.u_drift_per_s, zero.covariance) == (0.0, 0.0, 0.0)
    assert_allclose(zero.offset, used.mean())
    assert_allclose(zero.u_error(np.array([20.0])), zero.residual_sd / np.sqrt(used.size))


def test_a_slope_that_noise_makes_is_steady() -> None:
    """The limit grows with the noise: 5 standard deviations of a slope over 121 samples."""
    spread = np.sum((TIME[TIME <= 0.0] + 30.0) ** 2)
    limit = 5.0 * np.hypot(0.4 / np.sqrt(spread), U_DRIFT)
    for slope, steady in ((0.99 * limit, True), (1.01 * limit, False)):
        reasons = found(0.5 + slope * TIME, least_sd=0.4, remains=9.0).reasons
        against = (
            f"room air not steady: it moves by {slope:.3g} a second, at most {limit:.3g} is allowed"
        )
        assert reasons == (() if steady else (against,))
    # Where nothing is known of the drift, the noise alone says what is steady.
    reasons = found(
        0.5 + 0.9 * limit * TIME, least_sd=0.4, u_drift_per_s=np.inf, remains=9.0
    ).reasons
    assert len(reasons) == 1


def test_a_time_shift_changes_nothing_and_a_constant_moves_only_the_offset() -> None:
    """The same window on another clock, and with another level."""
    rng = np.random.default_rng(5)
    shown = rng.normal(0.5, 0.4, TIME.size)
    limits = ZeroLimits(**LIMITS)
    here = zero_of(found(shown))
    moved = zero_of(
        zero_from(
            TIME + 1000.0,
            shown + 1.0,
            window_s=(940.0, 1000.0),
            ambient=0.5,
            o2_pct=None,
            least_sd=0.0,
            u_drift_per_s=U_DRIFT,
            limits=limits,
        )
    )
    assert_allclose(moved.offset, here.offset + 1.0)
    assert_allclose(moved.drift_per_s, here.drift_per_s, atol=1e-12)
    assert_allclose(
        [moved.u_offset, moved.u_drift_per_s, moved.residual_sd],
        [here.u_offset, here.u_drift_per_s, here.residual_sd],
    )


@pytest.mark.parametrize(
    ("value", "o2", "changes", "reason"),
    [
        (
            0.5 + 0.03 * TIME,
            None,
            {},
            "room air not steady: it moves by 0.03 a second, at most 0.02 is allowed",
        ),
        (
            0.5 - 0.03 * TIME,
            None,
            {},
            "room air not steady: it moves by -0.03 a second, at most 0.02 is allowed",
        ),
        (
            0.5 + 3.0 * (-1.0) ** np.arange(TIME.size),
            None,
            {"remains": 9.0},
            "room air not steady: it scatters by 3.03, at most 1 is allowed",
        ),
        (
            np.full(TIME.size, 4.0),
            None,
            {},
            "breath gas remains: 3.5 above room air, at most 2 is allowed",
        ),
        (
            np.full(TIME.size, 0.5),
            None,
            {"shortest_s": 90.0},
            "room air too short: 60 s, at least 90 s are needed",
        ),
        (
            np.full(TIME.size, 0.5),
            np.full(TIME.size, 20.5),
            {},
            "O2 of room air is 20.50 %, 20.9 ± 0.3 % is allowed",
        ),
        (
            np.full(TIME.size, 0.5),
            20.9 + 0.01 * (TIME + 10.0),
            {},
            "O2 of room air is 20.40 %, 20.9 ± 0.3 % is allowed",
        ),
        (
            np.full(TIME.size, 0.5),
            np.full(TIME.size, np.nan),
            {},
            "O2 of room air not known: too few samples",
        ),
    ],
)
def test_room_air_that_is_no_zero_is_told_in_words(
    value: Float, o2: Float | None, changes: dict[str, Any], reason: str
) -> None:
    """The numbers stay beside the reason."""
    result = found(value, o2, **changes)
    assert result.reasons == (reason,)
    assert result.zero is not None


def test_all_reasons_are_told() -> None:
    """Breath gas that is still being washed out, over too short a time."""
    result = found(9.0 - 0.1 * TIME, np.full(TIME.size, 19.0), shortest_s=61.0)
    assert [reason.split(":")[0] for reason in result.reasons] == [
        "room air too short",
        "room air not steady",
        "breath gas remains",
        "O2 of room air is 19.00 %, 20.9 ± 0.3 % is allowed",
    ]


def test_without_samples_there_is_no_zero() -> None:
    """Gaps do not count."""
    shown = np.full(TIME.size, np.nan)
    shown[:9] = 0.5
    assert found(shown) == (None, ("too few samples in room air: 9, at least 10 are needed",))


@pytest.mark.parametrize(
    ("value", "o2", "text"),
    [
        (
            np.zeros(3),
            None,
            "zero: value does not fit time_s; allowed: shape (160,); came: shape (3,)",
        ),
        (
            np.zeros(TIME.size),
            np.zeros(3),
            "zero: o2_pct does not fit time_s; allowed: shape (160,); came: shape (3,)",
        ),
    ],
)
def test_arrays_that_do_not_fit_are_a_wrong_call(value: Float, o2: Float | None, text: str) -> None:
    """That is not the measurement's fault, so it is an error."""
    with pytest.raises(InputError) as caught:
        found(value, o2)
    assert str(caught.value) == text


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"fewest": 2}, "zero limit fewest cannot be used; allowed: 3 or more; came: 2"),
        *[
            ({name: 0.0}, f"zero limit {name} cannot be used; allowed: above 0; came: 0")
            for name in LIMITS
            if name != "fewest"
        ],
    ],
)
def test_limits_that_nothing_can_meet_are_refused(change: dict[str, Any], text: str) -> None:
    """Limits are settings, so that is a setting's error."""
    with pytest.raises(SettingError) as caught:
        ZeroLimits(**(LIMITS | change))
    assert str(caught.value) == text
