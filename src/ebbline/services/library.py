"""What the service has at hand: its settings, rule sets and words, read once and never changed."""

from collections.abc import Mapping
from dataclasses import dataclass

from ebbline.core.breath.dilution import Marker
from ebbline.core.breath.noise import Noise
from ebbline.core.breath.reading import Dilution
from ebbline.core.curve.protocol import BaselineRule, Protocol
from ebbline.core.curve.transit import TransitDefinition
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.wording import Wording


@dataclass(frozen=True, slots=True)
class Library:
    """Everything under data/, parsed and checked.

    ``rule_sets`` are in the order in which they are shown; ``noise`` holds typical values and
    ``noise_source`` says so; ``markers`` are the O2 and CO2 references by gas; ``dilution`` holds
    both markers in order of preference; ``protocols`` are by id.
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
    transit: TransitDefinition
    protocols: Mapping[str, Protocol]
    wording: Wording
