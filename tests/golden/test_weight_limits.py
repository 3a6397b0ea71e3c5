"""Weights for age against the published percentiles of the CDC growth charts, 2000.

Source: National Center for Health Statistics, files wtageinf and wtage (public domain), columns P3,
P50 and P97 in kg as printed there, read in public copies. The files give the 3rd, 50th and 97th
percentile, so z is scipy's normal quantile.
"""

import math

import numpy as np
import pytest
from scipy.stats import norm

from ebbline.core.clinic.weight import SpreadRow, check_weight, limits_for_age, weight_at_z
from ebbline.core.errors import FieldError
from tests.core.clinic.prepared_rows import WEIGHTS

# International avoirdupois pound: 0.45359237 kg exactly (agreement of 1959).
POUNDS_IN_A_KG = 1 / 0.45359237

# Sex, age in months, 3rd, 50th and 97th percentile: ages that data/weights.toml keeps.
KEPT = [
    ("male", 0, 2.355450986, 3.530203168, 4.446488308),
    ("male", 0.5, 2.799548641, 4.003106424, 5.032624982),
    ("male", 1.5, 3.614688072, 4.879525083, 6.121929103),
    ("male", 3.5, 4.992897896, 6.391391982, 7.993878049),
    ("male", 24, 10.38209025, 12.6707633, 15.59648294),
    ("male", 48.5, 13.29110715, 16.31676727, 21.00792648),
    ("male", 72.5, 16.50370229, 20.77769565, 28.27114631),
    ("male", 96.5, 20.1146687, 25.75256528, 37.41934991),
    ("male", 120.5, 24.19264433, 32.08799062, 49.41515104),
    ("male", 144.5, 29.47256769, 40.67443658, 63.30852916),
    ("male", 180.5, 41.52175462, 56.49095862, 83.24017154),
    ("male", 240, 54.00391729, 70.59761453, 100.7783809),
    ("female", 24, 9.985667562, 12.05503983, 15.00156359),
    ("female", 36.5, 11.38824099, 13.94108332, 17.9980699),
    ("female", 60.5, 14.34277271, 18.02313904, 24.94401317),
    ("female", 72.5, 16.01186303, 20.33635961, 28.92161906),
    ("female", 108.5, 21.58836636, 29.14291171, 44.58225593),
    ("female", 132.5, 26.81859231, 37.39088668, 58.72012509),
    ("female", 168.5, 36.70143915, 49.49075409, 77.68816668),
    ("female", 204.5, 43.33645956, 55.18216811, 86.16706131),
    ("female", 240, 45.04654822, 58.21897289, 89.04485133),
]

# The same at ages that were thinned out, about half-way between two rows that were kept.
THINNED = [
    ("male", 30.5, 11.12786972, 13.56088113, 16.80719583),
    ("male", 66.5, 15.66872366, 19.62136007, 26.32111112),
    ("male", 102.5, 21.08165758, 27.16489199, 40.14749235),
    ("male", 126.5, 25.3473142, 34.00363017, 52.79314187),
    ("male", 150.5, 31.13865154, 43.18828419, 66.81782206),
    ("male", 174.5, 39.28212045, 53.91260737, 80.16050495),
    ("male", 222.5, 52.53731393, 68.30004741, 98.38026471),
    ("female", 30.5, 10.74078194, 13.04357164, 16.52176469),
    ("female", 66.5, 15.17030121, 19.15831267, 26.88795694),
    ("female", 102.5, 20.52910239, 27.38203422, 41.44718044),
    ("female", 114.5, 22.73860975, 31.0403221, 47.92187383),
    ("female", 138.5, 28.38009427, 39.61914076, 62.36274309),
    ("female", 162.5, 35.08539244, 47.83661466, 75.19669066),
    ("female", 198.5, 42.66927817, 54.61223603, 85.35663368),
]


def row_at(sex: str, age_months: float) -> SpreadRow:
    """Return L, M and S at an age, between two rows by numpy's straight line."""
    rows = WEIGHTS.spread[sex]
    ages = [row.age_months for row in rows]
    return SpreadRow(
        age_months=age_months,
        power=float(np.interp(age_months, ages, [row.power for row in rows])),
        median_kg=float(np.interp(age_months, ages, [row.median_kg for row in rows])),
        spread=float(np.interp(age_months, ages, [row.spread for row in rows])),
    )


@pytest.mark.parametrize(("sex", "age_months", "p3", "p50", "p97"), KEPT)
def test_a_kept_row_gives_the_published_percentiles(
    sex: str, age_months: float, p3: float, p50: float, p97: float
) -> None:
    """To the digits that the file prints; its first months have fewer in L."""
    assert age_months in [row.age_months for row in WEIGHTS.spread[sex]]
    row = row_at(sex, age_months)
    for share, published in ((0.03, p3), (0.5, p50), (0.97, p97)):
        assert weight_at_z(row, norm.ppf(share)) == pytest.approx(published, rel=1e-7)


@pytest.mark.parametrize(("sex", "age_months", "p3", "p50", "p97"), THINNED)
def test_the_straight_line_between_two_rows_is_close_to_the_published_percentiles(
    sex: str, age_months: float, p3: float, p50: float, p97: float
) -> None:
    """Within 1.5 %: far finer than the limits need."""
    assert age_months not in [row.age_months for row in WEIGHTS.spread[sex]]
    row = row_at(sex, age_months)
    for share, published in ((0.03, p3), (0.5, p50), (0.97, p97)):
        assert weight_at_z(row, norm.ppf(share)) == pytest.approx(published, rel=0.015)


@pytest.mark.parametrize(("sex", "age_months", "p3", "p50", "p97"), KEPT + THINNED)
def test_a_usual_child_is_never_asked_to_be_weighed_again(
    sex: str, age_months: float, p3: float, p50: float, p97: float
) -> None:
    """From the 3rd to the 97th percentile, of either sex."""
    for weight in (p3, p50, p97):
        assert check_weight(weight, age_years=age_months / 12, table=WEIGHTS) == weight


def share_caught(age_years: float, factor: float, sex: str) -> float:
    """Return the share of true weights, 1 % to 99 %, whose mistaken value is not taken at once."""
    row = row_at(sex, 12 * age_years)
    caught = 0
    shares = np.arange(0.01, 1.0, 0.01)
    for share in shares:
        try:
            check_weight(
                weight_at_z(row, float(norm.ppf(share))) * factor,
                age_years=age_years,
                table=WEIGHTS,
            )
        except FieldError:
            caught += 1
    return caught / len(shares)


@pytest.mark.parametrize("sex", ["female", "male"])
def test_pounds_taken_for_kilograms_are_caught_at_six_years(sex: str) -> None:
    """More than 97 % of children of 6 years, and likewise if kg were divided once too often."""
    assert share_caught(6.0, POUNDS_IN_A_KG, sex) > 0.97
    assert share_caught(6.0, 1 / POUNDS_IN_A_KG, sex) > 0.97


@pytest.mark.parametrize("factor", [10.0, 0.1])
@pytest.mark.parametrize("age", [0.5, 2.0, 6.0, 12.0, 17.0])
def test_a_slipped_digit_is_always_caught(age: float, factor: float) -> None:
    """Ten times or a tenth, at any age of a child."""
    for sex in ("female", "male"):
        assert share_caught(age, factor, sex) == 1.0


def test_the_share_of_pounds_that_is_caught_differs_with_age() -> None:
    """In per cent of both sexes, as computed here and as the module says; lowest about 12 years.

    Nothing is claimed for adults: 70 kg entered as 154 is a weight that adults have.
    """
    found = {
        age: round(
            100 * sum(share_caught(age, POUNDS_IN_A_KG, sex) for sex in ("female", "male")) / 2
        )
        for age in (1.0, 3.0, 6.0, 9.0, 12.0, 15.0)
    }
    assert found == {1.0: 100, 3.0: 100, 6.0: 99, 9.0: 84, 12.0: 72, 15.0: 83}
    with pytest.raises(FieldError):
        check_weight(100 * POUNDS_IN_A_KG, age_years=40.0, table=WEIGHTS)
    assert check_weight(70 * POUNDS_IN_A_KG, age_years=40.0, table=WEIGHTS) > 150


def test_the_largest_limits_stay_finite() -> None:
    """The plain formula has no weight at z = 8 for a child of 8; halves of the way to 2 have."""
    row = row_at("male", 96.0)
    assert 1 + row.power * row.spread * 8 < 0
    assert math.isfinite(limits_for_age(8.0, WEIGHTS).never_high_kg)
