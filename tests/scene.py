"""An invented clinic for tests of the use cases: people, adopted documents, patients and tests."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from ebbline.adapters.files.clinic_rules import load_clinic_rules
from ebbline.adapters.files.documents import DataDocuments
from ebbline.adapters.files.library import load_library
from ebbline.core.clinic.identify import search_text
from ebbline.core.clinic.record.people import Identity, Patient, Referral
from ebbline.core.clinic.record.staff import Adoption, Analyser, CompetenceProof, User
from ebbline.core.clinic.record.visit import Booking, Test
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Record
from ebbline.services.clinic.service.adopt import adopt
from tests.records import Clock

LIBRARY = load_library()
RULES = load_clinic_rules(LIBRARY)
DOCUMENTS = DataDocuments(LIBRARY.substrates)
ZONE = ZoneInfo("Europe/London")
MORNING = datetime(2026, 11, 27, 8, 30, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Scene:
    """A clinic with its people: two at the bench, a reviewer, a manager and an auditor."""

    clinic: Clinic
    clock: Clock
    bench: Actor
    second: Actor
    reviewer: Actor
    manager: Actor
    auditor: Actor
    protocols: Mapping[str, Adoption]
    criterion: Adoption
    analyser: Analyser

    def patient(self, *, family_name: str, record_no: str, born: date) -> Patient:
        """Record a patient and who they are, past the use cases."""
        with self.clinic.record.act("scene", by="", why="", token=None) as act:
            patient = act.add(Patient(act.new_id(), "female", "en", True))
            search = search_text(
                family_name=family_name, given_name="Ada", record_no=record_no, national_no=""
            )
            who = (patient.id, family_name, "Ada", born, record_no, "", "", search)
            act.add(Identity(act.new_id(), *who))
        return patient

    def test(self, *, substrate: str, state: str, **changes: Any) -> Test:
        """Record an adult patient and a test that stands in a state, past the use cases."""
        number = len(self.all_tests()) + 1
        patient = self.patient(
            family_name="Shore", record_no=f"HC-{number:04}", born=date(1985, 3, 2)
        )
        protocol = next(
            one for name, one in self.protocols.items() if name.startswith(f"{substrate}-")
        )
        values: dict[str, Any] = {
            "mix": "plain",
            "state_why": "",
            "t0": None,
            "t0_defined_as": "end of the drink",
            "age_years": 41.7,
            "weight_kg": 64.0,
            "site": "room 2",
            "invented": True,
            **changes,
        }
        with self.clinic.record.act("scene", by="", why="", token=None) as act:
            referral = act.add(
                Referral(
                    id=act.new_id(),
                    patient_id=patient.id,
                    requested_on=date(2026, 11, 2),
                    referrer="Dr L. Harbour",
                    copy_to="",
                    indication="bloating after milk",
                    alarm_features=(),
                    alarm_answered=True,
                    medicines="",
                    surgery="no",
                    surgery_words="",
                    earlier_tests="",
                )
            )
            test = act.add(
                Test(
                    id=act.new_id(),
                    number=number,
                    patient_id=patient.id,
                    referral_id=referral.id,
                    substrate=substrate,
                    protocol_id=protocol.id,
                    criterion_id=self.criterion.id,
                    state=state,
                    **values,
                )
            )
            act.add(Booking(act.new_id(), test.id, patient.id, MORNING, "chair 1", None, "", ()))
        return test

    def all_tests(self) -> list[Test]:
        """Return every test as it stands."""
        with self.clinic.record.look() as look:
            return [one.entry for one in look.find(Test, {})]

    def version_of(self, test: Test) -> int:
        """Return the version in which a test stands."""
        with self.clinic.record.look() as look:
            return look.get(Test, test.id).version


def make_scene(record: Record, clock: Clock) -> Scene:
    """Return an invented clinic over a record with nothing in it."""
    clinic = Clinic(record=record, documents=DOCUMENTS, library=LIBRARY, rules=RULES, zone=ZONE)
    people = (
        ("tide", "M. Tide", ("bench",)),
        ("wave", "S. Wave", ("bench",)),
        ("harbour", "Dr L. Harbour", ("reviewer",)),
        ("quay", "R. Quay", ("manager",)),
        ("buoy", "A. Buoy", ("auditor",)),
    )
    actors = []
    with record.act("scene", by="", why="", token=None) as act:
        for login, name, roles in people:
            user = act.add(User(act.new_id(), login, name, roles, True))
            actors.append(Actor(user.id))
            for task in ("bench", "review"):
                days = (date(2026, 1, 1), date(2026, 12, 31))
                act.add(CompetenceProof(act.new_id(), user.id, task, *days, "watched by a senior"))
        analyser = act.add(
            Analyser(act.new_id(), "analyser 1", "HC-A1", "electrochemical", "", True)
        )
    manager = actors[3]
    adopted = [
        adopt(
            clinic,
            manager,
            what=what,
            text=DOCUMENTS.offered(what, name),
            adopted_by="Dr L. Harbour",
            token=None,
        )
        for what, name in (
            ("rule set", "north-american-2017"),
            ("protocol", "lactose-180"),
            ("protocol", "fructose-180"),
            ("protocol", "glucose-120"),
            ("protocol", "lactulose-120"),
        )
    ]
    return Scene(
        clinic=clinic,
        clock=clock,
        bench=actors[0],
        second=actors[1],
        reviewer=actors[2],
        manager=manager,
        auditor=actors[4],
        protocols={one.name: one for one in adopted[1:]},
        criterion=adopted[0],
        analyser=analyser,
    )
