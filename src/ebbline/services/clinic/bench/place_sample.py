"""Which planned sample a breath is: the nearest one that is due, or the one that a person names."""

from collections.abc import Sequence
from dataclasses import dataclass

from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.staff import Adoption
from ebbline.core.clinic.record.visit import Test
from ebbline.core.curve.protocol import Protocol
from ebbline.core.errors import FieldError
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.ports import Look


@dataclass(frozen=True, slots=True)
class Place:
    """The place of a sample in its test; ``label`` is B1, B2 … for a fasting one, else empty."""

    planned_minute: float
    label: str


def protocol_of(clinic: Clinic, look: Look, test: Test) -> Protocol:
    """Return the protocol of a test as it was adopted.

    Parameters
    ----------
    clinic : Clinic
        Reads its text.
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    Protocol
    """
    return clinic.documents.protocol(look.get(Adoption, test.protocol_id).entry.text)


def tries_of(look: Look, test_id: str) -> tuple[Kept[SampleTry], ...]:
    """Return the tries and missed samples of a test in order of time, without those moved away.

    Parameters
    ----------
    look : Look
        The record.
    test_id : str
        The test.

    Returns
    -------
    tuple of Kept of SampleTry
    """
    found = look.find(SampleTry, {"test_id": test_id, "status": ("ok", "repeat", "missed")})
    return tuple(sorted(found, key=lambda one: (one.entry.at, one.seq)))


def place_sample(
    protocol: Protocol,
    tries: Sequence[SampleTry],
    *,
    minute: float | None,
    planned_minute: float | None,
) -> Place:
    """Return which planned sample a breath is.

    Parameters
    ----------
    protocol : Protocol
        The planned minutes.
    tries : sequence of SampleTry
        The others of the same test.
    minute : float or None
        The actual minute from T0; None while there is none. At 0 or before it is a fasting sample.
    planned_minute : float or None
        What the person says; None for the nearest.

    Returns
    -------
    Place

    Raises
    ------
    FieldError
        If no such sample is planned; if the breath lies halfway between two planned ones, or the
        nearest was taken or missed already, and nobody says which it is.
    """
    fasting = minute is None or minute <= 0.0
    planned = protocol.fasting if fasting else protocol.minutes
    if planned_minute is not None and planned_minute not in planned:
        raise FieldError(
            field="planned_minute",
            wrong="no such fasting sample is planned" if fasting else "no such sample is planned",
            allowed=_listed(planned),
            came=f"{planned_minute:g}",
        )
    if minute is None or fasting:
        good = [int(one.label[1:]) for one in tries if one.label and one.status == "ok"]
        number = max(good, default=0) + 1
        usual = sorted(planned)[min(number, len(planned)) - 1] if planned else 0.0
        return Place(usual if planned_minute is None else planned_minute, f"B{number}")
    if planned_minute is not None:
        return Place(planned_minute, "")
    return Place(_nearest(protocol, tries, minute), "")


def _nearest(protocol: Protocol, tries: Sequence[SampleTry], minute: float) -> float:
    first, *others = sorted(protocol.minutes, key=lambda one: abs(one - minute))
    if others and abs(others[0] - minute) == abs(first - minute):
        raise FieldError(
            field="planned_minute",
            wrong=f"minute {minute:g} is halfway between two planned samples",
            allowed=f"{min(first, others[0]):g} or {max(first, others[0]):g}, as a person says",
            came="nothing",
        )
    if any(one.planned_minute == first and one.status in ("ok", "missed") for one in tries):
        raise FieldError(
            field="planned_minute",
            wrong=f"the sample of {first:g} min is in already",
            allowed=f"a planned minute that a person names: {_listed(protocol.minutes)}",
            came="nothing",
        )
    return first


def _listed(minutes: Sequence[float]) -> str:
    return ", ".join(f"{minute:g}" for minute in minutes) or "none"
