"""Virtual cohorts: many tests at once, as arrays, with the truth kept beside the readings.

The curves are invented: a fasting level, and for some tests a rise of gamma shape that starts
after a lag. They are made to exercise the engine, not to describe a population.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ebbline.core.breath.noise import Noise
from ebbline.core.curve.curves import Curves, Spread

Float = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Cohort:
    """Virtual tests: readings, their uncertainty, and the true values (n_tests, n_samples), ppm.

    ``substrate`` (n_tests,) is an index into the substrates that were asked for.
    """

    curves: Curves
    spread: Spread
    substrate: NDArray[np.int64]
    true_h2_ppm: Float
    true_ch4_ppm: Float


def virtual_cohort(
    rng: np.random.Generator,
    *,
    n_tests: int,
    minutes: Float,
    n_substrates: int,
    noise: Noise,
    missing_share: float,
) -> Cohort:
    """Return a cohort of virtual tests.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all chance; the same seed gives the same cohort.
    n_tests : int
        How many tests.
    minutes : ndarray (n_samples,), minutes
        Planned minutes; 0 and below are fasting. Actual minutes scatter by up to 2 min.
    n_substrates : int
        How many substrates the tests are spread over evenly.
    noise : Noise
        Noise of the readings about the truth.
    missing_share : float
        Share of samples after the drink that are missed, 0 to 1.

    Returns
    -------
    Cohort
    """
    n_samples = len(minutes)
    after = minutes > 0.0
    planned = np.broadcast_to(minutes, (n_tests, n_samples)).copy()
    late = rng.uniform(-2.0, 2.0, (n_tests, n_samples)) * after
    true_h2 = _gas(rng, n_tests, minutes, fasting=(2.0, 12.0), rising=0.5, height=60.0)
    true_ch4 = _gas(rng, n_tests, minutes, fasting=(0.5, 6.0), rising=0.2, height=15.0)
    gain = 1.0 + noise.gain_fraction * rng.standard_normal((n_tests, 1))
    h2 = _read(rng, true_h2, gain, noise)
    ch4 = _read(rng, true_ch4, gain, noise)
    missed = (rng.random((n_tests, n_samples)) < missing_share) & after
    h2[missed] = np.nan
    ch4[missed] = np.nan
    zeros = np.zeros((n_tests, n_samples))
    return Cohort(
        curves=Curves(
            minute=np.where(missed, planned, planned + late),
            planned_minute=planned,
            h2_ppm=h2,
            ch4_ppm=ch4,
            symptom_rise=None,
        ),
        spread=Spread(
            h2_sd=np.hypot(noise.ppm, noise.fraction * h2),
            ch4_sd=np.hypot(noise.ppm, noise.fraction * ch4),
            scale_u=zeros,
            normalised=np.zeros((n_tests, n_samples), dtype=np.bool_),
            reference_u=np.zeros(n_tests),
        ),
        substrate=rng.integers(0, n_substrates, n_tests),
        true_h2_ppm=true_h2,
        true_ch4_ppm=true_ch4,
    )


def _gas(
    rng: np.random.Generator,
    n_tests: int,
    minutes: Float,
    *,
    fasting: tuple[float, float],
    rising: float,
    height: float,
) -> Float:
    """Return true values: a fasting level, and for some tests a rise after a lag."""
    level = rng.uniform(*fasting, (n_tests, 1))
    rises = rng.random((n_tests, 1)) < rising
    peak = height * rng.lognormal(-0.7, 0.6, (n_tests, 1)) * rises
    lag = rng.lognormal(np.log(70.0), 0.45, (n_tests, 1))
    width = rng.uniform(20.0, 60.0, (n_tests, 1))
    since = np.maximum(minutes - lag, 0.0) / width
    value: Float = level + peak * since * np.exp(1.0 - since)
    return value


def _read(rng: np.random.Generator, truth: Float, gain: Float, noise: Noise) -> Float:
    """Return readings as an analyser would show them: noisy, in whole ppm, never below 0."""
    sd = np.hypot(noise.ppm, noise.fraction * truth)
    shown = np.round(truth / gain + sd * rng.standard_normal(truth.shape))
    readings: Float = np.maximum(shown, 0.0)
    return readings
