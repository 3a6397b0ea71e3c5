"""A clinic run by a script: invented patients of one surname, each act under a token of its own.

The same script is played again after a crash. An act that was done already is sent under the same
token and answered as before, as a tablet would do that got no answer; so nothing is done twice, and
the script finds its way back to where it was.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from ebbline.adapters.files.interpretation_document import document_line
from ebbline.core.clinic.access import PasswordProof
from ebbline.core.clinic.access_table import ProofLimits
from ebbline.core.clinic.preparation import Answer
from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.entry import Entry
from ebbline.core.clinic.record.people import Identity
from ebbline.core.clinic.record.staff import User
from ebbline.core.clinic.record.visit import Preparation, Screening, Test
from ebbline.services.clinic.bench.breath_taken import Typed
from ebbline.services.clinic.bench.decide_baseline import decide_baseline
from ebbline.services.clinic.bench.finish_test import finish_test
from ebbline.services.clinic.bench.miss_sample import miss_sample
from ebbline.services.clinic.bench.record_event import record_event
from ebbline.services.clinic.bench.record_symptoms import record_symptoms
from ebbline.services.clinic.bench.right_patient import Checked
from ebbline.services.clinic.bench.take_sample import take_sample
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.people.refer import Request, refer
from ebbline.services.clinic.people.register_patient import Person, register_patient
from ebbline.services.clinic.report.draft_report import draft_report
from ebbline.services.clinic.report.interpret_test import interpret_test
from ebbline.services.clinic.report.issue import DrawReport
from ebbline.services.clinic.report.sign_report import sign_report
from ebbline.services.clinic.service.add_analyser import add_analyser
from ebbline.services.clinic.service.adopt import adopt
from ebbline.services.clinic.visit.answer_preparation import answer_preparation, decide_preparation
from ebbline.services.clinic.visit.answer_safety import answer_safety
from ebbline.services.clinic.visit.arrive import arrive
from ebbline.services.clinic.visit.book_test import Appointment, Plan, book_test
from ebbline.services.clinic.visit.clear_test import clear_test
from ebbline.services.clinic.visit.hand_over import hand_over
from ebbline.services.clinic.visit.prepare_dose import prepare_dose
from ebbline.services.clinic.visit.record_t0 import record_t0
from ebbline.services.clinic.visit.weigh import weigh

PATIENTS = 3
"""How many are in the clinic at once."""

_NAMES = ("Ada", "Ben", "Cara")
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Done:
    """One act that was answered: its token, the test it is about, and minute 0 where it set it."""

    token: str
    test_id: str
    t0: datetime | None


@dataclass(frozen=True, slots=True)
class People:
    """Who works in the scripted clinic."""

    bench: Actor
    second: Actor
    reviewer: Actor
    manager: Actor


def set_up(clinic: Clinic) -> People:
    """Record people and adopted documents where they are not there yet, and return the people."""
    people = (
        ("tide", ("bench",)),
        ("wave", ("bench",)),
        ("harbour", ("reviewer",)),
        ("quay", ("manager",)),
    )
    with clinic.record.act("set up", by="", why="", token="people") as act:
        found = {one.entry.login: one.entry.id for one in act.find(User, {})}
        for login, roles in people:
            if login not in found:
                user = act.add(User(act.new_id(), login, login.title(), roles, True))
                found[login] = user.id
    actors = People(*(Actor(found[login]) for login, _ in people))
    for what, name in (("rule set", "north-american-2017"), ("protocol", "lactose-180")):
        adopt(
            clinic,
            actors.manager,
            what=what,
            text=clinic.documents.offered(what, name),
            adopted_by="Dr L. Harbour",
            token=f"adopt {name}",
        )
    add_analyser(
        clinic,
        actors.manager,
        name="analyser 1",
        serial="HC-A1",
        method="electrochemical",
        profile="",
        token="analyser",
    )
    return actors


class Script:
    """What happens to the patients of one round, interleaved as on a busy morning."""

    def __init__(
        self, clinic: Clinic, people: People, *, round_no: int, slot: datetime, draw: DrawReport
    ) -> None:
        self._clinic = clinic
        self._people = people
        self._round = round_no
        self._slot = slot
        self._draw = draw

    def play(self) -> Iterator[Done]:
        """Do every act of the round, or find it done, and yield it once it was answered."""
        running = [self._one_patient(number) for number in range(PATIENTS)]
        while running:
            for one in list(running):
                done = next(one, None)
                if done is None:
                    running.remove(one)
                else:
                    yield done

    def _one_patient(self, number: int) -> Iterator[Done]:
        """Yield the acts of one patient, from the registration to the signed report."""
        clinic, people = self._clinic, self._people
        bench = people.bench
        step = 0

        def token() -> str:
            nonlocal step
            step += 1
            return f"round {self._round} patient {number} step {step}"

        born = date(1950 + number, 3, 1 + self._round % 28)
        record_no = f"HC-{self._round:04}-{number}"
        name = token()
        patient = register_patient(
            clinic,
            bench,
            person=Person("Shore", _NAMES[number], born, record_no, "", ""),
            sex="female",
            language="en",
            invented=True,
            not_these=self._namesakes("Shore", born),
            token=name,
        )
        yield Done(name, "", None)
        name = token()
        referral = refer(clinic, bench, patient_id=patient.id, request=_request(), token=name)
        yield Done(name, "", None)
        name = token()
        test = book_test(
            clinic,
            bench,
            referral_id=referral.id,
            plan=Plan("lactose", "plain", "lactose-180", "north-american-2017", "room 2"),
            appointment=Appointment(self._slot, "chair 1", None, ()),
            token=name,
        ).test
        yield Done(name, test.id, None)

        def stands() -> int:
            with clinic.record.look() as look:
                return look.get(Test, test.id).version

        def version_of(kind: type[Entry]) -> int:
            with clinic.record.look() as look:
                found = look.find(kind, {"test_id": test.id})
                return found[-1].version if found else 0

        checked = Checked("", {"born": born, "record_no": record_no})
        acts: list[Callable[[str], object]] = [
            lambda name: arrive(
                clinic, bench, test_id=test.id, version=stands(), said=checked.said,
                consent="spoken", carer="", token=name,
            ),
            lambda name: answer_preparation(
                clinic, bench, test_id=test.id, version=version_of(Preparation),
                guidance="service",
                answers=dict.fromkeys(self._items(), Answer("unknown", None)), token=name,
            ),
            *(
                lambda name, item=item: decide_preparation(
                    clinic, bench, test_id=test.id, version=version_of(Preparation), item=item,
                    go_ahead=True, by_name="Dr L. Harbour", reason="came from far", token=name,
                )
                for item in self._items()
            ),
            lambda name: answer_safety(
                clinic, bench, test_id=test.id, version=version_of(Screening),
                answers={one.id: "no" for one in clinic.rules.safety.questions}, token=name,
            ),
            lambda name: weigh(
                clinic, bench, test_id=test.id, version=stands(), weight_kg=64.0 + number,
                second_kg=None, token=name,
            ),
            lambda name: clear_test(
                clinic, bench, test_id=test.id, version=stands(), token=name
            ),
            lambda name: self._breath(test, checked, 4.0 + number, name),
            lambda name: decide_baseline(
                clinic, bench, test_id=test.id, choice="go", rule="mean",
                uses=self._fasting(test), why="", token=name,
            ),
            lambda name: prepare_dose(
                clinic, bench, test_id=test.id, version=0, rule="lactose-adult-25",
                prepared_g=25.0, lot="LA-1", expiry=(datetime.now(UTC) + _DAY).date(), token=name,
            ),
            lambda name: hand_over(clinic, bench, test_id=test.id, version=stands(), token=name),
        ]  # fmt: skip
        for one in acts:
            name = token()
            one(name)
            yield Done(name, test.id, None)
        name = token()
        begun = record_t0(
            clinic, bench, test_id=test.id, version=stands(), at=None, drunk="all", token=name
        )
        yield Done(name, test.id, begun.t0)
        yield from self._samples(test, checked, number, token)
        yield from self._report(test, stands, token)

    def _samples(
        self, test: Test, checked: Checked, number: int, token: Callable[[], str]
    ) -> Iterator[Done]:
        """Yield the breaths, symptoms and events after the drink, one of them missed."""
        clinic, bench = self._clinic, self._people.bench
        for place, minute in enumerate((30.0, 60.0, 90.0, 120.0, 150.0, 180.0)):
            name = token()
            if place == number:
                miss_sample(
                    clinic, bench, test_id=test.id, planned_minute=minute, why="in the toilet",
                    token=name,
                )  # fmt: skip
            else:
                self._breath(test, checked, 6.0 + 4.0 * place + number, name, minute=minute)
            yield Done(name, test.id, None)
            name = token()
            record_symptoms(
                clinic, bench, test_id=test.id, planned_minute=minute, scale="0-10",
                scores={"pain": float(place), "bloating": 1.0}, note="", version=0, token=name,
            )  # fmt: skip
            yield Done(name, test.id, None)
        name = token()
        record_event(
            clinic, bench, test_id=test.id, what="walked", at=None, lost_fraction=None,
            note="to the window", token=name,
        )  # fmt: skip
        yield Done(name, test.id, None)

    def _report(
        self, test: Test, stands: Callable[[], int], token: Callable[[], str]
    ) -> Iterator[Done]:
        """Yield the end of the test, its interpretation, the draft and the signature."""
        clinic, people = self._clinic, self._people
        name = token()
        finish_test(clinic, people.bench, test_id=test.id, version=stands(), token=name)
        yield Done(name, test.id, None)
        name = token()
        interpret_test(clinic, people.bench, test_id=test.id, write=document_line, token=name)
        yield Done(name, test.id, None)
        name = token()
        draft = draft_report(
            clinic, people.bench, test_id=test.id, comment="", write=document_line,
            draw=self._draw, token=name,
        )  # fmt: skip
        yield Done(name, test.id, None)
        name = token()
        sign_report(
            clinic, people.reviewer, report_id=draft.id, version=1, comment="",
            proof=PasswordProof(people.reviewer.user_id, datetime.now(UTC)),
            limits=ProofLimits(life_s=300.0), draw=self._draw, token=name,
        )  # fmt: skip
        yield Done(name, test.id, None)

    def _breath(
        self, test: Test, checked: Checked, h2_ppm: float, name: str, minute: float | None = None
    ) -> None:
        """Take a breath whose values were typed twice."""
        typed = Typed(h2_ppm, 2.0, None, None)
        take_sample(
            self._clinic, self._people.bench, test_id=test.id, checked=checked, breath=typed,
            typed_again=typed, confirmed=True, to_repeat=False, at=None, planned_minute=minute,
            analyser_id=None, note="", token=name,
        )  # fmt: skip

    def _fasting(self, test: Test) -> tuple[str, ...]:
        """Return the ids of the fasting breaths that count."""
        with self._clinic.record.look() as look:
            tries = look.find(SampleTry, {"test_id": test.id, "status": "ok"})
        return tuple(one.entry.id for one in tries if one.entry.label)

    def _items(self) -> tuple[str, ...]:
        """Return the items of the preparation that are asked about."""
        rows = self._clinic.rules.preparation.items
        return tuple(
            dict.fromkeys(
                one.id
                for one in rows
                if one.answer != "told" and "lactose" in one.substrates and one.fits_age(60.0)
            )
        )

    def _namesakes(self, family_name: str, born: date) -> tuple[str, ...]:
        """Return patients who look the same, of whom the script knows that they are others."""
        with self._clinic.record.look() as look:
            found = look.find(Identity, {"family_name": family_name})
        return tuple(one.entry.patient_id for one in found if one.entry.born == born)


def _request() -> Request:
    return Request(
        requested_on=date(2026, 11, 2),
        referrer="Dr S. Cliff",
        copy_to="",
        indication="bloating after milk",
        alarm_features=(),
        medicines="none",
        surgery="no",
        surgery_words="",
        earlier_tests="none",
    )
