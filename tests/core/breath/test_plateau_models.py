"""Published definitions of a plateau, on curves made for the purpose."""

import tomllib

import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.adapters.files.library import DATA
from ebbline.core.breath.plateau_models import (
    ExhaledNoModel,
    WashoutModel,
    by_volume,
    exhaled_no_unmet,
)
from ebbline.core.errors import InputError

ROWS = tomllib.loads((DATA / "plateau_models.toml").read_text(encoding="utf-8"))
WASHOUT = WashoutModel(**ROWS["washout-2013"])
NO = ExhaledNoModel(**ROWS["exhaled-no-2005"])
TIME = np.linspace(0.0, 8.0, 81)


def test_the_washout_windows_are_those_of_the_consensus() -> None:
    """Robinson PD, et al. Eur Respir J 2013;41:507-522: 25 to 75 % and 95 to 98 % of volume."""
    assert (WASHOUT.phase_iii_from_share, WASHOUT.phase_iii_to_share) == (0.25, 0.75)
    assert (WASHOUT.end_tidal_from_share, WASHOUT.end_tidal_to_share) == (0.95, 0.98)


def test_a_breath_of_straight_pieces_has_the_volumes_of_algebra() -> None:
    """0 % up to 0.1 L, rising to 5 % at 0.2 L, flat to 0.5 L: Fowler 0.150 L, Bohr 0.300."""
    volume = np.linspace(0.0, 0.5, 501)
    gas = np.interp(volume, [0.0, 0.1, 0.2, 0.5], [0.0, 0.0, 5.0, 5.0])
    # The default window begins at 0.125 L, in this breath's front; 50 to 90 % is on the plateau.
    flat = WashoutModel(**{**ROWS["washout-2013"], "phase_iii_from_share": 0.5})
    found = by_volume(volume, gas, inspired_pct=0.0, model=flat)
    assert_allclose(
        [found.expired_l, found.fowler_l, found.bohr_share, found.end_tidal_pct],
        [0.5, 0.150, 0.300, 5.0],
        atol=1e-9,
    )
    assert found.phase_iii_per_l == pytest.approx(0.0, abs=1e-12)


def test_a_long_flat_exhalation_meets_every_criterion() -> None:
    """Eight seconds at 50 mL/s with a plateau that moves by 5 %."""
    value = np.where(TIME < 1.0, TIME * 20.0, 20.0 + 0.125 * (TIME - 1.0))
    assert (
        exhaled_no_unmet(TIME, value, 0.05 * TIME, plateau_end_s=8.0, age_years=40.0, model=NO)
        == ()
    )


def test_a_short_exhalation_is_told_and_a_child_may_blow_for_less() -> None:
    """Six seconds are asked of an adult and of one of unknown age, four of a child under 12."""
    short = TIME <= 5.0
    value = np.full(int(short.sum()), 20.0)
    for age, asked in ((40.0, 6.0), (None, 6.0)):
        unmet = exhaled_no_unmet(
            TIME[short], value, None, plateau_end_s=5.0, age_years=age, model=NO
        )
        assert [tuple(one) for one in unmet] == [("breathed out for, s", 5.0, asked)]
    assert (
        exhaled_no_unmet(TIME[short], value, None, plateau_end_s=5.0, age_years=8.0, model=NO) == ()
    )


def test_a_plateau_that_moves_or_jumps_is_told_with_numbers() -> None:
    """A rise of 20 % over the last three seconds, and one point 15 % off."""
    rising = 10.0 + np.maximum(TIME - 5.0, 0.0) * 2.5 / 3.0
    first, second = exhaled_no_unmet(
        TIME, rising, None, plateau_end_s=8.0, age_years=None, model=NO
    )
    assert (first.what, second.what) == (
        "change over the plateau, share",
        "farthest point from an end, share",
    )
    assert_allclose([first.seen, first.asked], [0.2, 0.1], atol=1e-9)
    jumping = np.full(TIME.size, 10.0)
    jumping[70] = 11.5
    (only,) = exhaled_no_unmet(TIME, jumping, None, plateau_end_s=8.0, age_years=None, model=NO)
    assert only.what == "farthest point from an end, share"
    assert_allclose([only.seen, only.asked], [0.15, 0.1], atol=1e-9)


def test_too_little_volume_for_a_plateau_is_told() -> None:
    """0.15 L is asked; eight seconds at 10 mL/s are 0.08 L."""
    (only,) = exhaled_no_unmet(
        TIME, np.full(TIME.size, 9.0), 0.01 * TIME, plateau_end_s=8.0, age_years=None, model=NO
    )
    assert only.what == "plateau volume, L"
    assert_allclose([only.seen, only.asked], [0.08, 0.15])


def test_no_gas_above_the_room_has_no_change_either() -> None:
    """A share of nothing is nothing, and not an error."""
    assert (
        exhaled_no_unmet(
            TIME, np.zeros(TIME.size), None, plateau_end_s=8.0, age_years=None, model=NO
        )
        == ()
    )


def test_arrays_that_do_not_fit_are_refused() -> None:
    """Times and values must be of one length."""
    with pytest.raises(InputError) as caught:
        exhaled_no_unmet(TIME, TIME[:-1], None, plateau_end_s=8.0, age_years=None, model=NO)
    assert str(caught.value) == (
        "plateau: the arrays do not fit; allowed: times and values of one length, two or more; "
        "came: shapes (81,) and (80,)"
    )


def test_what_comes_after_the_end_of_the_plateau_is_not_judged() -> None:
    """Room air in the last half second does not count against the gas before it."""
    value = np.where(TIME > 7.5, 2.0, 20.0)
    assert exhaled_no_unmet(TIME, value, None, plateau_end_s=7.5, age_years=None, model=NO) == ()
    assert exhaled_no_unmet(TIME, value, None, plateau_end_s=8.0, age_years=None, model=NO) != ()
