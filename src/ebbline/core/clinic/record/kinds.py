"""Every kind of entry, in the order in which tables are made: what is referred to comes first."""

from ebbline.core.clinic.record.bench import BaselineDecision, SampleTry, Symptoms, TestEvent
from ebbline.core.clinic.record.entry import Entry, kind_name
from ebbline.core.clinic.record.people import Identity, Patient, Referral
from ebbline.core.clinic.record.result import Report, SecondRead, Signature, Snapshot
from ebbline.core.clinic.record.staff import (
    Adoption,
    Analyser,
    AnalyserCheck,
    ClockStep,
    CompetenceProof,
    Erasure,
    Setting,
    User,
)
from ebbline.core.clinic.record.visit import (
    Arrival,
    Booking,
    Clearance,
    Dose,
    Preparation,
    Screening,
    Test,
)

_KINDS: tuple[type[Entry], ...] = (
    User,
    CompetenceProof,
    Setting,
    Adoption,
    Analyser,
    AnalyserCheck,
    Patient,
    Identity,
    Referral,
    Test,
    Booking,
    Arrival,
    Preparation,
    Screening,
    Clearance,
    Dose,
    SampleTry,
    Symptoms,
    TestEvent,
    BaselineDecision,
    Snapshot,
    Report,
    Signature,
    SecondRead,
    ClockStep,
    Erasure,
)

KINDS: dict[str, type[Entry]] = {kind_name(kind): kind for kind in _KINDS}
"""Kind of entry by the name of its table."""
