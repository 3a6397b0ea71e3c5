"""What an interpretation is: the frozen result that the report, the screen and the JSON share.

Every number is in the unit its name carries. ``None`` means that a value is missing, never zero.
The result carries the settings, the rule sets and the engine version that made it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ebbline.core.breath.noise import Noise
from ebbline.core.breath.reading import Dilution, GasValue, Quality
from ebbline.core.curve.breath_test import BreathTest, Setback
from ebbline.core.curve.measures import Measures
from ebbline.core.rules.codes import Finding, Result


@dataclass(frozen=True, slots=True)
class InterpretedSample:
    """One counted reading with its raw and normalised values.

    ``alveolar_fraction`` is the share of alveolar gas, None where neither O2 nor CO2 was measured.
    ``notes`` are sentences about this reading. ``symptoms`` are scores from 0 to 10 by name.
    """

    minute: float
    planned_minute: float | None
    h2_ppm: GasValue
    ch4_ppm: GasValue | None
    o2_pct: float | None
    co2_pct: float | None
    alveolar_fraction: float | None
    quality: Quality
    notes: tuple[str, ...]
    symptoms: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class StatementResult:
    """One row of a rule set, judged.

    ``value`` is the rise or level at the first crossing where the statement is met, otherwise the
    highest one that counts; ``threshold`` has the same ``unit`` (ppm, or points for symptoms).
    ``first_minute`` is the actual minute of the first crossing. ``chance`` is the probability that
    the statement is met given the measurement uncertainty; None where it cannot be judged.
    ``because`` is the arithmetic in words. ``undecided`` is true where the value falls in the band
    that the rule set itself leaves open. ``late`` is true where the deciding sample was taken after
    the by-minute and counted only through the tolerance. ``checked`` is false where the row comes
    from memory and nobody has confirmed it against the paper.
    """

    rule_set: str
    statement: str
    question: str
    gas: str
    measure: str
    result: Result
    value: float | None
    threshold: float
    unit: Literal["ppm", "points"]
    comparison: Literal["at least", "more than"]
    by_minute: float | None
    first_minute: float | None
    chance: float | None
    because: str
    undecided: bool
    late: bool
    checked: bool
    source: str


@dataclass(frozen=True, slots=True)
class FindingResult:
    """What the statements of one rule set say together about one question, with caveats."""

    rule_set: str
    question: str
    finding: Finding
    because: str
    caveats: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RuleSetUsed:
    """A rule set as it was applied: id, version, title, source and whether it is adopted here."""

    id: str
    version: str
    title: str
    source: str
    checked: bool
    adopted: bool


@dataclass(frozen=True, slots=True)
class Settings:
    """Every setting that a clinical number depends on, kept with the result.

    ``baseline`` is ``mean``, ``last`` or ``lowest`` of the readings at minute 0 or before;
    ``minute_tolerance`` is how late, in minutes, a sample may be and still count for a by-minute.
    ``noise_source`` says where the noise settings come from.
    """

    noise: Noise
    noise_source: str
    dilution: Dilution
    baseline: Literal["mean", "last", "lowest"]
    minute_tolerance: float


@dataclass(frozen=True, slots=True)
class Transit:
    """Orocaecal transit as an interval (after_minute, by_minute], under a named definition.

    ``by_minute`` is None where no rise was seen (the interval is open to the right).
    """

    definition: str
    after_minute: float
    by_minute: float | None


@dataclass(frozen=True, slots=True)
class Interpretation:
    """One test, interpreted: what was measured, what each criterion says, and how sure that is."""

    engine: str
    id: str
    test: BreathTest
    settings: Settings
    rule_sets: tuple[RuleSetUsed, ...]
    samples: tuple[InterpretedSample, ...]
    not_counted: tuple[Setback, ...]
    measures: Mapping[str, Measures]
    transit: Transit | None
    statements: tuple[StatementResult, ...]
    findings: tuple[FindingResult, ...]
    disagreements: tuple[str, ...]
    cautions: tuple[str, ...]
