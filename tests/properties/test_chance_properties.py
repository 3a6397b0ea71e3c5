"""What holds for the chance beside every verdict."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from ebbline.core.breath.noise import Noise
from ebbline.core.cohort.judge import chances_cohort, judge_cohort
from ebbline.core.curve.curves import Curves
from ebbline.core.rules.codes import CANNOT_BE_JUDGED, MET
from ebbline.core.rules.table import RuleTable
from tests.helpers import (
    QUIET,
    SUBSTRATES,
    Float,
    known,
    rule_set,
    spread_of,
    statement_row,
    table_of,
)
from tests.properties.curves import NAMES, PLACE, TABLE, Drawn, drawn_tests

RULES = st.sampled_from([0, 1, 2])
GAIN = st.sampled_from([0.0, 0.05])
# The method is exact to 1e-4, so an order can be asked for only up to that.
EXACT = 1e-4


def results_and_chances(
    curves: Curves, *, rule: int, gain: float, noise: Noise = QUIET, table: RuleTable = TABLE
) -> tuple[Float, Float]:
    """Return results and chances by the compiled loops, which keep many examples quick."""
    substrate = np.full(curves.n_tests, SUBSTRATES.index("lactose"))
    verdicts = judge_cohort(
        curves, table.rows, substrate, baseline_rule=rule, minute_tolerance=0.0, workers=1
    )
    found = chances_cohort(
        curves, spread_of(curves, noise), table.rows, verdicts, ambient_h2_ppm=0.0,
        ambient_ch4_ppm=0.0, u_gain=gain, baseline_rule=rule, minute_tolerance=0.0, workers=1,
    )  # fmt: skip
    return verdicts.result[0].astype(np.float64), found[0]


@settings(max_examples=80)
@given(drawn_tests(), RULES, GAIN)
def test_a_chance_lies_from_0_to_1_and_is_missing_only_where_nothing_can_be_judged(
    drawn: Drawn, rule: int, gain: float
) -> None:
    """A statement that is met or not met has a chance, whatever the curve."""
    result, chance = results_and_chances(drawn.curves(), rule=rule, gain=gain)
    assert_array_equal(np.isnan(chance), result == CANNOT_BE_JUDGED)
    known = chance[~np.isnan(chance)]
    assert np.all((known >= 0.0) & (known <= 1.0))


@settings(max_examples=80)
@given(drawn_tests(), RULES, GAIN, st.integers(0, 6), st.integers(1, 25))
def test_a_chance_does_not_fall_when_a_reading_after_the_drink_is_higher(
    drawn: Drawn, rule: int, gain: float, which: int, by: int
) -> None:
    """More gas after the drink never makes a rise over baseline or a level less likely."""
    at = drawn.fasting + which % (len(drawn.minutes) - drawn.fasting)
    value = drawn.h2[at]
    if value is None:
        return
    higher = drawn.with_h2([*drawn.h2[:at], value + by, *drawn.h2[at + 1 :]])
    _, before = results_and_chances(drawn.curves(), rule=rule, gain=gain)
    _, after = results_and_chances(higher.curves(), rule=rule, gain=gain)
    for name in NAMES:
        pair = before[PLACE[name]], after[PLACE[name]]
        if name != "lowest" and not np.isnan(pair).any():
            assert pair[1] >= pair[0] - EXACT


THRESHOLDS = (5, 10, 15, 20, 25, 30)
LADDER = table_of(
    rule_set(
        *(
            statement_row(id=f"{kind}-{threshold}", measure=measure, threshold_ppm=threshold,
                          needs_minutes=30)
            for kind, measure in (
                ("rise", "rise over baseline"),
                ("lowest", "rise over lowest earlier"),
                ("level", "level"),
            )
            for threshold in THRESHOLDS
        )
    )
)  # fmt: skip


@settings(max_examples=50)
@given(drawn_tests(gaps=False), RULES, GAIN)
def test_a_chance_does_not_grow_with_the_threshold(drawn: Drawn, rule: int, gain: float) -> None:
    """A higher threshold is harder to reach, by every measure."""
    _, chance = results_and_chances(drawn.curves(), rule=rule, gain=gain, table=LADDER)
    ladders = chance.reshape(3, len(THRESHOLDS))
    steps = np.diff(ladders, axis=1)
    assert np.all(np.isnan(steps) | (steps <= EXACT))


@settings(max_examples=60)
@given(drawn_tests(gaps=False), RULES)
def test_without_noise_a_chance_is_the_verdict_away_from_the_threshold(
    drawn: Drawn, rule: int
) -> None:
    """Half a ppm away from the threshold a tenth of a thousandth of noise turns nothing."""
    noise = Noise(ppm=1e-4, fraction=0.0, gain_fraction=0.0)
    curves = drawn.curves()
    rows = table_of(
        rule_set(
            statement_row(id="rise", threshold_ppm=20.5, needs_minutes=5),
            statement_row(id="level", measure="level", threshold_ppm=20.5, needs_minutes=5),
            statement_row(id="lowest", measure="rise over lowest earlier", threshold_ppm=20.5,
                          needs_minutes=5),
        )
    )  # fmt: skip
    result, chance = results_and_chances(curves, rule=rule, gain=0.0, noise=noise, table=rows)
    fasting = [known(value) for value in drawn.h2[: drawn.fasting]]
    whole = rule != 0 or (sum(fasting) / len(fasting)).is_integer()
    checked = [0, 1, 2] if whole else [1, 2]
    expected = np.where(result == MET, 1.0, 0.0)
    assert_allclose(chance[checked], expected[checked], rtol=0, atol=1e-6)
