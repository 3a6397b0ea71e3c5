"""What the use cases need from outside; `ebbline.adapters` makes each of these real."""

from typing import Literal, Protocol

from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.rules.grammar import RuleSet
from ebbline.services.overrides import Overrides

Paper = Literal["a4", "us-letter"]


class CurveReader(Protocol):
    """Reads one curve file, whole or not at all."""

    def __call__(self, name: str, overrides: Overrides) -> BreathTest:
        """Return the test; refuse it with `ebbline.core.errors.CurveFileError`."""
        ...


class RuleReader(Protocol):
    """Reads one rule file."""

    def __call__(self, name: str) -> RuleSet:
        """Return the rule set; refuse it with `ebbline.core.errors.RuleError`."""
        ...


class FastingCheck(Protocol):
    """Refuses a test that has nothing for a rise to count from."""

    def __call__(self, test: BreathTest) -> None:
        """Raise `ebbline.core.errors.CurveFileError` where no reading at minute 0 or before."""
        ...
