"""A constructed expirogram whose dead spaces follow by algebra."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from ebbline.core.breath.alveolar_gas import bohr_dead_space_fraction
from ebbline.core.breath.expirogram import (
    bohr_fraction,
    end_tidal,
    expired_volume_l,
    fowler_dead_space_l,
    mixed_expired_pct,
    phase_iii_slope_pct_per_l,
)


@pytest.mark.parametrize("volumes", [[0.0, 0.1, 0.2, 0.3, 0.4, 0.5], None])
def test_the_constructed_expirogram_has_its_dead_spaces(volumes: list[float] | None) -> None:
    """Source: exact by algebra. 0 below 0.1 L, straight to 5 % at 0.2 L, flat to 0.5 L.

    Equal areas of the transition part it at 0.150 L; the mean is 5 (0.3 + 0.1/2)/0.5 = 3.5 %; so
    Bohr's share is (5 - 3.5)/5 = 0.300. Window: 50 to 90 % of expired volume, all of it flat.
    """
    corners = [0.0, 0.1, 0.2, 0.5]
    uneven = np.union1d(corners, 0.5 * np.random.default_rng(2).uniform(0.0, 1.0, 300))
    volume = np.array(volumes) if volumes else uneven
    co2 = np.interp(volume, corners, [0.0, 0.0, 5.0, 5.0])
    window = {"plateau_from": 0.5, "plateau_to": 0.9}
    assert_allclose(fowler_dead_space_l(volume, co2, inspired_pct=0.0, **window), 0.150)
    assert_allclose(mixed_expired_pct(volume, co2), 3.5)
    assert_allclose(bohr_fraction(volume, co2, alveolar_pct=5.0, inspired_pct=0.0), 0.300)
    assert_allclose(phase_iii_slope_pct_per_l(volume, co2, **window), 0.0, atol=1e-12)
    assert_allclose(end_tidal(volume, co2, from_share=0.95, to_share=0.98), 5.0)


def test_the_window_of_the_washout_consensus_suits_a_full_breath() -> None:
    """Source: window of 25 to 75 %, Robinson and others, Eur Respir J 2013;41:507-522.

    A quarter of 2 L is past the transition; a quarter of the 0.5 L above would lie inside it.
    """
    volume = np.linspace(0.0, 2.0, 501)
    co2 = np.interp(volume, [0.0, 0.1, 0.2, 2.0], [0.0, 0.0, 5.0, 5.0])
    found = fowler_dead_space_l(volume, co2, inspired_pct=0.0, plateau_from=0.25, plateau_to=0.75)
    assert_allclose(found, 0.150)


def test_a_steady_blow_gives_volume_in_proportion_to_time() -> None:
    """Source: 0.45 L at 0.35 L/s takes 1.286 s."""
    time = np.linspace(0.0, 0.45 / 0.35, 14)
    assert_allclose(expired_volume_l(time, np.full(14, 0.35))[-1], 0.45)


def test_bohr_on_the_textbook_pressures() -> None:
    """Source: West, Respiratory Physiology (from memory): 40 and 28 mmHg give 0.30."""
    assert_allclose(bohr_dead_space_fraction(alveolar=40.0, mixed_expired=28.0), 0.30)
