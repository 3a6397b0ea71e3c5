"""Kinds of entry: the patient, who they are, and why they were sent."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from ebbline.core.clinic.record.entry import Entry, field

Sex = Literal["female", "male", "other", "unknown"]
SEXES: tuple[Sex, ...] = ("female", "male", "other", "unknown")


@dataclass(frozen=True, slots=True)
class Patient(Entry):
    """A patient, without a word of who it is."""

    sex: Sex = field("female, male, other or unknown")
    language: str = field("language for sheets and talk, as a BCP 47 tag such as en")
    invented: bool = field("whether the person is invented, for training or demonstration")


@dataclass(frozen=True, slots=True)
class Identity(Entry):
    """Who a patient is. Held apart: erasing it leaves every test readable and verifiable."""

    patient_id: str = field("the patient", refers="patient")
    family_name: str = field("family name", apart=True)
    given_name: str = field("given name", apart=True)
    born: date | None = field("date of birth", apart=True)
    record_no: str = field("first identifier: record number of the service", apart=True)
    national_no: str = field("second identifier: national or insurance number", apart=True)
    contact: str = field("telephone or address for sheets and reminders", apart=True)
    search: str = field("names and numbers as they are compared, to search by", apart=True)


@dataclass(frozen=True, slots=True)
class Referral(Entry):
    """Why a patient was sent, by whom, and what the referrer knew."""

    patient_id: str = field("the patient", refers="patient")
    requested_on: date = field("date of the request")
    referrer: str = field("who asked for the test", apart=True)
    copy_to: str = field("who else gets the report", apart=True)
    indication: str = field("why the test was asked for", apart=True)
    alarm_features: tuple[str, ...] = field("alarm features, as listed in data/referral.toml")
    alarm_answered: bool = field("whether the referrer was asked for alarm features")
    medicines: str = field("medicines that matter for the test", apart=True)
    surgery: Literal["yes", "no", "unknown"] = field("earlier surgery of the upper gut")
    surgery_words: str = field("which surgery, and when", apart=True)
    earlier_tests: str = field("earlier breath tests and their results", apart=True)
