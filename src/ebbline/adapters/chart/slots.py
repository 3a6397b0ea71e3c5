"""What of a test is drawn where: points that count, pieces of line, crosses and gaps."""

from dataclasses import dataclass

from ebbline.core.breath.reading import GasValue
from ebbline.core.curve.breath_test import Setback
from ebbline.core.rules.interpretation import Interpretation, InterpretedSample

# A try without a planned minute belongs to a reading that is nearer than half of 15 minutes, the
# shortest interval in common use (no source).
_SAME_SLOT_MINUTES = 7.5


Slot = InterpretedSample | Setback


@dataclass(frozen=True, slots=True)
class Point:
    """A value that counts, ppm at its actual minute; ``piece`` numbers the unbroken lines."""

    minute: float
    value_ppm: float
    u_ppm: float
    raw_ppm: float
    normalised: bool
    piece: int


@dataclass(frozen=True, slots=True)
class Cross:
    """A raw value, ppm, that does not count: refused, or a try that is not used."""

    minute: float
    raw_ppm: float
    why: str


@dataclass(frozen=True, slots=True)
class Series:
    """One gas of one test as it is drawn."""

    gas: str
    points: tuple[Point, ...]
    crosses: tuple[Cross, ...]


def series_of(interpretation: Interpretation, gas: str) -> Series:
    """Return one gas, with a new piece of line after each slot that has no value.

    Parameters
    ----------
    interpretation : Interpretation
        The test.
    gas : {"h2", "ch4"}
        Which gas.

    Returns
    -------
    Series
        Without points where the gas was never measured.
    """
    points: list[Point] = []
    crosses: list[Cross] = []
    piece = 0
    for slot in slots_of(interpretation):
        if isinstance(slot, Setback):
            raw = slot.h2_ppm if gas == "h2" else slot.ch4_ppm
            if raw is not None:
                crosses.append(Cross(slot.minute, raw, slot.reason))
            if not _made_good(slot, interpretation.samples):
                piece += 1
            continue
        value = gas_of(slot, gas)
        if value is None or value.value_ppm is None:
            piece += 1
            if value is not None:
                crosses.append(Cross(slot.minute, value.raw_ppm, "refused"))
            continue
        points.append(
            Point(
                minute=slot.minute,
                value_ppm=value.value_ppm,
                u_ppm=value.u_ppm or 0.0,
                raw_ppm=value.raw_ppm,
                normalised=slot.quality == "normalised",
                piece=piece,
            )
        )
    return Series(gas, tuple(points), tuple(crosses))


def slots_of(interpretation: Interpretation) -> list[Slot]:
    """Return what counts and what does not, in order of time."""
    slots: list[Slot] = [*interpretation.samples, *interpretation.not_counted]
    return sorted(slots, key=lambda slot: slot.minute)


def gas_of(sample: InterpretedSample, gas: str) -> GasValue | None:
    """Return hydrogen or methane of one sample, None where it was not measured."""
    return sample.h2_ppm if gas == "h2" else sample.ch4_ppm


def minutes_of(interpretation: Interpretation) -> list[float]:
    """Return every minute of the test, those that matter most first: 0, the last, the counted."""
    counted = [sample.minute for sample in interpretation.samples]
    others = [slot.minute for slot in interpretation.not_counted]
    return list(dict.fromkeys([0.0, *counted[-1:], *counted, *others]))


def missed_minutes(interpretation: Interpretation) -> list[float]:
    """Return the minutes at which a sample was planned and none was taken."""
    return [slot.minute for slot in interpretation.not_counted if slot.reason == "missed"]


def symptoms_scored(interpretation: Interpretation) -> list[str]:
    """Return the symptoms that were asked at least once, in the order in which they came up."""
    names: dict[str, None] = {}
    for sample in interpretation.samples:
        names.update(dict.fromkeys(sample.symptoms))
    return list(names)


def _made_good(slot: Setback, samples: tuple[InterpretedSample, ...]) -> bool:
    """Whether a reading that counts was taken in the slot of a try that does not."""
    if slot.planned_minute is not None and any(s.planned_minute is not None for s in samples):
        return any(sample.planned_minute == slot.planned_minute for sample in samples)
    return any(abs(sample.minute - slot.minute) < _SAME_SLOT_MINUTES for sample in samples)
