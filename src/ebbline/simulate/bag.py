"""Virtual bags: breath collected, leaked and aged, with its truth.

A bag takes what is expired after a first volume is discarded. A leak replaces a share of it by room
air. With age it loses hydrogen: in plastic syringes at room temperature 9 % in 24 h and 29 % in
5 days (Corazza GR, et al. Ital J Gastroenterol 1990;22:200-204). One loss rate does not give both,
so the share that remains is read off between the published ages. Others found no loss in 20 to
117 h (Willemsen M, et al. Pediatr Gastroenterol Hepatol Nutr 2022;25:13): it is a setting.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ebbline.core.errors import SettingError
from ebbline.simulate.course import course_of
from ebbline.simulate.exhalation import Exhalation
from ebbline.simulate.gas import Gases, gases, require

_N_SLICES = 1000


@dataclass(frozen=True, slots=True)
class Storage:
    """How much hydrogen a container keeps.

    Parameters
    ----------
    age_h : tuple of float
        Ages, hours, rising from 0.
    h2_kept : tuple of float
        Share of the hydrogen above the room that is left then, 1 at first, above 0, not rising.

    Raises
    ------
    SettingError
        If the two do not go together.
    """

    age_h: tuple[float, ...]
    h2_kept: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse what is no loss."""
        ages, kept = self.age_h, self.h2_kept
        fits = (
            len(ages) == len(kept) >= 2
            and (ages[0], kept[0]) == (0.0, 1.0)
            and all(early < late for early, late in pairwise(ages))
            and all(more >= less > 0.0 for more, less in pairwise(kept))
        )
        if not fits:
            raise SettingError(
                "virtual storage cannot be used; allowed: two or more ages rising from 0 h with "
                f"shares falling from 1 and above 0; came: {ages} h with {kept}"
            )

    def kept(self, age_h: float) -> float:
        """Return the share of hydrogen that is left.

        Parameters
        ----------
        age_h : float
            Hours since the bag was filled. Between the ages given, and beyond the last, the loss
            rate is constant.

        Returns
        -------
        float
        """
        ages, logs = np.array(self.age_h), np.log(self.h2_kept)
        beyond = max(age_h - ages[-1], 0.0) * (logs[-1] - logs[-2]) / (ages[-1] - ages[-2])
        return math.exp(float(np.interp(age_h, ages, logs)) + beyond)


# Corazza 1990, plastic syringes at room temperature.
PLASTIC_SYRINGE = Storage(age_h=(0.0, 24.0, 120.0), h2_kept=(1.0, 0.91, 0.71))
# Invented: a container that keeps everything.
TIGHT = Storage(age_h=(0.0, 24.0), h2_kept=(1.0, 1.0))


@dataclass(frozen=True, slots=True)
class Bag:
    """How a bag was filled and kept.

    Parameters
    ----------
    discard_l : float
        Volume let go before the bag is filled, L; 0: nothing was discarded.
    volume_l : float
        Volume that the bag takes, L; less comes in where the breath ends sooner.
    leak_share : float
        Share of the contents that room air replaced, 0 to 1.
    age_h : float
        Hours between filling and measuring.
    storage : Storage
        What the material keeps.
    """

    discard_l: float
    volume_l: float
    leak_share: float
    age_h: float
    storage: Storage

    def __post_init__(self) -> None:
        """Refuse what is no bag."""
        require("bag discard_l", self.discard_l, 0.0, 5.0)
        require("bag volume_l", self.volume_l, 0.01, 10.0)
        require("bag leak_share", self.leak_share, 0.0, 1.0)
        require("bag age_h", self.age_h, 0.0, 1000.0)


@dataclass(frozen=True, slots=True)
class Collected:
    """A part of a breath, mixed: its alveolar share, its gases, and that alveolar gas undiluted."""

    fraction: float
    mixed: Gases
    alveolar: Gases


@dataclass(frozen=True, slots=True)
class BagTruth:
    """What is true of one bag.

    ``alveolar`` is the undiluted gas whose share ``fraction_before`` went in; ``before`` the
    contents when it was closed and ``after`` when it is measured, with ``fraction_after``; and
    ``h2_kept`` the share of hydrogen above the room that age left.
    """

    alveolar: Gases
    before: Gases
    after: Gases
    fraction_before: float
    fraction_after: float
    h2_kept: float
    collected_l: float


def fill_bag(exhalation: Exhalation, bag: Bag) -> BagTruth:
    """Return what a bag holds.

    Parameters
    ----------
    exhalation : Exhalation
        The blow that fills it.
    bag : Bag
        How it was filled and kept.

    Returns
    -------
    BagTruth

    Raises
    ------
    SettingError
        If the blow ends before anything comes into the bag.
    """
    end_l = min(bag.discard_l + bag.volume_l, exhalation.end_l)
    if end_l <= bag.discard_l:
        raise SettingError(
            "virtual bag stays empty; allowed: a blow longer than what is discarded; came: "
            f"{exhalation.end_l:g} L blown, {bag.discard_l:g} L discarded"
        )
    inside = collect(exhalation, bag.discard_l, end_l)
    room = exhalation.person.room.values()
    kept = bag.storage.kept(bag.age_h)
    excess = (inside.mixed.values() - room) * (1.0 - bag.leak_share)
    excess[0] *= kept
    return BagTruth(
        alveolar=inside.alveolar,
        before=inside.mixed,
        after=gases(room + excess),
        fraction_before=inside.fraction,
        fraction_after=inside.fraction * (1.0 - bag.leak_share),
        h2_kept=kept,
        collected_l=end_l - bag.discard_l,
    )


def collect(exhalation: Exhalation, from_l: float, to_l: float) -> Collected:
    """Return what is expired between two volumes, mixed.

    Parameters
    ----------
    exhalation : Exhalation
        The blow. Air breathed in during it comes from the room and not from the container.
    from_l, to_l : float
        Expired volumes, L, with 0 <= from_l < to_l <= the volume at which the blow ends.

    Returns
    -------
    Collected
        Means over volume, by the midpoint rule on 1000 slices.

    Raises
    ------
    SettingError
        If the volumes are not within the blow.
    """
    require("from_l", from_l, 0.0, exhalation.end_l)
    require("to_l", to_l, math.nextafter(from_l, math.inf), exhalation.end_l)
    course = course_of(exhalation)
    expired = from_l + (to_l - from_l) * (np.arange(_N_SLICES) + 0.5) / _N_SLICES
    inhaled = np.where(expired > course.turn_l, course.inhaled[-1], 0.0)
    shares, excess = course.gas(expired, inhaled)
    room = exhalation.person.room.values()
    fraction, mixed = float(shares.mean()), excess.mean(axis=1)
    return Collected(fraction, gases(room + mixed), gases(room + mixed / fraction))
