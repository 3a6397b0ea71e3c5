"""Collect the tries of one test into a curve: which reading counts at each sample."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ebbline.core.breath.noise import Noise
from ebbline.core.breath.reading import Dilution, Reading, read_sample
from ebbline.core.curve.breath_test import BreathTest, Setback, Try
from ebbline.core.curve.curves import Curves, Spread


@dataclass(frozen=True, slots=True)
class Slot:
    """One sample of a test. ``counted`` and ``reading`` are None where no try counts."""

    minute: float
    planned_minute: float | None
    counted: Try | None
    reading: Reading | None
    symptoms: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Collected:
    """A test as slots in order of time, with the rows that do not count."""

    slots: tuple[Slot, ...]
    not_counted: tuple[Setback, ...]


def collect(test: BreathTest, noise: Noise, dilution: Dilution) -> Collected:
    """Return the samples of a test, each with the reading that counts.

    Several rows at one planned minute are tries at one sample; the last ``ok`` one counts. A
    sample without any is missed, at its planned minute.

    Parameters
    ----------
    test : BreathTest
        The test as recorded.
    noise, dilution : Noise, Dilution
        Settings that readings are made with.

    Returns
    -------
    Collected
    """
    groups: dict[tuple[str, float], list[Try]] = {}
    for one in test.tries:
        planned = one.planned_minute
        key = ("planned", planned) if planned is not None else ("actual", one.minute)
        groups.setdefault(key, []).append(one)
    slots: list[Slot] = []
    setbacks: list[Setback] = []
    for tries in groups.values():
        good = [one for one in tries if one.status == "ok" and one.h2_ppm is not None]
        counted = good[-1] if good else None
        setbacks += [_setback(one) for one in tries if one is not counted]
        slots.append(_slot(tries, counted, noise, dilution))
    slots.sort(key=lambda slot: slot.minute)
    setbacks.sort(key=lambda setback: setback.minute)
    return Collected(tuple(slots), tuple(setbacks))


def _setback(one: Try) -> Setback:
    unused: Literal["missed", "replaced"] = "missed" if one.h2_ppm is None else "replaced"
    reason = unused if one.status == "ok" else one.status
    return Setback(
        minute=one.minute,
        planned_minute=one.planned_minute,
        reason=reason,
        h2_ppm=one.h2_ppm,
        ch4_ppm=one.ch4_ppm,
        note=one.note,
        symptoms=one.symptoms,
    )


def _slot(tries: list[Try], counted: Try | None, noise: Noise, dilution: Dilution) -> Slot:
    symptoms: dict[str, float] = {}
    for one in tries:
        symptoms.update(one.symptoms)
    last = tries[-1]
    if counted is None or counted.h2_ppm is None:
        planned = last.planned_minute
        minute = last.minute if planned is None else planned
        return Slot(minute, planned, None, None, symptoms)
    reading = read_sample(
        h2_ppm=counted.h2_ppm,
        ch4_ppm=counted.ch4_ppm,
        o2_pct=counted.o2_pct,
        co2_pct=counted.co2_pct,
        noise=noise,
        dilution=dilution,
    )
    return Slot(counted.minute, counted.planned_minute, counted, reading, symptoms)


def as_curves(collected: Collected, *, raw: bool) -> Curves:
    """Return one test as a batch of one.

    Parameters
    ----------
    collected : Collected
        The samples.
    raw : bool
        Whether to take raw values in place of normalised ones. Refused samples stay out.

    Returns
    -------
    Curves
        Arrays (1, n_samples).
    """
    slots = collected.slots

    def gas(name: str) -> list[float]:
        values = []
        for slot in slots:
            value = None if slot.reading is None else getattr(slot.reading, name)
            if value is None or value.value_ppm is None:
                values.append(math.nan)
            else:
                values.append(value.raw_ppm if raw else value.value_ppm)
        return values

    minute = [slot.minute for slot in slots]
    planned = [s.minute if s.planned_minute is None else s.planned_minute for s in slots]
    rises = symptom_rises(slots)
    return Curves(
        minute=np.array([minute]),
        planned_minute=np.array([planned]),
        h2_ppm=np.array([gas("h2")]),
        ch4_ppm=np.array([gas("ch4")]),
        symptom_rise=None if rises is None else np.array([rises]),
    )


def as_spread(collected: Collected) -> Spread:
    """Return the uncertainty of one test's values as a batch of one.

    The marker's part is kept apart from the noise of each gas, since one marker reading scales
    both gases of a sample.

    Parameters
    ----------
    collected : Collected
        The samples.

    Returns
    -------
    Spread
        Arrays (1, n_samples) and (1,).
    """
    readings = [slot.reading for slot in collected.slots]

    def sd(name: str) -> list[float]:
        values = []
        for reading in readings:
            value = None if reading is None else getattr(reading, name)
            if value is None or value.sd_ppm is None:
                values.append(math.nan)
            else:
                values.append(value.sd_without_marker_ppm)
        return values

    scale_u = [0.0 if reading is None else reading.scale_u for reading in readings]
    normalised = [reading is not None and reading.quality == "normalised" for reading in readings]
    reference_u = max((r.reference_u for r in readings if r is not None), default=0.0)
    return Spread(
        h2_sd=np.array([sd("h2")]),
        ch4_sd=np.array([sd("ch4")]),
        scale_u=np.array([scale_u]),
        normalised=np.array([normalised]),
        reference_u=np.array([reference_u]),
    )


def symptom_rises(slots: tuple[Slot, ...]) -> list[float] | None:
    """Return the largest rise of any one score over its highest before the drink, in points.

    Parameters
    ----------
    slots : tuple of Slot
        The samples.

    Returns
    -------
    list of float or None
        NaN where a sample has no score that was also asked before the drink; None where no
        symptom was asked at all.
    """
    if not any(slot.symptoms for slot in slots):
        return None
    before: dict[str, float] = {}
    for slot in slots:
        if slot.minute <= 0.0:
            for name, score in slot.symptoms.items():
                before[name] = max(score, before.get(name, 0.0))
    rises = []
    for slot in slots:
        known = [score - before[name] for name, score in slot.symptoms.items() if name in before]
        rises.append(max(known, default=math.nan))
    return rises
