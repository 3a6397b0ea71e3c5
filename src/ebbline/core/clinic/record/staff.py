"""Kinds of entry: the people, instruments, settings and documents of the service itself."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from ebbline.core.clinic.record.entry import Entry, field


@dataclass(frozen=True, slots=True)
class User(Entry):
    """Somebody who works with the record."""

    login: str = field("name to log in with")
    name: str = field("name as it is printed")
    roles: tuple[str, ...] = field("bench, reviewer, manager, auditor")
    active: bool = field("whether the person may log in")


@dataclass(frozen=True, slots=True)
class CompetenceProof(Entry):
    """A proof that somebody is competent for a task, and until when."""

    user_id: str = field("the person", refers="user")
    task: str = field("bench or review")
    from_day: date = field("first day")
    until_day: date = field("last day")
    words: str = field("how it was shown")


@dataclass(frozen=True, slots=True)
class Setting(Entry):
    """One setting of the service; each change is a version."""

    name: str = field("its name, by docs/reference/settings.md")
    value: Mapping[str, Any] = field("its value, under the key value")


@dataclass(frozen=True, slots=True)
class Adoption(Entry):
    """A document that the service reports or works by, as it was when a named person adopted it."""

    what: Literal["rule set", "protocol"] = field("rule set or protocol")
    name: str = field("id of the document")
    release: str = field("its version")
    text: str = field("the document itself, as it was adopted")
    digest: str = field("SHA-256 of the text")
    adopted_by: str = field("name of the person who answers for it")
    in_force: bool = field("false once it was withdrawn; old reports keep it")


@dataclass(frozen=True, slots=True)
class Analyser(Entry):
    """An analyser of the service."""

    name: str = field("what it is called")
    serial: str = field("serial number")
    method: str = field("how it measures")
    profile: str = field("its profile; empty where values are typed")
    in_use: bool = field("whether it is in use")


@dataclass(frozen=True, slots=True)
class AnalyserCheck(Entry):
    """A calibration or check of an analyser."""

    analyser_id: str = field("the analyser", refers="analyser")
    what: Literal["calibration", "check", "zero", "room air"] = field("what was done")
    at: datetime = field("when")
    passed: bool = field("whether it passed")
    gas: str = field("check gas: certificate and lot")
    words: str = field("what was found")


@dataclass(frozen=True, slots=True)
class ClockStep(Entry):
    """A jump of the computer's clock that was noticed, and what was decided about it."""

    at: datetime = field("when it was noticed, by the clock after the jump")
    step_s: float = field("by how much the clock jumped, s; positive is forward")
    kind: str = field("jump, backwards or restart")
    decision: str = field("open, follow or keep")


@dataclass(frozen=True, slots=True)
class Erasure(Entry):
    """A patient's identity that was erased on a legal request."""

    patient_id: str = field("the patient", refers="patient")
    ground: str = field("the legal ground, without a name")
    ordered_by: str = field("who ordered it")
    rows: int = field("how many rows lost their words")
