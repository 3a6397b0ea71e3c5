from numpy.testing import assert_allclose

from ebbline.core.breath.alveolar_gas import (
    alveolar_o2_pressure,
    bohr_dead_space_fraction,
    dry_pct,
)


def test_both_forms_agree_where_as_much_co2_leaves_as_o2_enters() -> None:
    """With R = 1 the volumes in and out are equal and nothing is to be corrected."""
    simple, full = (
        alveolar_o2_pressure(
            fio2=0.209,
            barometric_mmhg=700.0,
            water_vapour_mmhg=47.0,
            paco2_mmhg=38.0,
            respiratory_quotient=1.0,
            full=form,
        )
        for form in (False, True)
    )
    assert_allclose(simple, full, rtol=1e-14)


def test_the_dry_fraction_leaves_water_vapour_out() -> None:
    """All of the dry gas is 100 %."""
    assert dry_pct(713.0, barometric_mmhg=760.0, water_vapour_mmhg=47.0) == 100.0


def test_without_dead_space_mixed_gas_is_alveolar_gas() -> None:
    """The dead space is then none of the breath."""
    assert bohr_dead_space_fraction(alveolar=5.6, mixed_expired=5.6) == 0.0
