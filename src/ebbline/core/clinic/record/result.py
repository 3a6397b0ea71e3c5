"""Kinds of entry: what was made of a test, and who answers for it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from ebbline.core.clinic.record.entry import Entry, field

ReportStatus = Literal["draft", "signed", "amended"]


@dataclass(frozen=True, slots=True)
class Snapshot(Entry):
    """An interpretation as it was computed, with the settings and rule sets that made it."""

    test_id: str = field("the test", refers="test")
    interpretation: str = field("id of the interpretation: the same inputs give the same id")
    engine: str = field("engine version")
    criterion_id: str = field("adoption of the reporting criterion", refers="adoption")
    findings: tuple[Any, ...] = field("rule set, question and finding, in order")
    document: bytes = field("the whole JSON document", apart=True)


@dataclass(frozen=True, slots=True)
class Report(Entry):
    """One version of a report: the pages themselves, and the digest that they are known by."""

    test_id: str = field("the test", refers="test")
    number: int = field("version of the report, from 1")
    status: ReportStatus = field("draft, signed, or amended (signed again with a reason)")
    snapshot_id: str = field("the interpretation it shows", refers="snapshot")
    author: str = field("who drafted it", refers="user")
    digest: str = field("SHA-256 of the pages")
    head_seq: int = field("row of the history whose hash the pages show")
    head_hash: str = field("that hash")
    comment: str = field("words of the reviewer on the report", apart=True)
    reason: str = field("why it was amended", apart=True)
    pages: bytes = field("the PDF", apart=True)


@dataclass(frozen=True, slots=True)
class Signature(Entry):
    """A reviewer's signature under one version of a report."""

    report_id: str = field("the report", refers="report")
    test_id: str = field("the test", refers="test")
    user_id: str = field("who signed", refers="user")
    name: str = field("name as it was on that day")
    role: str = field("role in which it was signed")
    digest: str = field("SHA-256 of the pages that were signed")


@dataclass(frozen=True, slots=True)
class SecondRead(Entry):
    """A second reader's findings, made without seeing the first reader's."""

    test_id: str = field("the test", refers="test")
    user_id: str = field("who read it", refers="user")
    findings: Mapping[str, Any] = field("question to the finding")
