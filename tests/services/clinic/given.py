"""What tests from the referral to minute 0 share: invented people, requests and refusals."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from typing import Any, TypeVar

import pytest

from ebbline.core.clinic.preparation import Answer, Word, plan_preparation
from ebbline.core.clinic.record.entry import Entry, Kept
from ebbline.core.clinic.record.people import Patient, Referral
from ebbline.core.clinic.record.visit import Arrival, Clearance, Dose, Preparation, Screening, Test
from ebbline.core.clinic.safety import Drink, questions_for
from ebbline.core.errors import EbblineError
from ebbline.services.clinic.people.refer import Request, refer
from ebbline.services.clinic.people.register_patient import Person, register_patient
from ebbline.services.clinic.visit.book_test import Appointment, Plan
from tests.scene import MORNING, RULES, ZONE, Scene

E = TypeVar("E", bound=Entry)

BEN = Person(
    family_name="Shore",
    given_name="Ben",
    born=date(2017, 3, 2),
    record_no="HC-1001",
    national_no="",
    contact="an invented number",
)
REQUEST = Request(
    requested_on=date(2026, 11, 2),
    referrer="Dr L. Harbour",
    copy_to="",
    indication="bloating after milk",
    alarm_features=(),
    medicines="",
    surgery="no",
    surgery_words="",
    earlier_tests="",
)
LACTOSE = Plan("lactose", "plain", "lactose-180", "north-american-2017", "room 2")
FRUCTOSE = Plan("fructose", "plain", "fructose-180", "north-american-2017", "room 2")
AT_HALF_PAST_EIGHT = Appointment(slot=MORNING, chair="chair 1", analyser_id=None, needs=())


@contextmanager
def refused(scene: Scene, error: type[EbblineError], text: str) -> Iterator[None]:
    """Expect a refusal in these words, after which the record is as it was."""
    with scene.clinic.record.look() as look:
        before = look.head()
    with pytest.raises(error) as caught:
        yield
    assert str(caught.value) == text
    assert type(caught.value) is error
    with scene.clinic.record.look() as look:
        assert look.head() == before


def stands(scene: Scene, kind: type[E], **where: Any) -> Kept[E]:
    """Return the one entry that has these values, as it stands."""
    with scene.clinic.record.look() as look:
        (found,) = look.find(kind, where)
    return found


def last_act(scene: Scene) -> tuple[str, str, str]:
    """Return the name, the reason and the body of the last act."""
    with scene.clinic.record.look() as look:
        (act,) = look.acts([look.head()[0]])
    return act.act, act.why, act.body


def registered(scene: Scene, person: Person = BEN) -> Patient:
    """Register an invented patient."""
    return register_patient(
        scene.clinic,
        scene.bench,
        person=person,
        sex="male",
        language="en",
        invented=True,
        not_these=(),
        token=None,
    )


def referred(scene: Scene, request: Request = REQUEST, person: Person = BEN) -> Referral:
    """Register an invented patient and record a referral."""
    patient = registered(scene, person)
    return refer(scene.clinic, scene.bench, patient_id=patient.id, request=request, token=None)


def put(scene: Scene, *entries: Entry) -> None:
    """Record entries past the use cases."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        for one in entries:
            act.add(one)


def arrived(scene: Scene, test: Test) -> Arrival:
    """Record an arrival past the use cases."""
    arrival = Arrival(f"arrival-{test.number}", test.id, ("family_name", "born"), "spoken", "")
    put(scene, arrival)
    return arrival


def all_kept(substrate: str, *, age_years: float) -> dict[str, Answer]:
    """Return the answers of a patient who kept every item of the service's guidance."""
    planned = plan_preparation(
        appointment=MORNING.astimezone(ZONE),
        substrate=substrate,
        guidance="service",
        age_years=age_years,
        table=RULES.preparation,
    )
    return {one.item.id: kept(one.item.kept_when, one.starts if one.item.answer == "time" else None)
            for one in planned if one.item.kept_when is not None}  # fmt: skip


def kept(word: Word | None, on: date | None) -> Answer:
    """Return an answer."""
    assert word is not None
    return Answer(word, on)


def all_no(substrate: str) -> dict[str, str]:
    """Return no to every safety question before a plain drink."""
    drink = Drink(substrate, "plain")
    return {one.id: "no" for one in questions_for(drink, RULES.safety)}


def ready(scene: Scene, test: Test) -> None:
    """Record an arrival, a kept preparation and safe answers past the use cases."""
    arrived(scene, test)
    assert test.age_years is not None
    answers = {
        name: {"word": one.word, "on": None if one.on is None else one.on.isoformat()}
        for name, one in all_kept(test.substrate, age_years=test.age_years).items()
    }
    put(
        scene,
        Preparation(f"preparation-{test.number}", test.id, "service", answers, {}, {}),
        Screening(f"screening-{test.number}", test.id, all_no(test.substrate)),
    )


def a_dose(scene: Scene, test: Test, **changes: Any) -> Dose:
    """Record a dose past the use cases."""
    dose = Dose(
        id=f"dose-{test.number}",
        test_id=test.id,
        rule="lactose-adult-25",
        substrate="lactose",
        mix="plain",
        dose_g=25.0,
        g_per_kg=None,
        cap_g=None,
        cap_used=False,
        prepared_g=25.0,
        volume_ml=240.0,
        lot="L1",
        expiry=date(2027, 6, 30),
        arithmetic="25 g, the same at every weight",
        prepared_by=scene.bench.user_id,
        needs_second_check=False,
        checked_by=None,
        drunk="",
    )
    dose = replace(dose, **changes)
    put(scene, dose)
    return dose


def clearances(scene: Scene, test: Test) -> list[Clearance]:
    """Return the decisions on record about a test."""
    with scene.clinic.record.look() as look:
        return [one.entry for one in look.find(Clearance, {"test_id": test.id})]
