"""Why a reading is refused, or worth a remark."""

from dataclasses import dataclass
from typing import Literal

Code = Literal[
    "no_breath",
    "too_short",
    "stopped_early",
    "breathed_in",
    "gaps",
    "unsteady",
    "too_dilute",
    "still_warming",
    "not_zeroed",
    "over_range",
]
"""The reasons; what each means and what to do at the bench is in data/quality.toml."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason against a reading, with what was seen in words and numbers."""

    code: Code
    seen: str


@dataclass(frozen=True, slots=True)
class Outside:
    """A number outside physical limits, as it came; it takes no part in anything."""

    time_s: float
    channel: str
    value: float
