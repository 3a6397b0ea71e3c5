import numpy as np
from numpy.testing import assert_array_equal

from ebbline.core.cohort.judge import chances_cohort, judge_cohort
from ebbline.core.curve.curves import Curves
from tests.helpers import (
    QUIET,
    chances_of,
    one_curve,
    rule_set,
    spread_of,
    statement_row,
    table_of,
    verdicts_of,
)


def empty() -> Curves:
    """Return a table of no tests."""
    nothing = np.empty((0, 4))
    return Curves(nothing, nothing, nothing, nothing, None)


def test_a_table_of_no_tests_gives_no_verdicts() -> None:
    """Nothing in, nothing out, whatever the number of workers."""
    rows = table_of(rule_set()).rows
    verdicts = judge_cohort(
        empty(), rows, np.empty(0, dtype=np.int64), baseline_rule=0, minute_tolerance=0.0, workers=3
    )
    assert verdicts.result.shape == (0, 1)
    assert verdicts.finding.shape == (0, 1)


def test_one_test_is_judged_as_by_the_plain_loops() -> None:
    """A batch of one through the threads gives verdicts, reasons and chances of the plain loop."""
    table = table_of(rule_set(statement_row(by_minute=90)))
    curves = one_curve([0, 60, 92], [5, 20, 25], [1, 1, 1], planned=[0, 60, 90])
    plain = verdicts_of(curves, table, tolerance=5.0)
    found = judge_cohort(
        curves, table.rows, np.array([0]), baseline_rule=0, minute_tolerance=5.0, workers=1
    )
    for part in ("result", "reason", "at", "finding"):
        assert_array_equal(getattr(found, part), getattr(plain, part))
    spread = spread_of(curves, QUIET)
    chance = chances_cohort(
        curves, spread, table.rows, found, ambient_h2_ppm=0.0, ambient_ch4_ppm=0.0, u_gain=0.0,
        baseline_rule=0, minute_tolerance=5.0, workers=1,
    )  # fmt: skip
    np.testing.assert_allclose(
        chance, chances_of(curves, spread, table, tolerance=5.0), rtol=0, atol=1e-12
    )


def test_symptoms_can_be_judged_in_a_batch() -> None:
    """The series of symptoms is read like a gas and has no chance."""
    table = table_of(rule_set(symptom_row()))
    minute = np.array([[0.0, 60.0]])
    curves = Curves(minute, minute, np.array([[5.0, 6.0]]), np.array([[1.0, 1.0]]),
                    np.array([[0.0, 3.0]]))  # fmt: skip
    found = judge_cohort(
        curves, table.rows, np.array([0]), baseline_rule=0, minute_tolerance=0.0, workers=2
    )
    assert (found.result[0, 0], found.at[0, 0]) == (1, 1)


def symptom_row() -> dict[str, object]:
    """Return a row on symptoms."""
    row = statement_row(
        gas="symptoms",
        question="symptoms-provoked",
        measure="level",
        threshold_points=2,
        needs_minutes=60,
    )
    del row["threshold_ppm"]
    return row
