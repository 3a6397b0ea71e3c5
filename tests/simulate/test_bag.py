import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import quad

from ebbline.core.errors import SettingError
from ebbline.simulate.bag import PLASTIC_SYRINGE, TIGHT, Bag, Storage, collect, fill_bag
from ebbline.simulate.exhalation import Inhalation
from ebbline.simulate.gas import Gases
from tests.simulate import givens

PERSON = replace(
    givens.PERSON,
    alveolar=Gases(h2_ppm=40.0, ch4_ppm=10.0, o2_pct=13.9, co2_pct=5.6),
    room=Gases(h2_ppm=0.0, ch4_ppm=2.0, o2_pct=20.9, co2_pct=0.04),
)
BLOW = replace(givens.BLOW, person=PERSON, apparatus_l=0.0)
BAG = Bag(discard_l=0.4, volume_l=0.5, leak_share=0.0, age_h=0.0, storage=PLASTIC_SYRINGE)


def logistic_mean(low: float, high: float) -> float:
    """Return the mean alveolar share between two volumes, by quadrature."""
    width = 0.08 / (2.0 * math.log(19.0))
    area = quad(lambda v: 1.0 / (1.0 + math.exp(-(v - 0.15) / width)), low, high, points=[0.15])[0]
    return float(area / (high - low))


def test_a_bag_after_a_discard_is_alveolar() -> None:
    """Twice the dead space and more is let go first."""
    truth = fill_bag(BLOW, BAG)
    assert truth.fraction_before > 0.99999
    assert_allclose(truth.after.values(), PERSON.alveolar.values(), rtol=1e-4)
    assert_allclose(truth.collected_l, 0.5)


@pytest.mark.parametrize("volume_l", [0.3, 0.5, 1.0])
def test_a_bag_without_a_discard_holds_the_dead_space(volume_l: float) -> None:
    """Its alveolar share is the mean of the expirogram."""
    truth = fill_bag(BLOW, replace(BAG, discard_l=0.0, volume_l=volume_l))
    assert_allclose(truth.fraction_before, logistic_mean(0.0, volume_l), rtol=1e-5)
    assert_allclose(truth.fraction_before, 1.0 - 0.15 / volume_l, rtol=1e-3)


@pytest.mark.parametrize(("age_h", "lost"), [(0.0, 0.0), (24.0, 0.09), (120.0, 0.29)])
def test_a_plastic_syringe_loses_what_was_published(age_h: float, lost: float) -> None:
    """9 % of the hydrogen in 24 h, 29 % in 5 days (Corazza 1990); the other gases stay."""
    truth = fill_bag(BLOW, replace(BAG, age_h=age_h))
    assert_allclose(truth.after.h2_ppm, truth.before.h2_ppm * (1.0 - lost))
    assert_allclose(truth.after.values()[1:], truth.before.values()[1:])
    assert_allclose(truth.h2_kept, 1.0 - lost)
    assert_allclose(truth.alveolar.values(), PERSON.alveolar.values())


def test_between_and_beyond_the_published_ages_the_rate_of_loss_is_constant() -> None:
    """Half a day keeps the root of a day; a further 96 h keep as much as the 96 h before."""
    assert_allclose(PLASTIC_SYRINGE.kept(12.0), math.sqrt(0.91))
    assert_allclose(PLASTIC_SYRINGE.kept(216.0), 0.71 * 0.71 / 0.91)
    assert TIGHT.kept(500.0) == 1.0


def test_a_leak_replaces_a_share_of_every_gas_by_room_air() -> None:
    """Mixing is conserved: one share for all gases."""
    truth = fill_bag(BLOW, replace(BAG, leak_share=0.2, storage=TIGHT, age_h=30.0))
    room = PERSON.room.values()
    assert_allclose(truth.fraction_after, 0.8 * truth.fraction_before)
    expected = room + truth.fraction_after * (PERSON.alveolar.values() - room)
    assert_allclose(truth.after.values(), expected)


def test_hydrogen_is_lost_down_to_what_is_in_the_room() -> None:
    """Only the excess over the room leaves."""
    person = replace(PERSON, room=replace(PERSON.room, h2_ppm=10.0))
    truth = fill_bag(replace(BLOW, person=person), replace(BAG, age_h=24.0))
    assert_allclose(truth.after.h2_ppm - 10.0, 0.91 * (truth.before.h2_ppm - 10.0))


def test_the_undiluted_gas_of_a_sloping_plateau_is_that_of_what_went_in() -> None:
    """10 ppm per litre: the middle of 0.4 to 0.9 L lies 1.35 L before the end."""
    person = replace(PERSON, slope_per_l=replace(givens.LEVEL, h2_ppm=10.0))
    truth = fill_bag(replace(BLOW, person=person), BAG)
    assert_allclose(truth.alveolar.h2_ppm, 40.0 - 13.5, rtol=1e-5)


def test_air_breathed_in_meanwhile_dilutes_what_comes_into_the_bag_afterwards() -> None:
    """0.65 L in, of which 0.5 L mix with 2 L of lung; 0.15 L of room air come back first."""
    turned = replace(BLOW, inhalation=Inhalation(at_s=2.0, duration_s=1.0, volume_l=0.65))
    found = collect(turned, 1.0, 2.0)
    assert_allclose(found.fraction, 2.0 / 2.5, rtol=1e-4)
    assert collect(turned, 0.5, 0.64).fraction < 0.1
    assert_allclose(found.alveolar.values(), PERSON.alveolar.values())


@settings(deadline=None, max_examples=60)
@given(
    discard=st.floats(0.0, 1.0), volume=st.floats(0.05, 3.0), leak=st.floats(0.0, 0.9),
    age=st.floats(0.0, 300.0),
)  # fmt: skip
def test_nothing_makes_more_hydrogen_than_the_alveolar_gas_holds(
    discard: float, volume: float, leak: float, age: float
) -> None:
    """Leak and age only take away, and the marker gas tells the share whatever the age."""
    truth = fill_bag(BLOW, Bag(discard, volume, leak, age, PLASTIC_SYRINGE))
    assert 0.0 <= truth.after.h2_ppm <= truth.before.h2_ppm + 1e-12 <= 40.0 + 1e-9
    assert_allclose(truth.after.o2_pct, 20.9 - 7.0 * truth.fraction_after, rtol=1e-12)
    assert_allclose(truth.collected_l, min(volume, 2.0 - discard), atol=1e-12)


def test_a_bag_that_stays_empty_is_refused() -> None:
    """The blow ends while gas is still let go."""
    with pytest.raises(SettingError) as caught:
        fill_bag(replace(BLOW, stop_l=0.3), BAG)
    assert str(caught.value) == (
        "virtual bag stays empty; allowed: a blow longer than what is discarded; came: 0.3 L "
        "blown, 0.4 L discarded"
    )


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (-0.1, 1.0, "virtual from_l cannot be used; allowed: 0 to 2; came: -0.1"),
        (0.5, 0.5, "virtual to_l cannot be used; allowed: 0.5 to 2; came: 0.5"),
        (0.5, 2.5, "virtual to_l cannot be used; allowed: 0.5 to 2; came: 2.5"),
    ],
)
def test_volumes_outside_the_blow_are_refused(low: float, high: float, text: str) -> None:
    """Nothing can be collected there."""
    with pytest.raises(SettingError) as caught:
        collect(BLOW, low, high)
    assert str(caught.value) == text


@pytest.mark.parametrize(
    ("name", "value", "limits"),
    [
        ("discard_l", -1.0, "0 to 5"),
        ("volume_l", 0.0, "0.01 to 10"),
        ("leak_share", 1.5, "0 to 1"),
        ("age_h", math.inf, "0 to 1000"),
    ],
)
def test_a_bag_outside_its_limits_is_refused(name: str, value: float, limits: str) -> None:
    """The message names the setting."""
    given_values = {"discard_l": 0.4, "volume_l": 0.5, "leak_share": 0.0, "age_h": 0.0, name: value}
    with pytest.raises(SettingError) as caught:
        Bag(**given_values, storage=TIGHT)
    expected = f"virtual bag {name} cannot be used; allowed: {limits}; came: {value:g}"
    assert str(caught.value) == expected


@pytest.mark.parametrize(
    ("ages", "kept"),
    [
        ((0.0,), (1.0,)),
        ((0.0, 24.0), (1.0,)),
        ((1.0, 24.0), (1.0, 0.9)),
        ((0.0, 24.0), (0.9, 0.8)),
        ((0.0, 24.0, 24.0), (1.0, 0.9, 0.8)),
        ((0.0, 24.0), (1.0, 1.1)),
        ((0.0, 24.0), (1.0, 0.0)),
    ],
)
def test_a_storage_that_is_no_loss_is_refused(
    ages: tuple[float, ...], kept: tuple[float, ...]
) -> None:
    """Ages rise from 0 and shares fall from 1."""
    with pytest.raises(SettingError) as caught:
        Storage(age_h=ages, h2_kept=kept)
    assert str(caught.value) == (
        "virtual storage cannot be used; allowed: two or more ages rising from 0 h with shares "
        f"falling from 1 and above 0; came: {ages} h with {kept}"
    )


def test_gases_are_in_one_order_in_a_bag_too() -> None:
    """Hydrogen alone is lost, though the four are worked out as one array."""
    truth = fill_bag(BLOW, replace(BAG, age_h=24.0))
    lost = truth.before.values() - truth.after.values()
    assert_allclose(lost > 0.0, np.array([True, False, False, False]))
