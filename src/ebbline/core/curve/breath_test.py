"""One test as it was recorded: who drank what, and every try at every sample."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Status = Literal["ok", "repeat", "missed"]

SYMPTOMS = ("pain", "bloating", "flatulence", "nausea", "diarrhoea")
"""The five complaints that are scored 0 to 10 at each sample, in the order shown."""


@dataclass(frozen=True, slots=True)
class Try:
    """One row of a test: a blow or bag as it was read, or a sample that was missed.

    Parameters
    ----------
    minute : float
        Actual minute from T0; for a missed sample the planned one.
    planned_minute : float or None
        Planned minute, where it was recorded.
    status : {"ok", "repeat", "missed"}
        ``repeat`` is a try that is to be blown again and does not count.
    h2_ppm, ch4_ppm, o2_pct, co2_pct : float or None
        Raw values; None where not measured.
    note : str
        Free text of the operator.
    symptoms : mapping of str to float
        Scores from 0 to 10 by the names in `SYMPTOMS`; only those that were asked.
    row : int
        Line in the file it came from, 0 where it came from none.
    """

    minute: float
    planned_minute: float | None
    status: Status
    h2_ppm: float | None
    ch4_ppm: float | None
    o2_pct: float | None
    co2_pct: float | None
    note: str
    symptoms: Mapping[str, float]
    row: int


@dataclass(frozen=True, slots=True)
class Setback:
    """A row that does not count as a reading: missed, to be repeated, or replaced by a later try.

    ``reason`` is ``missed``, ``repeat`` or ``replaced``. ``symptoms`` are the scores given with it.
    """

    minute: float
    planned_minute: float | None
    reason: Literal["missed", "repeat", "replaced"]
    h2_ppm: float | None
    ch4_ppm: float | None
    note: str
    symptoms: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class BreathTest:
    """One test as recorded, before any judgement.

    ``tries`` are in order of time. ``facts`` holds what the file's head said in words (patient,
    referrer, analyser, lot …) under the names of docs/reference/curve-file.md; ``unused`` holds
    head lines that ebbline does not know. ``file`` is the name as the user gave it.
    """

    file: str
    substrate: str
    dose_g: float | None
    weight_kg: float | None
    age_years: float | None
    protocol: str | None
    tries: tuple[Try, ...]
    facts: Mapping[str, str] = field(default_factory=dict)
    unused: Mapping[str, str] = field(default_factory=dict)

    @property
    def invented(self) -> bool:
        """Whether the file says that its data are invented."""
        return self.facts.get("invented", "").lower() == "yes"
