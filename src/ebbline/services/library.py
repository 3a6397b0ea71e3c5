"""What the service has at hand: its settings, rule sets and words, read once and never changed."""

from collections.abc import Mapping
from dataclasses import dataclass

from ebbline.core.breath.dilution import Marker
from ebbline.core.breath.noise import Noise
from ebbline.core.breath.plateau_models import ExhaledNoModel, WashoutModel
from ebbline.core.breath.reading import Dilution
from ebbline.core.breath.reasons import Code
from ebbline.core.breath.settings import ReductionSettings
from ebbline.core.curve.protocol import BaselineRule, Protocol
from ebbline.core.curve.transit import TransitDefinition
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.wording import Wording


@dataclass(frozen=True, slots=True)
class ReasonWords:
    """What a reason against a breath means, and what to do at the bench."""

    means: str
    do: str


@dataclass(frozen=True, slots=True)
class QualityWords:
    """What stands below every reading of a breath, and the words for each reason against one."""

    caution: str
    reasons: Mapping[Code, ReasonWords]


@dataclass(frozen=True, slots=True)
class Library:
    """Everything under data/, parsed and checked.

    ``rule_sets`` are in the order in which they are shown; ``noise`` holds typical values and
    ``noise_source`` says so; ``markers`` are the O2 and CO2 references by gas; ``dilution`` holds
    both markers in order of preference; ``protocols`` are by id; ``reduction`` is what traces are
    reduced by, ``washout`` and ``exhaled_no`` describe a blow beside it, and ``quality`` holds the
    words for what came of it.
    """

    engine: str
    substrates: tuple[str, ...]
    rule_sets: tuple[RuleSet, ...]
    criterion: str
    baseline: BaselineRule
    minute_tolerance: float
    noise: Noise
    noise_source: str
    markers: Mapping[str, Marker]
    dilution: Dilution
    reduction: ReductionSettings
    washout: WashoutModel
    exhaled_no: ExhaledNoModel
    quality: QualityWords
    transit: TransitDefinition
    protocols: Mapping[str, Protocol]
    wording: Wording
