"""Published counts of positive tests, reproduced by judging as many constructed curves."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.core.curve.curves import Curves
from ebbline.core.rules.codes import POSITIVE
from tests.helpers import rule_set, statement_row, table_of, verdicts_of


@pytest.mark.parametrize(
    ("tests", "by_h2", "by_both", "shares", "missed"),
    [
        (406, 124, 139, (30.54, 34.24), 3.69),
        (178, 17, 42, (9.55, 23.60), 14.04),
    ],
)
def test_counting_methane_twice_finds_the_published_share_of_further_positives(
    tests: int, by_h2: int, by_both: int, shares: tuple[float, float], missed: float
) -> None:
    """Source: Knudsen CD, DiPalma JA. South Med J 2012;105:251-253, lactose then fructose tests.

    The counts are published (20 ppm in H2, and in H2 + 2 CH4); the curves are constructed so that
    as many cross as the authors counted, and the judge has to find them.
    """
    h2 = np.full((tests, 2), 5.0)
    ch4 = np.full((tests, 2), 2.0)
    h2[:by_h2, 1] = 25.0
    h2[by_h2:, 1] = 12.0
    ch4[by_h2:by_both, 1] = 9.0
    minute = np.broadcast_to([0.0, 180.0], (tests, 2)).copy()
    curves = Curves(minute, minute, h2, ch4, None)
    sets = (
        rule_set(statement_row()),
        rule_set(statement_row(gas="h2_plus_2ch4"), id="both"),
    )
    positive = verdicts_of(curves, table_of(*sets)).finding == POSITIVE
    assert positive.sum(axis=0).tolist() == [by_h2, by_both]
    assert_allclose(100.0 * positive.mean(axis=0), shares, atol=0.005)
    assert_allclose(100.0 * (positive[:, 1] & ~positive[:, 0]).mean(), missed, atol=0.005)
