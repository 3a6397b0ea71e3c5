"""One exact chance against a million random draws, and all chances against all verdicts.

The draws follow the same model as `ebbline.core.curve.chance` and must agree with it to within
their own scatter.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.cohort import archive
from benchmarks.judging import WORKERS, judge_all
from benchmarks.timing import Figure, Times, interleave, ratio
from ebbline.adapters.files.library import load_library
from ebbline.core.breath.noise import Noise
from ebbline.core.cohort.compiled import compiled
from ebbline.core.cohort.judge import chances_cohort
from ebbline.core.curve.chance import (
    FROM_BASELINE,
    FROM_LOWEST_EARLIER,
    MEAN,
    NO_BASELINE,
    chance_of_reaching,
)
from ebbline.core.curve.measures import BASELINE_RULES

Float = NDArray[np.float64]

DRAWS = 1_000_000
SEED = 20260504
REPEATS = 7
CALLS = 200
GOAL = 10_000.0
# Random draws scatter by their standard error; five of them are never seen by accident.
AGREE_IN_SE = 5.0
N_TESTS = 100_000
COHORT_GOAL = 150.0

# Invented curves of 12 samples, two of them fasting, that come near their threshold.
RISING = np.array([6.0, 5.0, 5.0, 7.0, 9.0, 12.0, 16.0, 20.0, 23.0, 24.0, 22.0, 19.0])
METHANE = np.array([7.0, 6.0, 7.0, 8.0, 7.0, 8.0, 9.0, 8.0, 9.0, 8.0, 8.0, 7.0])
DIPPING = np.array([9.0, 8.0, 6.0, 4.0, 3.0, 5.0, 9.0, 14.0, 18.0, 20.0, 21.0, 19.0])
FASTING = 2
# 0.5 % in 7 % oxygen between room and alveolar gas.
REFERENCE_U = 0.5 / 7.0


@dataclass(frozen=True, slots=True)
class Case:
    """One statement about one curve; ``reference_u`` is 0 where nothing was normalised."""

    what: str
    measure: int
    threshold: float
    mean: Float
    reference_u: float


CASES = (
    Case("rise of 20 ppm over baseline", FROM_BASELINE, 20.0, RISING, 0.0),
    Case("level of 10 ppm", NO_BASELINE, 10.0, METHANE, 0.0),
    Case("rise of 20 ppm over the lowest earlier", FROM_LOWEST_EARLIER, 20.0, DIPPING, 0.0),
    Case("rise of 20 ppm over baseline, normalised", FROM_BASELINE, 20.0, RISING, REFERENCE_U),
)


def measure() -> list[Figure]:
    """Return the figures of chances."""
    noise = load_library().noise
    return [*(_one(case, noise) for case in CASES), _all()]


def _one(case: Case, noise: Noise) -> Figure:
    """Return the figure of one statement."""
    sd = np.hypot(noise.ppm, noise.fraction * case.mean)
    moving = case.mean if case.reference_u > 0.0 else np.zeros_like(case.mean)
    first = 0 if case.measure == NO_BASELINE else FASTING

    def call(function: Callable[..., float]) -> float:
        return function(
            case.measure, case.threshold, case.mean, sd, moving, len(case.mean), FASTING, first,
            MEAN, noise.gain_fraction, case.reference_u,
        )  # fmt: skip

    fast = compiled(chance_of_reaching)

    def many() -> None:
        for _ in range(CALLS):
            call(fast)

    def draw() -> float:
        return draw_chance(np.random.default_rng(SEED), case, sd, moving, first, noise)

    exact, drawn = call(fast), draw()
    error = math.sqrt(drawn * (1.0 - drawn) / DRAWS)
    if not abs(exact - drawn) <= AGREE_IN_SE * error:
        raise SystemExit(f"{case.what}: exact {exact:.5f}, drawn {drawn:.5f}")
    times = interleave(
        {"exact": many, "drawn": draw, "plain": lambda: call(chance_of_reaching)}, REPEATS
    )
    each = Times(tuple(seconds / CALLS for seconds in times["exact"].seconds))
    figure, words = ratio(times["drawn"], each)
    return Figure(
        what=f"chance {exact:.3f} of a {case.what}",
        ours=f"compiled {each}; as plain loops {times['plain']}",
        peer=f"{DRAWS} draws in numpy: {times['drawn']}",
        figure=words,
        goal=f"at least {GOAL:.0f} ×",
        met=figure >= GOAL,
    )


def draw_chance(
    rng: np.random.Generator, case: Case, sd: Float, moving: Float, first: int, noise: Noise
) -> float:
    """Return the share of random draws in which the statement is met.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of the draws.
    case : Case
        The statement and the curve.
    sd, moving : ndarray (n_samples,), ppm
        Independent sd, and the part of each reading that moves with the alveolar reference.
    first : int
        First sample that may cross.
    noise : Noise
        Its gain moves all readings of a draw together.

    Returns
    -------
    float
    """
    # One sample after another keeps each array small enough for the processor's cache, and no
    # draw is made that the statement does not need.
    gain = 1.0 + noise.gain_fraction * rng.standard_normal(DRAWS)
    bar = case.threshold / gain
    reference = case.reference_u * rng.standard_normal(DRAWS) if case.reference_u > 0.0 else None

    def values(i: int) -> Float:
        scatter = rng.standard_normal(DRAWS)
        scatter *= sd[i]
        if reference is not None:
            scatter *= 1.0 + reference
            scatter += moving[i] * reference
        scatter += case.mean[i]
        return scatter

    low = np.zeros(DRAWS)
    if case.measure == FROM_BASELINE:
        low = sum((values(i) for i in range(FASTING)), low) / FASTING
    elif case.measure == FROM_LOWEST_EARLIER:
        low = np.minimum.reduce([values(i) for i in range(FASTING)])
    met = np.zeros(DRAWS, dtype=np.bool_)
    for i in range(first, len(case.mean)):
        value = values(i)
        met |= value - low >= bar
        if case.measure == FROM_LOWEST_EARLIER:
            np.minimum(low, value, out=low)
    return float(met.mean())


def _all() -> Figure:
    """Return the figure of all chances of many tests."""
    tests = archive(N_TESTS)
    verdicts = judge_all(tests)

    def every_chance() -> Float:
        return chances_cohort(
            tests.cohort.curves,
            tests.cohort.spread,
            tests.table.rows,
            verdicts,
            ambient_h2_ppm=tests.library.dilution.ambient_h2_ppm,
            ambient_ch4_ppm=tests.library.dilution.ambient_ch4_ppm,
            u_gain=tests.library.noise.gain_fraction,
            baseline_rule=BASELINE_RULES[tests.library.baseline],
            minute_tolerance=tests.library.minute_tolerance,
            workers=WORKERS,
        )

    times = interleave({"chances": every_chance, "verdicts": lambda: judge_all(tests)}, REPEATS)
    figure, words = ratio(times["chances"], times["verdicts"])
    return Figure(
        what=f"all chances of {N_TESTS} tests",
        ours=str(times["chances"]),
        peer=f"their verdicts by `judge_cohort`: {times['verdicts']}",
        figure=words,
        goal=f"at most {COHORT_GOAL:g} ×",
        met=figure <= COHORT_GOAL,
    )
