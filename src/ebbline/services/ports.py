"""What the use cases need from outside; `ebbline.adapters` makes each of these real."""

from collections.abc import Mapping
from typing import Literal, Protocol

from ebbline.core.breath.cycle import Method
from ebbline.core.breath.sensor import Sensors
from ebbline.core.breath.trace import Trace
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


class RecordedTrace(Protocol):
    """One trace with what its record says beside it; None where it says nothing."""

    @property
    def file(self) -> str:
        """Name of the file as the user gave it."""
        ...

    @property
    def trace(self) -> Trace:
        """The samples."""
        ...

    @property
    def kind(self) -> Method | None:
        """Whether a patient blew or a bag was emptied."""
        ...

    @property
    def begun_s(self) -> float | None:
        """When breath or bag began, s on the trace's clock."""
        ...

    @property
    def on_for_min(self) -> float | None:
        """How long the analyser had been on at time 0, min."""
        ...

    @property
    def invented(self) -> bool:
        """Whether it says that its data are invented."""
        ...

    @property
    def facts(self) -> Mapping[str, str]:
        """What it says in words."""
        ...

    @property
    def unused(self) -> Mapping[str, str]:
        """What it says that is not known."""
        ...


class TraceReader(Protocol):
    """Reads one trace file, whole or not at all."""

    def __call__(self, name: str) -> RecordedTrace:
        """Return the trace; refuse it with `ebbline.core.errors.TraceFileError`."""
        ...


class Instrument(Protocol):
    """What a profile says of an analyser."""

    @property
    def name(self) -> str:
        """What it is called."""
        ...

    @property
    def invented(self) -> bool:
        """Whether there is no such analyser."""
        ...

    @property
    def sensors(self) -> Sensors:
        """Its gas channels."""
        ...


class InstrumentReader(Protocol):
    """Reads one profile."""

    def __call__(self, name: str) -> Instrument:
        """Return the profile; refuse it with `ebbline.core.errors.ProfileError`."""
        ...
