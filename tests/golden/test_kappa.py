"""Agreement of two readers against published worked examples and a general-purpose library."""

import warnings

import numpy as np
import pytest
from sklearn.metrics import cohen_kappa_score

from ebbline.core.clinic.agreement import Agreement, Pair, agreement


def pairs_of(counts: list[list[int]]) -> list[Pair]:
    """Return one pair of findings for each test of a table; categories are their numbers."""
    return [
        (str(i), str(j))
        for i, row in enumerate(counts)
        for j, count in enumerate(row)
        for _ in range(count)
    ]


def of(counts: list[list[int]]) -> Agreement:
    """Return the agreement on the tests of a table."""
    names = [str(i) for i in range(len(counts))]
    return agreement("finding", pairs_of(counts), categories=names)


def test_kappa_of_cohens_three_diagnoses_is_as_published() -> None:
    """Source: Cohen J. Psychol Bull 1968;70:213-220: 200 cases, unweighted kappa 0.492.

    Table and value as repeated in the manual of the R package psych, function cohen.kappa; the
    paper itself was not read. By hand: p_o = (88 + 40 + 12)/200 = 0.70, p_e = 0.60 × 0.50 +
    0.30 × 0.30 + 0.10 × 0.20 = 0.41, so κ = 0.29/0.59.
    """
    found = of([[88, 14, 18], [10, 40, 10], [2, 6, 12]])
    assert found.counts == ((88, 14, 18), (10, 40, 10), (2, 6, 12))
    assert found.tests == 200
    assert found.percent == pytest.approx(70.0)
    assert found.kappa == pytest.approx(0.29 / 0.59, rel=1e-12)
    assert found.kappa == pytest.approx(0.492, abs=5e-4)


def test_kappa_and_its_limits_are_those_of_a_printed_example_with_its_standard_error() -> None:
    """Source: a printed example of a general statistics package, kept in the tests of statsmodels.

    statsmodels/stats/tests/test_inter_rater.py, class UnweightedCohens: kappa 0.4842, asymptotic
    standard error 0.1380, 95 % limits 0.2137 and 0.7547, all to four decimals.
    """
    found = of([[0, 4, 1], [0, 8, 0], [0, 1, 5]])
    assert found.low is not None
    assert found.high is not None
    assert found.kappa == pytest.approx(0.4842, abs=5e-5)
    assert found.low == pytest.approx(0.2137, abs=5e-5)
    assert found.high == pytest.approx(0.7547, abs=5e-5)
    assert (found.high - found.low) / (2 * 1.959964) == pytest.approx(0.1380, abs=5e-5)


def test_kappa_is_that_of_a_general_purpose_library_for_many_random_tables() -> None:
    """Source: sklearn.metrics.cohen_kappa_score; seed 1960, 300 tables of 2 to 5 categories."""
    rng = np.random.default_rng(1960)
    compared = 0
    for _ in range(300):
        size = int(rng.integers(2, 6))
        counts = rng.integers(0, 12, (size, size)) * (rng.random((size, size)) < 0.7)
        pairs = pairs_of(counts.tolist())
        if not pairs:
            continue
        first, second = zip(*pairs, strict=True)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            expected = float(cohen_kappa_score(first, second))
        found = of(counts.tolist()).kappa
        if np.isnan(expected):
            assert found is None
            continue
        assert found == pytest.approx(expected, abs=1e-12)
        compared += 1
    assert compared > 250


def test_kappa_is_undefined_where_the_library_finds_it_undefined() -> None:
    """Source: sklearn.metrics.cohen_kappa_score is NaN when both readers use one category only."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        assert np.isnan(cohen_kappa_score(["0"] * 7, ["0"] * 7))
    assert of([[7, 0], [0, 0]]).kappa is None


def test_the_limits_hold_kappa_in_about_95_of_100_simulated_readings() -> None:
    """Formula: Fleiss JL, Cohen J, Everitt BS. Psychol Bull 1969;72:323-327; seed 1969.

    1000 draws of 300 tests from a known table of shares; its kappa is computed by hand as above.
    """
    shares = np.array([[0.44, 0.07, 0.09], [0.05, 0.20, 0.05], [0.01, 0.03, 0.06]])
    truth = 0.29 / 0.59
    rng = np.random.default_rng(1969)
    draws = rng.multinomial(300, shares.ravel(), size=1000)
    held = 0
    for draw in draws:
        found = of(draw.reshape(3, 3).tolist())
        assert found.low is not None
        assert found.high is not None
        held += found.low <= truth <= found.high
    # Binomial sd of 1000 draws at 0.95 is 0.7 %; three of them, and the large-sample formula.
    assert 0.925 <= held / 1000 <= 0.975
