"""A morning of the invented Harbour Clinic: two tests, from the referral to the signed report.

    ebbline record create --record harbour.ebbline --invented \
        --service "Harbour Clinic" --login quay --name "R. Quay"
    python invented_morning.py harbour.ebbline

Everybody and every number is invented. The time is the script's own: each act takes it from the
record's clock. A clinic of people would also send a token with each act.
"""

import sys
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from ebbline.adapters.files.interpretation_document import document_line
from ebbline.adapters.sql.access import SqlAccess
from ebbline.adapters.sql.create import told_of
from ebbline.adapters.sql.record import open_record
from ebbline.bootstrap import door_of, draw_sheet, report_drawer
from ebbline.core.clinic.preparation import Answer
from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.staff import User
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import EbblineError
from ebbline.services.clinic.access.change_password import change_password
from ebbline.services.clinic.access.confirm_password import confirm_password
from ebbline.services.clinic.access.log_in import log_in
from ebbline.services.clinic.access.manage_users import add_user
from ebbline.services.clinic.bench.breath_taken import Typed
from ebbline.services.clinic.bench.decide_baseline import decide_baseline
from ebbline.services.clinic.bench.finish_test import finish_test
from ebbline.services.clinic.bench.miss_sample import miss_sample
from ebbline.services.clinic.bench.record_symptoms import record_symptoms
from ebbline.services.clinic.bench.right_patient import Checked
from ebbline.services.clinic.bench.take_sample import take_sample
from ebbline.services.clinic.desk import Actor
from ebbline.services.clinic.people.refer import Request, refer
from ebbline.services.clinic.people.register_patient import Person, register_patient
from ebbline.services.clinic.report.draft_report import draft_report
from ebbline.services.clinic.report.interpret_test import interpretation_of
from ebbline.services.clinic.report.sign_report import sign_report
from ebbline.services.clinic.service.add_analyser import add_analyser, record_check
from ebbline.services.clinic.service.adopt import adopt
from ebbline.services.clinic.service.change_setting import change_setting
from ebbline.services.clinic.service.record_competence import record_competence
from ebbline.services.clinic.visit.answer_preparation import answer_preparation
from ebbline.services.clinic.visit.answer_safety import answer_safety
from ebbline.services.clinic.visit.arrive import arrive
from ebbline.services.clinic.visit.book_test import Appointment, Plan, book_test
from ebbline.services.clinic.visit.clear_test import clear_test
from ebbline.services.clinic.visit.hand_over import hand_over
from ebbline.services.clinic.visit.preparation_sheet import read_sheet, sheet_sent
from ebbline.services.clinic.visit.prepare_dose import prepare_dose
from ebbline.services.clinic.visit.preparing import planned_items
from ebbline.services.clinic.visit.record_t0 import record_t0
from ebbline.services.clinic.visit.second_check import second_check
from ebbline.services.clinic.visit.weigh import weigh

ZONE = ZoneInfo("Europe/London")
PASSWORD = "kelp gull nine"  # Of the reviewer, who is invented: never put a real one in a file.


@dataclass(frozen=True)
class Visit:
    """What happens to one patient. H2 and bloating (0 to 10) are those at 30, 60, … 180 min.

    None stands for a sample that is missed.
    """

    person: Person
    sex: str
    carer: str
    slot: datetime
    chair: str
    complaint: str
    substrate: str
    dose_rule: str
    prepared_g: float
    weight_kg: float | None
    fasting_h2_ppm: float
    h2_ppm: tuple[float | None, ...]
    ch4_ppm: float
    bloating: tuple[float, ...]

    @property
    def born(self) -> date:
        """Return the birth date."""
        assert self.person.born is not None
        return self.person.born

    @property
    def name(self) -> str:
        """Return the patient's name."""
        return f"{self.person.given_name} {self.person.family_name}"


BEN = Visit(
    person=Person("Shore", "Ben", date(1985, 3, 2), "HC-1", "", ""),
    sex="male",
    carer="",
    slot=datetime(2026, 11, 24, 8, 30, tzinfo=ZONE),
    chair="chair 1",
    complaint="bloating after milk",
    substrate="lactose",
    dose_rule="lactose-adult-25",
    prepared_g=25.0,
    weight_kg=None,
    fasting_h2_ppm=5,
    h2_ppm=(6, 13, 29, 41, 44, 38),
    ch4_ppm=3,
    bloating=(0, 1, 4, 6, 5, 3),
)
NELL = Visit(
    person=Person("Haven", "Nell", date(2020, 6, 1), "HC-2", "", ""),
    sex="female",
    carer="her father",
    slot=datetime(2026, 11, 24, 8, 55, tzinfo=ZONE),
    chair="chair 2",
    complaint="belly ache after juice",
    substrate="fructose",
    dose_rule="fructose-child-0.5-10",
    prepared_g=9.2,
    weight_kg=18.4,
    fasting_h2_ppm=4,
    h2_ppm=(6, 9, 8, None, 7, 6),
    ch4_ppm=2,
    bloating=(0, 0, 0, 0, 0, 0),
)


class Morning:
    """The clinic, its people, and the clock that only this script moves."""

    def __init__(self, where: str) -> None:
        self.time = datetime(2026, 10, 12, 10, 0, tzinfo=ZONE)
        self.folder = Path(where).parent
        self.record = open_record(where, now=self.now, zone=ZONE.key, wait_s=10.0)
        door = door_of(self.record)
        self.clinic = replace(door.clinic, zone=ZONE)
        self.door = replace(door, clinic=self.clinic, access=SqlAccess(self.record, now=self.now))
        self.draw = report_drawer(paper="a4", certificate=None)
        self.tests: dict[Visit, Test] = {}

    def now(self) -> datetime:
        """Return the time, as the record keeps it."""
        return self.time.astimezone(UTC)

    def tell(self, words: str) -> None:
        """Print what happened, and when."""
        print(f"{self.time:%d %b %H:%M}  {words}")

    def stands(self, visit: Visit) -> tuple[Test, int]:
        """Return a test as it stands, and its version: whoever changes it says what they saw."""
        with self.clinic.look(self.tide) as look:
            kept = look.get(Test, self.tests[visit].id)
        return kept.entry, kept.version

    def find_manager(self) -> Actor:
        """Return the manager of a record that is invented and holds nobody else, or end."""
        if told_of(self.record)["invented"] != "true":
            sys.exit("This record is not marked as invented; nothing was written.")
        with self.record.look() as look:
            people = [one.entry for one in look.find(User, {})]
        if len(people) != 1:
            sys.exit("Somebody works with this record already; nothing was written.")
        return Actor(people[0].id)

    def open_clinic(self, manager: Actor) -> None:
        """Take people on, adopt documents, and say what sheets and reports print."""
        self.tide = self.take_on(manager, "tide", "M. Tide", "bench")
        self.wave = self.take_on(manager, "wave", "S. Wave", "bench")
        self.harbour = self.take_on(manager, "harbour", "Dr L. Harbour", "review")
        for what, name in (
            ("rule set", "north-american-2017"),
            ("protocol", "lactose-180"),
            ("protocol", "fructose-180"),
        ):
            adopt(
                self.clinic, manager, what=what, text=self.clinic.documents.offered(what, name),
                adopted_by="Dr L. Harbour", token=None,
            )  # fmt: skip
            self.tell(f"Dr L. Harbour adopts the {what} {name}.")
        for setting, value in (
            ("service", "Harbour Clinic"),
            ("contact", "an invented number"),
            ("report_contact", ["Harbour Clinic, an invented number"]),
        ):
            change_setting(
                self.clinic, manager, name=setting, value=value, version=0, why="", token=None
            )
        self.analyser = add_analyser(
            self.clinic, manager, name="analyser 1", serial="HC-A1", method="electrochemical",
            profile="", token=None,
        )  # fmt: skip

    def take_on(self, manager: Actor, login: str, name: str, task: str) -> Actor:
        """Add somebody who was shown to be competent; at the first login they choose a password."""
        role = "reviewer" if task == "review" else task
        given = add_user(self.door, manager, login=login, name=name, roles=[role], token=None)
        record_competence(
            self.clinic, manager, user_id=given.user_id, task=task, from_day=date(2026, 1, 1),
            until_day=date(2026, 12, 31), words="watched by a senior", token=None,
        )  # fmt: skip
        once = str(given.password)
        session = log_in(self.door, login=login, password=once, place="invented morning")
        change_password(self.door, session.token, old=once, new=PASSWORD)
        return Actor(given.user_id)

    def book(self, visit: Visit) -> None:
        """Register and refer the patient, book the test, and write the preparation sheet."""
        patient = register_patient(
            self.clinic, self.tide, person=visit.person, sex=visit.sex, language="en",
            invented=True, not_these=(), token=None,
        )  # fmt: skip
        request = Request(
            requested_on=date(2026, 10, 8), referrer="Dr S. Cliff", copy_to="",
            indication=visit.complaint, alarm_features=(), medicines="none", surgery="no",
            surgery_words="", earlier_tests="none",
        )  # fmt: skip
        referral = refer(self.clinic, self.tide, patient_id=patient.id, request=request, token=None)
        booked = book_test(
            self.clinic, self.tide, referral_id=referral.id,
            plan=Plan(
                visit.substrate, "plain", f"{visit.substrate}-180", "north-american-2017", "room 2"
            ),
            appointment=Appointment(visit.slot, visit.chair, self.analyser.id, ()),
            token=None,
        )  # fmt: skip
        self.tests[visit] = booked.test
        says = read_sheet(self.clinic, self.tide, test_id=booked.test.id, guidance="service")
        sheet = self.folder / f"sheet-{booked.test.number}.pdf"
        sheet.write_bytes(draw_sheet(says, paper="a4", created=self.time))
        sheet_sent(
            self.clinic, self.tide, test_id=booked.test.id, version=1, guidance="service",
            token=None,
        )  # fmt: skip
        self.tell(
            f"{visit.name} is booked for {visit.substrate} on {visit.slot:%d %b at %H:%M}; "
            f"{sheet.name} is sent."
        )

    def check_analyser(self) -> None:
        """Check the analyser with gas, as every morning."""
        record_check(
            self.clinic, self.tide, analyser_id=self.analyser.id, what="check", at=self.now(),
            passed=True, gas="invented gas, lot G-1: H2 50 ppm, CH4 25 ppm", findings="",
            token=None,
        )  # fmt: skip
        self.tell("M. Tide checks the analyser with gas: passed.")

    def receive(self, visit: Visit) -> None:
        """Ask who it is, how they prepared and whether the drink is safe; weigh a child."""
        test, version = self.stands(visit)
        arrive(
            self.clinic, self.tide, test_id=test.id, version=version,
            said={"family_name": visit.person.family_name, "born": visit.born},
            consent="signed on paper", carer=visit.carer, token=None,
        )  # fmt: skip
        # Here everybody kept everything, and says no to every question.
        with self.clinic.look(self.tide) as look:
            items = planned_items(self.clinic, look, test, guidance="service")
        answers = {
            one.item.id: Answer(
                one.item.kept_when, one.starts if one.item.answer == "time" else None
            )
            for one in items
            if one.item.kept_when is not None
        }
        answer_preparation(
            self.clinic, self.tide, test_id=test.id, version=0, guidance="service",
            answers=answers, token=None,
        )  # fmt: skip
        answer_safety(
            self.clinic, self.tide, test_id=test.id, version=0,
            answers={one.id: "no" for one in self.clinic.rules.safety.questions}, token=None,
        )  # fmt: skip
        if visit.weight_kg is not None:
            _, version = self.stands(visit)
            weigh(
                self.clinic, self.tide, test_id=test.id, version=version,
                weight_kg=visit.weight_kg, second_kg=None, token=None,
            )  # fmt: skip
        _, version = self.stands(visit)
        clear_test(self.clinic, self.tide, test_id=test.id, version=version, token=None)
        weighed = "" if visit.weight_kg is None else f", weighs {visit.weight_kg} kg"
        self.tell(f"{visit.name}: name and birth date agree; prepared, no bar is closed{weighed}.")

    def give_drink(self, visit: Visit) -> None:
        """Take the fasting breath, prepare the drink, have a child's checked, and hand it over."""
        test, version = self.stands(visit)
        fasting = self.breath(visit, visit.fasting_h2_ppm, minute=None)
        decide_baseline(
            self.clinic, self.tide, test_id=test.id, choice="go", rule="mean", uses=(fasting.id,),
            why="", token=None,
        )  # fmt: skip
        dose = prepare_dose(
            self.clinic, self.tide, test_id=test.id, version=0, rule=visit.dose_rule,
            prepared_g=visit.prepared_g, lot="L-1", expiry=date(2027, 6, 30), token=None,
        )  # fmt: skip
        checked = ""
        if dose.needs_second_check:
            second_check(self.clinic, self.wave, test_id=test.id, version=1, token=None)
            checked = "; S. Wave checks it"
        hand_over(self.clinic, self.tide, test_id=test.id, version=version, token=None)
        self.tell(f"{visit.name}, drink: {dose.arithmetic}{checked}.")
        self.time += timedelta(minutes=5)
        _, version = self.stands(visit)
        record_t0(
            self.clinic, self.tide, test_id=test.id, version=version, at=None, drunk="all",
            token=None,
        )  # fmt: skip
        self.tell(f"{visit.name}, minute 0.")

    def sample(self, visit: Visit, minute: int) -> None:
        """Take a breath and ask how the patient feels, or say why there is none."""
        test, _ = self.stands(visit)
        place = minute // 30 - 1
        h2_ppm = visit.h2_ppm[place]
        if h2_ppm is None:
            miss_sample(
                self.clinic, self.tide, test_id=test.id, planned_minute=minute,
                why="in the toilet", token=None,
            )  # fmt: skip
            self.tell(f"{visit.name}, minute {minute}: missed, in the toilet.")
            return
        self.breath(visit, h2_ppm, minute=minute)
        record_symptoms(
            self.clinic, self.tide, test_id=test.id, planned_minute=minute, scale="0-10",
            scores={"bloating": visit.bloating[place]}, note="", version=0, token=None,
        )  # fmt: skip

    def breath(self, visit: Visit, h2_ppm: float, *, minute: int | None) -> SampleTry:
        """Record a breath whose values were typed twice."""
        typed = Typed(h2_ppm, visit.ch4_ppm, None, None)
        taken = take_sample(
            self.clinic, self.tide, test_id=self.tests[visit].id,
            checked=Checked("", {"family_name": visit.person.family_name, "born": visit.born}),
            breath=typed, typed_again=typed, confirmed=False, to_repeat=False, at=None,
            planned_minute=minute, analyser_id=None, note="", token=None,
        )  # fmt: skip
        when = "fasting" if minute is None else f"minute {minute}"
        self.tell(f"{visit.name}, {when}: H2 {h2_ppm} ppm, CH4 {visit.ch4_ppm} ppm.")
        return taken

    def report(self, visit: Visit) -> None:
        """End the test; M. Tide drafts the report and Dr L. Harbour signs it."""
        test, version = self.stands(visit)
        finish_test(self.clinic, self.tide, test_id=test.id, version=version, token=None)
        draft = draft_report(
            self.clinic, self.tide, test_id=test.id, comment="", write=document_line,
            draw=self.draw, token=None,
        )  # fmt: skip
        with self.clinic.look(self.tide) as look:
            found = interpretation_of(self.clinic, look, self.stands(visit)[0])
        for one in found.findings:
            if one.rule_set == "north-american-2017":
                self.tell(f"{visit.name}, {one.question}: {one.finding}. {one.because}")
        signed = sign_report(
            self.clinic, self.harbour, report_id=draft.id, version=1, comment="",
            proof=confirm_password(self.door, self.harbour, PASSWORD),
            limits=self.door.rules.proof, draw=self.draw, token=None,
        )  # fmt: skip
        file = self.folder / f"report-{test.number}-{signed.number}.pdf"
        file.write_bytes(signed.pages)
        self.tell(f"{visit.name}: Dr L. Harbour signs {file.name}.")


def main(where: str) -> None:
    """Play the morning on a record."""
    morning = Morning(where)
    manager = morning.find_manager()
    print("INVENTED: nobody here is real.")
    morning.open_clinic(manager)
    # What happens when, in the order of the clock on the wall.
    agenda = [(datetime(2026, 11, 24, 8, 0, tzinfo=ZONE), morning.check_analyser)]
    for visit in (BEN, NELL):
        morning.book(visit)
        t0 = visit.slot + timedelta(minutes=20)
        agenda += [
            (visit.slot, partial(morning.receive, visit)),
            (visit.slot + timedelta(minutes=15), partial(morning.give_drink, visit)),
            (t0 + timedelta(minutes=200), partial(morning.report, visit)),
        ]
        for minute in range(30, 181, 30):
            agenda.append((t0 + timedelta(minutes=minute), partial(morning.sample, visit, minute)))
    for at, act in sorted(agenda, key=lambda one: one[0]):
        morning.time = at
        act()
    morning.record.close()


if __name__ == "__main__" and len(sys.argv) > 1:
    try:
        main(sys.argv[1])
    except EbblineError as error:
        sys.exit(str(error))
