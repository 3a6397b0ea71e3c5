"""Chances against the closed forms and multivariate normal distributions of scipy."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, special, stats

from ebbline.core.curve.chance import (
    FROM_BASELINE,
    FROM_LOWEST_EARLIER,
    LAST,
    LOWEST,
    MEAN,
    NO_BASELINE,
    chance_of_reaching,
)
from tests.helpers import Float

ALLOWED = 1e-4


def chance(
    measure: int,
    threshold: float,
    mean: list[float],
    sd: list[float],
    *,
    fasting: int = 1,
    rule: int = MEAN,
    u_gain: float = 0.0,
) -> float:
    """Return the project's chance for readings without normalisation."""
    return chance_of_reaching(
        measure,
        threshold,
        np.array(mean),
        np.array(sd),
        np.zeros(len(mean)),
        len(mean),
        fasting,
        0 if measure == NO_BASELINE else fasting,
        rule,
        u_gain,
        0.0,
    )


def none_above(means: Float, covariance: Float, threshold: float) -> float:
    """Return the chance that no component of a normal vector reaches the threshold."""
    found = stats.multivariate_normal.cdf(
        np.full(len(means), threshold),
        mean=means,
        cov=covariance,
        abseps=1e-7,
        releps=1e-7,
        maxpts=2_000_000,
        rng=np.random.default_rng(1),
    )
    return float(found)


def test_a_level_of_several_readings_is_a_product_of_normal_functions() -> None:
    """Source: scipy.stats.norm; independent readings, no shared term."""
    mean, sd = [6.0, 8.0, 9.5, 7.0, 8.8], [1.6, 1.7, 1.8, 1.6, 1.7]
    expected = 1.0 - np.prod(stats.norm.cdf((10.0 - np.array(mean)) / np.array(sd)))
    assert_allclose(chance(NO_BASELINE, 10.0, mean, sd), expected, rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("rule", "weights"), [(MEAN, (1 / 3, 1 / 3, 1 / 3)), (LAST, (0.0, 0.0, 1.0))]
)
def test_rises_over_one_baseline_are_an_orthant_of_a_normal_vector(
    rule: int, weights: tuple[float, ...]
) -> None:
    """Source: scipy.stats.multivariate_normal.cdf; the rises share the error of the baseline."""
    mean = [7.0, 5.0, 6.5, 22.0, 24.5, 18.0, 23.0]
    sd = [1.9, 1.6, 1.8, 2.7, 2.9, 2.3, 2.8]
    transform = np.hstack([np.tile(-np.array(weights), (4, 1)), np.eye(4)])
    covariance = transform @ np.diag(np.square(sd)) @ transform.T
    expected = 1.0 - none_above(transform @ np.array(mean), covariance, 20.0)
    found = chance(FROM_BASELINE, 20.0, mean, sd, fasting=3, rule=rule)
    assert_allclose(found, expected, rtol=0, atol=ALLOWED)


def test_the_gain_widens_a_single_rise_as_an_integral_over_it_says() -> None:
    """Source: scipy.integrate.quad over the gain of the closed form for one pair."""
    mean, sd, u_gain = [5.0, 26.0], [1.6, 3.0], 0.05
    width = np.hypot(sd[0], sd[1])

    def weighted(g: float) -> float:
        bar = 20.0 / (1.0 + u_gain * g)
        tail = stats.norm.cdf((mean[1] - mean[0] - bar) / width)
        return float(stats.norm.pdf(g) * tail)

    expected, _ = integrate.quad(weighted, -8.0, 8.0, epsabs=1e-12)
    found = chance(FROM_BASELINE, 20.0, mean, sd, u_gain=u_gain)
    assert_allclose(found, expected, rtol=0, atol=ALLOWED)


def test_a_rise_over_the_lowest_of_two_fasting_readings_is_an_integral_over_it() -> None:
    """Source: scipy.integrate.quad over the density of the lower of two normals."""
    mean, sd = np.array([6.0, 8.0, 24.0, 25.5]), np.array([1.8, 2.0, 3.1, 3.2])

    def weighted(b: float) -> float:
        z = (b - mean[:2]) / sd[:2]
        pdf, tail = stats.norm.pdf(z) / sd[:2], stats.norm.sf(z)
        below = stats.norm.cdf((b + 20.0 - mean[2:]) / sd[2:])
        return float((pdf[0] * tail[1] + pdf[1] * tail[0]) * np.prod(below))

    none, _ = integrate.quad(weighted, -10.0, 30.0, epsabs=1e-12, limit=200)
    found = chance(FROM_BASELINE, 20.0, mean.tolist(), sd.tolist(), fasting=2, rule=LOWEST)
    assert_allclose(found, 1.0 - none, rtol=0, atol=ALLOWED)


@pytest.mark.parametrize("measure", [FROM_BASELINE, FROM_LOWEST_EARLIER])
def test_with_two_readings_every_rise_is_the_one_rise(measure: int) -> None:
    """Source: scipy.stats.norm; the lowest earlier reading is then the baseline."""
    expected = stats.norm.cdf((28.0 - 5.0 - 20.0) / np.hypot(1.6, 3.2))
    assert_allclose(chance(measure, 20.0, [5.0, 28.0], [1.6, 3.2]), expected, rtol=0, atol=ALLOWED)


def test_a_rise_over_the_lowest_of_two_earlier_readings_is_a_double_integral() -> None:
    """Source: scipy.integrate.quad; X1 - X0, X2 - X0 and X2 - X1 must all stay below."""
    mean, sd = np.array([9.0, 14.0, 30.0]), np.array([2.0, 2.4, 4.0])

    def given_first(x0: float) -> float:
        def inner(x1: float) -> float:
            z = (x1 - mean[1]) / sd[1]
            density = np.exp(-0.5 * z * z) / (sd[1] * np.sqrt(2.0 * np.pi))
            return float(density * special.ndtr((min(x0, x1) + 20.0 - mean[2]) / sd[2]))

        lower, _ = integrate.quad(inner, mean[1] - 8 * sd[1], x0, epsabs=1e-9)
        upper, _ = integrate.quad(inner, x0, x0 + 20.0, epsabs=1e-9)
        return float(stats.norm.pdf(x0, mean[0], sd[0]) * (lower + upper))

    none, _ = integrate.quad(given_first, -7.0, 25.0, epsabs=1e-7)
    found = chance(FROM_LOWEST_EARLIER, 20.0, mean.tolist(), sd.tolist())
    assert_allclose(found, 1.0 - none, rtol=0, atol=ALLOWED)


@pytest.mark.parametrize(
    ("mean", "above", "u_reference"),
    [
        ((5.0, 5.0, 24.5), (4.5, 4.5, 24.0), 0.10),
        ((5.0, 5.0, 24.5), (4.5, 0.0, 24.0), 0.10),
        ((9.0, 8.0, 30.0), (8.5, 0.0, 29.5), 0.07),
        ((4.0, 8.0, 10.0, 19.0), (3.5, 0.0, 0.0, 18.5), 0.07),
    ],
)
def test_only_the_normalised_readings_of_a_mean_baseline_move_with_the_alveolar_reference(
    mean: tuple[float, ...], above: tuple[float, ...], u_reference: float
) -> None:
    """Source: scipy.integrate.quad over the reference of the closed form for one rise.

    Given the reference, each normalised reading is stretched about the room value and the others
    stay as they are; the mean of the fasting ones takes its part of each.
    """
    value, moving = np.array(mean), np.array(above)
    sd = np.hypot(1.5, 0.1 * value)
    weights = np.append(np.full(len(mean) - 1, -1.0 / (len(mean) - 1)), 1.0)

    def weighted(z: float) -> float:
        shift = u_reference * z
        stretched = sd * np.where(moving != 0.0, 1.0 + shift, 1.0)
        rise = weights @ (value + moving * shift)
        width = np.linalg.norm(weights * stretched)
        return float(stats.norm.pdf(z) * special.ndtr((rise - 12.0) / width))

    expected, _ = integrate.quad(weighted, -8.0, 8.0, epsabs=1e-12)
    found = chance_of_reaching(
        FROM_BASELINE, 12.0, value, sd, moving, len(mean), len(mean) - 1, len(mean) - 1, MEAN, 0.0,
        u_reference,
    )  # fmt: skip
    assert_allclose(found, expected, rtol=0, atol=ALLOWED)


@pytest.mark.parametrize(
    ("flat", "b", "single", "any_rise", "any_over_lowest"),
    [(20.0, 0.248, 0.003, 0.022, 0.097), (30.0, 0.248, 0.031, 0.16, 0.53)],
)
def test_a_flat_curve_with_poor_technique_crosses_as_often_as_published_runs_say(
    flat: float, b: float, single: float, any_rise: float, any_over_lowest: float
) -> None:
    """Source: Monte Carlo of 4e5 runs in the project's reference notes, 10 samples, a 1.5 ppm.

    The table is rounded to two figures, so half of the last one is allowed.
    """
    sd = float(np.hypot(1.5, b * flat))
    pair = chance(FROM_BASELINE, 20.0, [flat] * 2, [sd] * 2)
    many = chance(FROM_BASELINE, 20.0, [flat] * 10, [sd] * 10)
    lowest = chance(FROM_LOWEST_EARLIER, 20.0, [flat] * 10, [sd] * 10)
    assert_allclose(pair, single, atol=0.0005)
    assert_allclose(many, any_rise, atol=0.0005 if any_rise < 0.1 else 0.005)
    assert_allclose(lowest, any_over_lowest, atol=0.0005 if any_over_lowest < 0.1 else 0.005)
