"""Kinds of entry: what is taken and noticed while a test runs."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from ebbline.core.clinic.record.entry import Entry, field

TryStatus = Literal["ok", "repeat", "missed", "moved"]


@dataclass(frozen=True, slots=True)
class SampleTry(Entry):
    """One try at a sample, or a planned sample that was missed.

    Several tries at one planned minute are tries at one sample; the last that is ``ok`` counts.
    """

    test_id: str = field("the test", refers="test")
    planned_minute: float | None = field("planned minute from T0")
    label: str = field("B1, B2 … for a baseline, else empty")
    at: datetime = field("when the breath was given; for a missed sample when that was recorded")
    status: TryStatus = field("ok, repeat (to be blown again), missed, or moved to another test")
    way: Literal["blow", "bag", "typed", ""] = field("how it was taken")
    h2_ppm: float | None = field("hydrogen as measured, ppm")
    ch4_ppm: float | None = field("methane as measured, ppm")
    o2_pct: float | None = field("oxygen in the sample, %")
    co2_pct: float | None = field("carbon dioxide in the sample, %")
    h2_normalised_ppm: float | None = field("hydrogen scaled to full alveolar fraction, ppm")
    ch4_normalised_ppm: float | None = field("methane scaled to full alveolar fraction, ppm")
    h2_u_ppm: float | None = field("standard uncertainty of the hydrogen that counts, ppm")
    ch4_u_ppm: float | None = field("standard uncertainty of the methane that counts, ppm")
    alveolar_fraction: float | None = field("share of alveolar gas, 0 to 1")
    quality: str = field("accepted, normalised or refused")
    reasons: tuple[str, ...] = field("reasons against the breath")
    trace_digest: str | None = field("SHA-256 of the trace it was reduced from")
    trace_summary: Mapping[str, Any] = field("summary of the trace")
    analyser_id: str | None = field("the analyser", refers="analyser")
    calibration_id: str | None = field("its calibration in force", refers="analyser_check")
    operator: str = field("who took it", refers="user")
    checked: tuple[str, ...] = field("what told whose breath it is: label, or identifiers that fit")
    note: str = field("the operator's note", apart=True)
    moved_from: str | None = field("the try that it was moved from", refers="sample_try")
    moved_to: str | None = field("the try that it was moved to", refers="sample_try")


@dataclass(frozen=True, slots=True)
class Symptoms(Entry):
    """Symptom scores given at one sample."""

    test_id: str = field("the test", refers="test")
    planned_minute: float | None = field("planned minute of the sample they belong to")
    at: datetime = field("when they were given")
    scale: Literal["0-10", "faces"] = field("numbers from 0 to 10, or faces for a child")
    scores: Mapping[str, Any] = field("complaint to its score from 0 to 10")
    note: str = field("what the patient said", apart=True)


EVENTS = (
    "smoked",
    "slept",
    "ate",
    "drank",
    "vomited",
    "walked",
    "rinsed",
    "diarrhoea",
    "faint",
    "other",
)


@dataclass(frozen=True, slots=True)
class TestEvent(Entry):
    """Something that happened during a test and may change its result."""

    __test__ = False  # Tells pytest that this is no test of its own.

    test_id: str = field("the test", refers="test")
    at: datetime = field("when it happened")
    what: str = field("what happened: " + ", ".join(EVENTS))
    lost_fraction: float | None = field("share of the drink that was vomited, 0 to 1")
    note: str = field("more about it", apart=True)


@dataclass(frozen=True, slots=True)
class BaselineDecision(Entry):
    """What was decided on the fasting readings, by whom and why."""

    test_id: str = field("the test", refers="test")
    choice: str = field("go, rinse and repeat, walk and repeat, or rebook")
    rule: Literal["mean", "last", "lowest", ""] = field("how the baseline is made; empty unless go")
    uses: tuple[str, ...] = field("ids of the tries that make the baseline")
    over_limit: tuple[str, ...] = field("limits of the adopted rule set that were exceeded")
    why: str = field("why", apart=True)
    by: str = field("who decided", refers="user")
