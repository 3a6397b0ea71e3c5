"""Uncertainty of normalised values against two general-purpose libraries.

`uncertainties` propagates to first order with correlations, GTC implements JCGM 100:2008 with
correlated inputs. Both take the whole formula, so no step of the project's is shared.
"""

from typing import Any

import GTC
import numpy as np
import pytest
import uncertainties
from numpy.testing import assert_allclose

from ebbline.core.breath.dilution import Marker, normalise, scale, u_normalised
from ebbline.core.breath.noise import Noise
from ebbline.core.breath.reading import read_sample
from tests.helpers import a_dilution

CASES = [
    pytest.param(gas, sample, rho, id=f"{gas} {sample} correlation {rho}")
    for gas, sample in [("o2", 15.0), ("o2", 16.8), ("co2", 3.1)]
    for rho in (0.0, 0.9, -0.4)
]


def marker(gas: str, correlation: float) -> Marker:
    """Return references with all their uncertainties."""
    if gas == "o2":
        return Marker("o2", 20.9, 0.08, 13.9, 0.5, 0.2, correlation)
    return Marker("co2", 0.04, 0.02, 5.0, 0.4, 0.1, correlation)


@pytest.mark.parametrize(("gas", "sample", "rho"), CASES)
def test_the_factor_agrees_with_uncertainties_when_one_sensor_reads_both(
    gas: str, sample: float, rho: float
) -> None:
    """Source: uncertainties.correlated_values_norm of room and sample reading."""
    m = marker(gas, rho)
    room, s = uncertainties.correlated_values_norm(
        [(m.ambient_pct, m.u_ambient_pct), (sample, m.u_sample_pct)], np.array([[1, rho], [rho, 1]])
    )
    alveolar = uncertainties.ufloat(m.alveolar_pct, m.u_alveolar_pct)
    own = (room - m.alveolar_pct) / (room - s)
    shared = (m.ambient_pct - alveolar) / (m.ambient_pct - sample)
    found = scale(sample, m)
    assert_allclose(found.factor, own.n, rtol=1e-12)
    assert_allclose(found.u_independent, own.s, rtol=1e-9)
    assert_allclose(found.u_shared, shared.s, rtol=1e-9)
    assert_allclose(found.span_in_u, abs((room - s).n) / (room - s).s, rtol=1e-9)


def by_gtc(m: Marker, sample: float, values: dict[str, float]) -> Any:
    """Return the whole normalised value as GTC computes it from its seven inputs."""
    room, s = GTC.multiple_ureal(
        [m.ambient_pct, sample], [m.u_ambient_pct, m.u_sample_pct], GTC.inf
    ) if m.correlation else (
        GTC.ureal(m.ambient_pct, m.u_ambient_pct), GTC.ureal(sample, m.u_sample_pct)
    )  # fmt: skip
    if m.correlation:
        GTC.set_correlation(m.correlation, room, s)
    alveolar = GTC.ureal(m.alveolar_pct, m.u_alveolar_pct)
    trace = GTC.ureal(values["sample"], values["u_sample"])
    ambient = GTC.ureal(values["ambient"], values["u_ambient"])
    factor = (room - alveolar) / (room - s)
    return ambient + (trace - ambient) * factor


@pytest.mark.parametrize(("gas", "sample", "rho"), CASES)
def test_the_whole_normalised_value_agrees_with_gtc(gas: str, sample: float, rho: float) -> None:
    """Source: GTC (JCGM 100:2008) on C = room + (sample - room)(A - L)/(A - s)."""
    m = marker(gas, rho)
    expected = by_gtc(
        m, sample, {"sample": 30.0, "u_sample": 3.4, "ambient": 0.5, "u_ambient": 0.3}
    )
    found = scale(sample, m)
    u_factor = np.hypot(found.u_independent, found.u_shared)
    assert_allclose(normalise(30.0, 0.5, found.factor), GTC.value(expected), rtol=1e-12)
    assert_allclose(
        u_normalised(30.0, 3.4, 0.5, 0.3, found.factor, u_factor),
        GTC.uncertainty(expected),
        rtol=1e-9,
    )


@pytest.mark.parametrize(("gas", "sample", "rho"), CASES)
def test_a_reading_carries_the_combined_uncertainty_of_gtc(
    gas: str, sample: float, rho: float
) -> None:
    """Source: GTC on the whole value, the gain as one further relative term."""
    m = marker(gas, rho)
    noise = Noise(ppm=1.5, fraction=0.1, gain_fraction=0.05)
    found = read_sample(
        h2_ppm=30.0,
        ch4_ppm=12.0,
        o2_pct=sample if gas == "o2" else None,
        co2_pct=sample if gas == "co2" else None,
        noise=noise,
        dilution=a_dilution(m, ambient_h2_ppm=0.5, ambient_ch4_ppm=2.0, u_ambient_ppm=0.3),
    )
    assert found.quality == "normalised"
    assert found.ch4 is not None
    for value, raw, room in ((found.h2, 30.0, 0.5), (found.ch4, 12.0, 2.0)):
        whole = by_gtc(
            m, sample,
            {"sample": raw, "u_sample": noise.sd_ppm(raw), "ambient": room, "u_ambient": 0.3},
        ) * GTC.ureal(1.0, 0.05)  # fmt: skip
        assert value.value_ppm is not None
        assert_allclose(value.value_ppm, GTC.value(whole), rtol=1e-12)
        assert value.u_ppm is not None
        assert_allclose(value.u_ppm, GTC.uncertainty(whole), rtol=1e-9)
        alone = by_gtc(
            Marker(m.gas, m.ambient_pct, m.u_ambient_pct, m.alveolar_pct, 0.0, m.u_sample_pct, rho),
            sample,
            {"sample": raw, "u_sample": noise.sd_ppm(raw), "ambient": room, "u_ambient": 0.3},
        )
        assert value.sd_ppm is not None
        assert_allclose(value.sd_ppm, GTC.uncertainty(alone), rtol=1e-9)


def test_an_offset_of_one_sensor_cancels_and_a_wholly_correlated_reading_has_no_fall_error() -> (
    None
):
    """Source: by hand: with u(room) = u(sample) and correlation 1 the span has no uncertainty."""
    m = Marker("o2", 20.9, 0.2, 13.9, 0.0, 0.2, 1.0)
    found = scale(16.0, m)
    assert np.isinf(found.span_in_u)
    # dk/ds + dk/dA = (k D + L - s)/D² = (20.9 - 16)/4.9² = 1/4.9 per percent of common offset.
    assert_allclose(found.u_independent, 0.2 / 4.9, rtol=1e-9)
