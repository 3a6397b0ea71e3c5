"""Judge a whole table of tests on all cores, by the same loops as one test."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

import numpy as np

from ebbline.core.cohort.compiled import compiled
from ebbline.core.curve.curves import Curves, Spread
from ebbline.core.rules.chances import chance_range
from ebbline.core.rules.judge import judge_range, rows_for
from ebbline.core.rules.rows import Float, Rows, Verdicts, Whole, unfilled_verdicts


def judge_cohort(
    curves: Curves,
    rows: Rows,
    substrate: Whole,
    *,
    baseline_rule: int,
    minute_tolerance: float,
    workers: int,
) -> Verdicts:
    """Judge every test by every row; the same answer as `ebbline.core.rules.judge.judge`.

    Parameters
    ----------
    curves, rows, substrate, baseline_rule, minute_tolerance
        As for one test.
    workers : int
        How many threads share the tests.

    Returns
    -------
    Verdicts
    """
    verdicts = unfilled_verdicts(curves.n_tests, rows)
    symptoms = curves.series("symptoms")
    run = compiled(judge_range)
    needed = rows_for(curves, rows)

    def part(start: int, stop: int) -> None:
        run(
            start, stop, curves.minute, curves.planned_minute, curves.h2_ppm, curves.ch4_ppm,
            symptoms, needed, substrate, baseline_rule, minute_tolerance,
            verdicts.result, verdicts.reason, verdicts.at, verdicts.finding,
        )  # fmt: skip

    _share(part, curves.n_tests, workers)
    return verdicts


def chances_cohort(
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
    workers: int,
) -> Float:
    """Return all chances; the same answer as `ebbline.core.rules.chances.chances`.

    Parameters
    ----------
    curves, spread, rows, verdicts, ambient_h2_ppm, ambient_ch4_ppm, u_gain, baseline_rule
        As for one test.
    minute_tolerance : float
        As for one test, minutes.
    workers : int
        How many threads share the tests.

    Returns
    -------
    ndarray (n_tests, n_rows)
    """
    out = np.full(verdicts.result.shape, np.nan)
    run = compiled(chance_range)

    def part(start: int, stop: int) -> None:
        run(
            start, stop, curves.minute, curves.h2_ppm, curves.ch4_ppm, spread.h2_sd,
            spread.ch4_sd, spread.scale_u, spread.normalised, spread.reference_u, rows,
            verdicts.result, ambient_h2_ppm, ambient_ch4_ppm, u_gain, baseline_rule,
            minute_tolerance, out,
        )  # fmt: skip

    _share(part, curves.n_tests, workers)
    return out


def _share(part: Callable[[int, int], None], n_tests: int, workers: int) -> None:
    """Run `part` over slices of the tests, a few for each worker so that none waits long."""
    edges = np.linspace(0, n_tests, 4 * workers + 1).astype(int)
    with ThreadPoolExecutor(workers) as pool:
        for done in [pool.submit(part, int(a), int(b)) for a, b in pairwise(edges)]:
            done.result()
