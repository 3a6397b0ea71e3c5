"""The gas equations behind the references: why 13.9 % O2 is an assumption and not a constant."""


def alveolar_o2_pressure(
    *,
    fio2: float,
    barometric_mmhg: float,
    water_vapour_mmhg: float,
    paco2_mmhg: float,
    respiratory_quotient: float,
    full: bool,
) -> float:
    """Return alveolar O2 partial pressure from the alveolar gas equation.

    Simple: PAO2 = FIO2 (PB - PH2O) - PACO2/R.
    Full: PAO2 = FIO2 (PB - PH2O) - PACO2 [FIO2 + (1 - FIO2)/R], which allows for the difference
    between inspired and expired volume.

    Parameters
    ----------
    fio2 : float
        Inspired O2 fraction, dry, 1.
    barometric_mmhg, water_vapour_mmhg : float
        Barometric pressure and saturated water vapour pressure, mmHg (47 at 37 °C).
    paco2_mmhg : float
        Alveolar CO2 partial pressure, mmHg.
    respiratory_quotient : float
        R, 1; near 1 soon after a drink of sugar.
    full : bool
        Which form.

    Returns
    -------
    float
        mmHg.
    """
    inspired = fio2 * (barometric_mmhg - water_vapour_mmhg)
    if full:
        return inspired - paco2_mmhg * (fio2 + (1.0 - fio2) / respiratory_quotient)
    return inspired - paco2_mmhg / respiratory_quotient


def dry_pct(partial_mmhg: float, *, barometric_mmhg: float, water_vapour_mmhg: float) -> float:
    """Return the dry fraction, percent, of a gas at a partial pressure in saturated air.

    Parameters
    ----------
    partial_mmhg, barometric_mmhg, water_vapour_mmhg : float
        Pressures, mmHg.

    Returns
    -------
    float
        Percent of dry gas.
    """
    return 100.0 * partial_mmhg / (barometric_mmhg - water_vapour_mmhg)


def bohr_dead_space_fraction(*, alveolar: float, mixed_expired: float) -> float:
    """Return Bohr's dead space as a share of the tidal volume, VD/VT = (FA - FE)/FA.

    Parameters
    ----------
    alveolar, mixed_expired : float
        CO2 in alveolar and in mixed expired gas, both in one unit.

    Returns
    -------
    float
        1.
    """
    return (alveolar - mixed_expired) / alveolar
