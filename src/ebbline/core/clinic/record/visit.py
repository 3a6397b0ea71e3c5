"""Kinds of entry: the appointment, the test, and all that comes before the first breath."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from ebbline.core.clinic.record.entry import Entry, field

Mix = Literal["plain", "flavoured", "unknown"]


@dataclass(frozen=True, slots=True)
class Test(Entry):
    """One test of one patient, from the booking to the signed report."""

    __test__ = False  # Tells pytest that this is no test of its own.

    number: int = field("number of the test in this record, printed on reports")
    patient_id: str = field("the patient", refers="patient")
    referral_id: str = field("the referral", refers="referral")
    substrate: str = field("what is drunk")
    mix: Mix = field("whether the drink is the plain sugar or a flavoured mix")
    protocol_id: str = field("the adopted protocol, by its adoption", refers="adoption")
    criterion_id: str = field("the adopted rule set, by its adoption", refers="adoption")
    state: str = field("where the test stands, by data/test_life.toml")
    state_why: str = field("why it was stopped or amended", apart=True)
    t0: datetime | None = field("minute 0")
    t0_defined_as: str = field("what minute 0 is, from the protocol")
    age_years: float | None = field("age on the day of the test, years")
    weight_kg: float | None = field("body weight on the day, kg")
    site: str = field("where the test is run")
    invented: bool = field("whether the data are invented")


@dataclass(frozen=True, slots=True)
class Booking(Entry):
    """The appointment of a test."""

    test_id: str = field("the test", refers="test")
    patient_id: str = field("the patient", refers="patient")
    slot: datetime = field("start of the appointment")
    chair: str = field("chair or room")
    analyser_id: str | None = field("the analyser that is meant to be used", refers="analyser")
    sheet_release: str = field("release of the preparation sheet that was sent; empty for none")
    needs: tuple[str, ...] = field("what the visit needs: interpreter, carer, hoist")


@dataclass(frozen=True, slots=True)
class Arrival(Entry):
    """The patient is here: how that was made sure of, and that they agree to the test."""

    test_id: str = field("the test", refers="test")
    checked: tuple[str, ...] = field("identifiers that were asked for and agreed, two or more")
    consent: str = field("how consent was given, as local rules ask")
    carer: str = field("who came along", apart=True)


@dataclass(frozen=True, slots=True)
class Preparation(Entry):
    """How the patient prepared: one answer an item, and the decision where one was not kept."""

    test_id: str = field("the test", refers="test")
    guidance: str = field("whose guidance the items follow: a rule set's id, or service")
    answers: Mapping[str, Any] = field("item to its word (yes, no, unknown) and date")
    decisions: Mapping[str, Any] = field("item that was not kept to the decision and who made it")
    reasons: Mapping[str, Any] = field("item to the reason of its decision", apart=True)


@dataclass(frozen=True, slots=True)
class Screening(Entry):
    """The answers to the safety questions."""

    test_id: str = field("the test", refers="test")
    answers: Mapping[str, Any] = field("question to its answer, by data/safety.toml")


@dataclass(frozen=True, slots=True)
class Clearance(Entry):
    """A named person's decision about one safety question."""

    test_id: str = field("the test", refers="test")
    bar: str = field("the bar of data/safety.toml that it is about")
    substrate: str = field("the substrate that it is about")
    answer: str = field("the answer that it is about; with another answer it no longer counts")
    go_ahead: bool = field("whether the test may go on")
    by_name: str = field("who decided")
    by_kind: str = field("what that person is: requester, clinician, doctor or specialist")
    reason: str = field("the reason given", apart=True)


@dataclass(frozen=True, slots=True)
class Dose(Entry):
    """The drink as it was worked out and as it was prepared."""

    test_id: str = field("the test", refers="test")
    rule: str = field("the dose rule, by its id in data/doses.toml")
    substrate: str = field("what is in it")
    mix: Mix = field("plain sugar or flavoured mix")
    dose_g: float = field("dose worked out, g")
    g_per_kg: float | None = field("dose per body weight, g/kg")
    cap_g: float | None = field("upper limit of the rule, g")
    cap_used: bool = field("whether the limit was reached")
    prepared_g: float = field("what was weighed out, g")
    volume_ml: float = field("volume of the drink, ml")
    lot: str = field("lot of the substrate")
    expiry: date = field("expiry date of the lot")
    arithmetic: str = field("how the dose was worked out, in words")
    prepared_by: str = field("who prepared it", refers="user")
    needs_second_check: bool = field("whether the rule asks for a second person's check")
    checked_by: str | None = field("who checked it", refers="user")
    drunk: Literal["", "all", "part"] = field("how much was drunk")
