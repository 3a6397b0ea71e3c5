"""The gas equations against textbooks; mmHg, dry percent. Checks 1 to 5 and the table of inputs."""

import pytest
from numpy.testing import assert_allclose

from ebbline.core.breath.alveolar_gas import (
    alveolar_o2_pressure,
    bohr_dead_space_fraction,
    dry_pct,
)


def pressure(fio2: float, barometric: float, paco2: float, r: float, *, full: bool) -> float:
    """Return alveolar O2 pressure with 47 mmHg of water vapour (saturated at 37 °C)."""
    return alveolar_o2_pressure(
        fio2=fio2,
        barometric_mmhg=barometric,
        water_vapour_mmhg=47.0,
        paco2_mmhg=paco2,
        respiratory_quotient=r,
        full=full,
    )


def test_inspired_o2_at_sea_level_is_149_23() -> None:
    """Source: a public medical note on the alveolar gas equation prints 713 x 0.2093 = 149.23."""
    assert_allclose(pressure(0.2093, 760.0, 0.0, 0.8, full=False), 149.23, atol=0.005)


def test_the_printed_example_of_the_full_equation_gives_107() -> None:
    """Source: primidi.com, alveolar gas equation: FIO2 0.21, 760, PCO2 36, RQ 0.8 give 107 mmHg.

    The full form gives 106.62, printed rounded; the simple form gives 104.73 and does not match.
    """
    full = pressure(0.21, 760.0, 36.0, 0.8, full=True)
    assert_allclose(full, 107.0, atol=0.5)
    assert_allclose(full, 106.62, atol=0.005)
    assert_allclose(pressure(0.21, 760.0, 36.0, 0.8, full=False), 104.73, atol=0.005)


def test_the_textbook_example_gives_about_100() -> None:
    """Source: West, Respiratory Physiology, from memory, not checked: 149, 40, 0.8 give about 100.

    PIO2 of 149.7 mmHg gives 99.7 by the simple form and 101.8 by the full one.
    """
    simple = pressure(0.21, 760.0, 40.0, 0.8, full=False)
    assert_allclose(simple, 99.7, atol=0.05)
    assert_allclose(simple, 100.0, atol=1.0)
    assert_allclose(pressure(0.21, 760.0, 40.0, 0.8, full=True), 101.8, atol=0.05)


def test_the_textbook_table_of_alveolar_gas_gives_its_dry_fractions() -> None:
    """Source: Guyton, alveolar O2 104 and CO2 40 mmHg, from memory, not checked."""
    o2 = dry_pct(104.0, barometric_mmhg=760.0, water_vapour_mmhg=47.0)
    co2 = dry_pct(40.0, barometric_mmhg=760.0, water_vapour_mmhg=47.0)
    assert_allclose([o2, co2], [14.586, 5.610], atol=0.0005)


def test_the_textbook_dead_space_is_30_percent_of_a_breath() -> None:
    """Source: Bohr's equation, 40 and 28 mmHg of CO2, from memory: 150 of 500 mL."""
    share = bohr_dead_space_fraction(alveolar=40.0, mixed_expired=28.0)
    assert_allclose(share, 0.30, rtol=1e-12)
    assert_allclose(share * 500.0, 150.0, rtol=1e-12)


def test_the_textbook_table_of_mixed_expired_gas_gives_its_dead_space() -> None:
    """Source: Guyton, alveolar 40 and mixed expired 27 mmHg of CO2, from memory: 0.325."""
    share = bohr_dead_space_fraction(alveolar=40.0, mixed_expired=27.0)
    assert_allclose(share, 0.325, rtol=1e-12)


@pytest.mark.parametrize(
    ("barometric", "fio2", "paco2", "r", "simple", "simple_pct", "full", "full_pct", "co2_pct"),
    [
        (760.0, 0.2090, 40.0, 0.80, 99.02, 13.887, 101.11, 14.181, 5.610),
        (760.0, 0.2100, 40.0, 0.80, 99.73, 13.987, 101.83, 14.282, 5.610),
        (760.0, 0.2090, 35.0, 0.80, 105.27, 14.764, 107.10, 15.020, 4.909),
        (760.0, 0.2090, 45.0, 0.80, 92.77, 13.011, 95.12, 13.341, 6.311),
        (760.0, 0.2090, 40.0, 1.00, 109.02, 15.290, 109.02, 15.290, 5.610),
        (630.0, 0.2090, 36.0, 0.85, 79.49, 13.635, 80.82, 13.863, 6.175),
        (253.0, 0.2093, 7.50, 0.85, 34.29, 16.647, 34.57, 16.781, 3.641),
    ],
)
def test_the_alveolar_gas_equation_gives_its_table(
    barometric: float,
    fio2: float,
    paco2: float,
    r: float,
    simple: float,
    simple_pct: float,
    full: float,
    full_pct: float,
    co2_pct: float,
) -> None:
    """Source: worked out by hand from both forms; the last inputs are of the Everest type (West).

    The first row is where 13.9 % comes from: PCO2 40, R 0.8, FIO2 0.209 at sea level.
    """
    found = [pressure(fio2, barometric, paco2, r, full=form) for form in (False, True)]
    assert_allclose(found, [simple, full], atol=0.006)
    dry = [
        dry_pct(value, barometric_mmhg=barometric, water_vapour_mmhg=47.0)
        for value in (*found, paco2)
    ]
    assert_allclose(dry, [simple_pct, full_pct, co2_pct], atol=0.0006)
