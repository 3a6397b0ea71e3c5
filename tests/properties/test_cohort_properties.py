"""Many tests at once give what the same tests give one by one."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from ebbline.core.breath.noise import Noise
from ebbline.core.cohort.judge import chances_cohort, judge_cohort
from ebbline.core.curve.curves import Curves, Spread
from ebbline.core.rules.chances import chances
from ebbline.core.rules.judge import judge
from ebbline.simulate.cohort import Cohort, virtual_cohort
from tests.helpers import SUBSTRATES, published, table_of
from tests.properties.curves import all_kinds

PARTS = ("result", "reason", "at", "finding")
MINUTES = np.array([-10.0, 0.0, 15.0, 30.0, 60.0, 90.0, 120.0, 150.0, 180.0])


def cohort(n_tests: int, seed: int) -> Cohort:
    """Return a virtual cohort with gaps, some of its readings taken as normalised."""
    rng = np.random.default_rng(seed)
    made = virtual_cohort(
        rng,
        n_tests=n_tests,
        minutes=MINUTES,
        n_substrates=len(SUBSTRATES),
        noise=Noise(ppm=1.5, fraction=0.1, gain_fraction=0.05),
        missing_share=0.1,
    )
    normalised = rng.random(made.curves.minute.shape) < 0.3
    spread = Spread(
        h2_sd=made.spread.h2_sd,
        ch4_sd=made.spread.ch4_sd,
        scale_u=np.where(normalised, 0.04, 0.0),
        normalised=normalised,
        reference_u=np.full(n_tests, 0.07),
    )
    return Cohort(made.curves, spread, made.substrate, made.true_h2_ppm, made.true_ch4_ppm)


def only(curves: Curves, spread: Spread, test: int) -> tuple[Curves, Spread]:
    """Return one test of a batch as a batch of one."""
    one = slice(test, test + 1)
    return (
        Curves(curves.minute[one], curves.planned_minute[one], curves.h2_ppm[one],
               curves.ch4_ppm[one], None),
        Spread(spread.h2_sd[one], spread.ch4_sd[one], spread.scale_u[one], spread.normalised[one],
               spread.reference_u[one]),
    )  # fmt: skip


@pytest.mark.parametrize("baseline_rule", [0, 1, 2])
def test_a_batch_is_judged_as_its_tests_are_one_by_one(baseline_rule: int) -> None:
    """One test is a batch of one, compiled or not: not a bit differs."""
    made = cohort(60, 11)
    rows = table_of(*published(), all_kinds()).rows
    together = judge_cohort(
        made.curves, rows, made.substrate, baseline_rule=baseline_rule, minute_tolerance=2.0,
        workers=2,
    )  # fmt: skip
    for test in range(made.curves.n_tests):
        curves, _ = only(made.curves, made.spread, test)
        alone = judge(
            curves, rows, made.substrate[test : test + 1], baseline_rule=baseline_rule,
            minute_tolerance=2.0,
        )  # fmt: skip
        for part in PARTS:
            assert_array_equal(getattr(alone, part)[0], getattr(together, part)[test])


def test_the_chances_of_a_batch_are_those_of_its_tests_one_by_one() -> None:
    """Compiled arithmetic may differ in the last bits only."""
    made = cohort(24, 12)
    rows = table_of(*published(), all_kinds()).rows
    verdicts = judge_cohort(
        made.curves, rows, made.substrate, baseline_rule=0, minute_tolerance=2.0, workers=2
    )
    together = chances_cohort(
        made.curves, made.spread, rows, verdicts, ambient_h2_ppm=0.5, ambient_ch4_ppm=2.0,
        u_gain=0.05, baseline_rule=0, minute_tolerance=2.0, workers=2,
    )  # fmt: skip
    for test in range(made.curves.n_tests):
        curves, spread = only(made.curves, made.spread, test)
        own = judge(
            curves, rows, made.substrate[test : test + 1], baseline_rule=0, minute_tolerance=2.0
        )
        alone = chances(
            curves, spread, rows, own, ambient_h2_ppm=0.5, ambient_ch4_ppm=2.0, u_gain=0.05,
            baseline_rule=0, minute_tolerance=2.0,
        )  # fmt: skip
        assert_allclose(together[test], alone[0], rtol=0, atol=1e-12)
    assert np.isfinite(together).sum() > 50


@pytest.mark.parametrize("workers", [1, 3])
def test_the_number_of_workers_changes_nothing(workers: int) -> None:
    """Tests do not see each other."""
    made = cohort(50, 13)
    rows = table_of(*published()).rows
    one = judge_cohort(
        made.curves, rows, made.substrate, baseline_rule=0, minute_tolerance=0.0, workers=2
    )
    other = judge_cohort(
        made.curves, rows, made.substrate, baseline_rule=0, minute_tolerance=0.0, workers=workers
    )
    for part in PARTS:
        assert_array_equal(getattr(one, part), getattr(other, part))


def test_slots_beyond_the_end_of_a_shorter_test_change_nothing() -> None:
    """A slot with NaN as its minute is no slot."""
    made = cohort(30, 14)
    rows = table_of(*published(), all_kinds()).rows
    curves = made.curves
    nothing = np.full((curves.n_tests, 3), np.nan)
    padded = Curves(
        minute=np.hstack([curves.minute, nothing]),
        planned_minute=np.hstack([curves.planned_minute, nothing]),
        h2_ppm=np.hstack([curves.h2_ppm, nothing]),
        ch4_ppm=np.hstack([curves.ch4_ppm, nothing]),
        symptom_rise=None,
    )
    plain = judge_cohort(curves, rows, made.substrate, baseline_rule=0, minute_tolerance=0.0,
                         workers=2)  # fmt: skip
    longer = judge_cohort(padded, rows, made.substrate, baseline_rule=0, minute_tolerance=0.0,
                          workers=2)  # fmt: skip
    for part in PARTS:
        assert_array_equal(getattr(plain, part), getattr(longer, part))
