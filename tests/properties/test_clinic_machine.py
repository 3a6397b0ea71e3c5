"""Random sequences of use cases, legal and illegal, against a small model in memory."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from ebbline.adapters.sql.engine import record_url
from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.verify import verify
from ebbline.core.clinic.preparation import Answer
from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.visit import Preparation, Test
from ebbline.core.errors import EbblineError
from ebbline.services.clinic.bench.breath_taken import Typed
from ebbline.services.clinic.bench.decide_baseline import decide_baseline
from ebbline.services.clinic.bench.finish_test import finish_test
from ebbline.services.clinic.bench.miss_sample import miss_sample
from ebbline.services.clinic.bench.move_sample import move_sample
from ebbline.services.clinic.bench.right_patient import Checked
from ebbline.services.clinic.bench.take_sample import take_sample
from ebbline.services.clinic.desk import Actor
from ebbline.services.clinic.visit.answer_preparation import answer_preparation, decide_preparation
from ebbline.services.clinic.visit.answer_safety import answer_safety
from ebbline.services.clinic.visit.arrive import arrive
from ebbline.services.clinic.visit.clear_test import clear_test
from ebbline.services.clinic.visit.hand_over import hand_over
from ebbline.services.clinic.visit.prepare_dose import prepare_dose
from ebbline.services.clinic.visit.preparing import judged_items
from ebbline.services.clinic.visit.record_t0 import record_t0
from ebbline.services.clinic.visit.stop_test import stop_test
from tests.conftest import copy_of
from tests.records import Clock
from tests.scene import Scene, make_scene

PLANNED = (30.0, 60.0, 90.0, 120.0, 150.0, 180.0)
RUNNING = ("arrived", "cleared", "dosed", "sampling")


@dataclass
class Known:
    """What the model knows of one test."""

    record_no: str
    state: str = "booked"
    version: int = 1
    prepared: bool = False
    safe: bool = False
    decided: bool = False
    dose: bool = False
    tries: dict[str, tuple[float | None, str]] = field(default_factory=dict)

    def fasting(self) -> list[str]:
        """Return the fasting breaths that count."""
        return [
            name
            for name, (minute, status) in self.tries.items()
            if minute == 0.0 and status == "ok"
        ]

    def open_minutes(self) -> set[float]:
        """Return the planned minutes that are neither taken nor missed."""
        done = {minute for minute, status in self.tries.values() if status in ("ok", "missed")}
        return set(PLANNED) - {one for one in done if one is not None}


class ClinicMachine(RuleBasedStateMachine):
    """Use cases on a record, beside the model of what they must do."""

    new_address: Callable[[], str]
    reached: dict[object, int]
    """How often an act was legal or not, a state was reached, and a breath was moved."""
    tests = Bundle("tests")

    @initialize()
    def open(self) -> None:
        """Open a clinic over a new record."""
        self.clock = Clock()
        self.record = SqlRecord(
            record_url(type(self).new_address()), now=self.clock, zone="Europe/London", wait_s=5.0
        )
        self.scene: Scene = make_scene(self.record, self.clock)
        self.known: dict[str, Known] = {}
        self.acts = self.head()
        self.sent = 0

    def teardown(self) -> None:
        """Verify the whole record and let go of it."""
        if hasattr(self, "record"):
            verdict = verify(self.record, head=None, progress=lambda _done, _of: None)
            assert verdict.fault is None
            self.record.close()

    def head(self) -> int:
        """Return how many acts the record holds."""
        with self.record.look() as look:
            return look.head()[0]

    def token(self) -> str:
        """Return a name for an act that none had."""
        self.sent += 1
        return f"token {self.sent}"

    def attempt(self, legal: bool, call: Callable[[], object]) -> bool:
        """Do what must be done, or must be refused and leave the record as it was."""
        self.reached[legal] = self.reached.get(legal, 0) + 1
        if legal:
            call()
            self.acts += 1
        else:
            with pytest.raises(EbblineError):
                call()
        assert self.head() == self.acts
        return legal

    def go_on(self, test: str, to: str) -> None:
        """Let the model take a step."""
        self.known[test].state = to
        self.known[test].version += 1
        self.reached[to] = self.reached.get(to, 0) + 1

    @rule(target=tests)
    def book(self) -> str:
        """Put an adult with an appointment on record."""
        test = self.scene.test(substrate="lactose", state="booked")
        self.acts = self.head()
        self.known[test.id] = Known(record_no=f"HC-{test.number:04}")
        return test.id

    @rule(test=tests, identity=st.sampled_from(["right", "other", "one"]), stale=st.booleans())
    def arrive(self, test: str, identity: str, stale: bool) -> None:
        """Let the patient arrive, or somebody who is not the patient."""
        one = self.known[test]
        said: dict[str, str | date] = {"born": date(1985, 3, 2), "record_no": one.record_no}
        if identity == "other":
            said["record_no"] = "HC-9999"
        if identity == "one":
            del said["born"]
        legal = one.state == "booked" and identity == "right" and not stale
        version = one.version - 1 if stale else one.version
        if self.attempt(legal, lambda: arrive(
            self.scene.clinic, self.scene.bench, test_id=test, version=version, said=said,
            consent="spoken", carer="", token=self.token(),
        )):  # fmt: skip
            self.go_on(test, "arrived")

    @rule(test=tests)
    def prepare(self, test: str) -> None:
        """Answer the preparation: everything unknown, and a decision on each item."""
        one = self.known[test]
        rows = self.scene.clinic.rules.preparation.items
        answers = {
            row.id: Answer("unknown", None)
            for row in rows
            if row.answer != "told" and "lactose" in row.substrates and row.fits_age(41.7)
        }
        legal = one.state in RUNNING and not one.prepared
        if not self.attempt(legal, lambda: answer_preparation(
            self.scene.clinic, self.scene.bench, test_id=test, version=0, guidance="service",
            answers=answers, token=self.token(),
        )):  # fmt: skip
            return
        with self.record.look() as look:
            kept = look.find(Preparation, {"test_id": test})[0]
            items = judged_items(self.scene.clinic, look, look.get(Test, test).entry, kept.entry)
        for number, item in enumerate(item.id for item in items if item.needs_decision):
            self.attempt(True, lambda item=item, number=number: decide_preparation(  # type: ignore[misc]
                self.scene.clinic, self.scene.bench, test_id=test, version=1 + number, item=item,
                go_ahead=True, by_name="Dr L. Harbour", reason="came from far", token=self.token(),
            ))  # fmt: skip
        one.prepared = True

    @rule(test=tests, asked=st.booleans())
    def screen(self, test: str, asked: bool) -> None:
        """Answer all safety questions with no, or leave one out."""
        one = self.known[test]
        answers = {row.id: "no" for row in self.scene.clinic.rules.safety.questions}
        if not asked:
            del answers["galactosaemia"]
        legal = one.state in RUNNING and not one.safe
        if self.attempt(legal and asked, lambda: answer_safety(
            self.scene.clinic, self.scene.bench, test_id=test, version=0,
            answers=answers if asked else {**answers, "galactosaemia": "perhaps"},
            token=self.token(),
        )):  # fmt: skip
            one.safe = True

    @rule(test=tests, by=st.sampled_from(["bench", "auditor"]))
    def clear(self, test: str, by: str) -> None:
        """Clear the patient for the drink."""
        one = self.known[test]
        who: Actor = getattr(self.scene, by)
        legal = one.state == "arrived" and one.prepared and one.safe and by == "bench"
        if self.attempt(legal, lambda: clear_test(
            self.scene.clinic, who, test_id=test, version=one.version, token=self.token()
        )):  # fmt: skip
            self.go_on(test, "cleared")

    @rule(
        test=tests,
        minute=st.sampled_from([0.0, 30.0, 60.0, 75.0]),
        label=st.sampled_from(["right", "other"]),
        again=st.booleans(),
    )
    def breath(self, test: str, minute: float, label: str, again: bool) -> None:
        """Take a breath, of the right patient or another's, and perhaps send it twice."""
        one = self.known[test]
        planned = {"cleared": (0.0,), "sampling": PLANNED}.get(one.state, ())
        legal = minute in planned and label == "right"
        typed = Typed(5.0 + minute / 10.0, 2.0, None, None)
        name = self.token()

        def take() -> SampleTry:
            return take_sample(
                self.scene.clinic, self.scene.bench, test_id=test,
                checked=Checked(test if label == "right" else "someone else", {}), breath=typed,
                typed_again=typed, confirmed=True, to_repeat=False, at=None,
                planned_minute=minute, analyser_id=self.scene.analyser.id, note="", token=name,
            )  # fmt: skip

        if self.attempt(legal, take):
            if again:
                first = take()
                assert self.head() == self.acts
                with self.record.look() as look:
                    assert look.get(SampleTry, first.id).version == 1
            with self.record.look() as look:
                (kept,) = look.written_by(SampleTry, look.done(name) or 0)
            one.tries[kept.entry.id] = (minute, "ok")

    @rule(test=tests, minute=st.sampled_from(PLANNED))
    def miss(self, test: str, minute: float) -> None:
        """Record that a sample was missed."""
        one = self.known[test]
        legal = one.state == "sampling" and minute in one.open_minutes()
        name = self.token()
        if self.attempt(legal, lambda: miss_sample(
            self.scene.clinic, self.scene.bench, test_id=test, planned_minute=minute,
            why="called away", token=name,
        )):  # fmt: skip
            with self.record.look() as look:
                (kept,) = look.written_by(SampleTry, look.done(name) or 0)
            one.tries[kept.entry.id] = (minute, "missed")

    @rule(test=tests, with_breath=st.booleans())
    def decide(self, test: str, with_breath: bool) -> None:
        """Decide to go ahead, by the fasting breaths or by none."""
        one = self.known[test]
        uses = tuple(one.fasting()) if with_breath else ()
        after = one.state in ("dosed", "sampling", "finished", "stopped")
        legal = (one.state == "cleared" or after) and bool(uses)
        if self.attempt(legal, lambda: decide_baseline(
            self.scene.clinic, self.scene.bench, test_id=test, choice="go", rule="mean", uses=uses,
            why="as the protocol says", token=self.token(),
        )):  # fmt: skip
            one.decided = True

    @rule(test=tests, prepared_g=st.sampled_from([25.0, 30.0]))
    def dose(self, test: str, prepared_g: float) -> None:
        """Prepare the drink, as it was worked out or too much of it."""
        one = self.known[test]
        legal = one.state == "cleared" and prepared_g == 25.0 and not one.dose
        if self.attempt(legal, lambda: prepare_dose(
            self.scene.clinic, self.scene.bench, test_id=test, version=0, rule="lactose-adult-25",
            prepared_g=prepared_g, lot="LA-1", expiry=date(2027, 3, 1), token=self.token(),
        )):  # fmt: skip
            one.dose = True

    @rule(test=tests)
    def drink(self, test: str) -> None:
        """Hand the drink over."""
        one = self.known[test]
        legal = one.state == "cleared" and one.decided and one.dose
        if self.attempt(legal, lambda: hand_over(
            self.scene.clinic, self.scene.bench, test_id=test, version=one.version,
            token=self.token(),
        )):  # fmt: skip
            self.go_on(test, "dosed")

    @rule(test=tests)
    def start(self, test: str) -> None:
        """Record minute 0, and let a minute pass."""
        one = self.known[test]
        self.clock.pass_minutes(1)
        if self.attempt(one.state == "dosed", lambda: record_t0(
            self.scene.clinic, self.scene.bench, test_id=test, version=one.version, at=None,
            drunk="all", token=self.token(),
        )):  # fmt: skip
            self.go_on(test, "sampling")
            self.clock.pass_minutes(1)

    @rule(test=tests, other=tests, minute=st.sampled_from([0.0, 30.0]))
    def move(self, test: str, other: str, minute: float) -> None:
        """Move a breath to another test."""
        one, target = self.known[test], self.known[other]
        movable = [name for name, (_, status) in one.tries.items() if status == "ok"]
        sample = movable[0] if movable else "nothing"
        # Its minute in the other test is that of when it was given; only a fasting breath can be
        # named one there, and the model knows no more than that it may be refused.
        name = self.token()
        before = self.head()
        try:
            moved = move_sample(
                self.scene.clinic, self.scene.bench, sample_id=sample, version=1, to_test_id=other,
                planned_minute=minute, why="two bags were swapped", will_amend=False, token=name,
            )  # fmt: skip
        except EbblineError:
            assert self.head() == before
            return
        changed = ("cleared", "dosed", "sampling", "finished", "stopped")
        assert (movable != [], test != other) == (True, True)
        assert one.state in changed
        assert target.state in changed
        self.acts += 1
        self.reached["moved"] = self.reached.get("moved", 0) + 1
        one.tries[sample] = (one.tries[sample][0], "moved")
        target.tries[moved.id] = (moved.planned_minute, "ok")

    @rule(test=tests, why=st.sampled_from(["felt faint", " "]))
    def stop(self, test: str, why: str) -> None:
        """Stop a test, with a reason or without."""
        one = self.known[test]
        legal = one.state in RUNNING and why.strip() != ""
        if self.attempt(legal, lambda: stop_test(
            self.scene.clinic, self.scene.bench, test_id=test, version=one.version, why=why,
            decided_by="M. Tide", token=self.token(),
        )):  # fmt: skip
            self.go_on(test, "stopped")

    @rule(test=tests)
    def finish(self, test: str) -> None:
        """Finish a test."""
        one = self.known[test]
        legal = one.state == "sampling" and not one.open_minutes()
        if self.attempt(legal, lambda: finish_test(
            self.scene.clinic, self.scene.bench, test_id=test, version=one.version,
            token=self.token(),
        )):  # fmt: skip
            self.go_on(test, "finished")

    @rule(test=tests, other=tests)
    def mix_up(self, test: str, other: str) -> None:
        """Bring two tests to the bench, take a breath of one for the other, and move it."""
        for one in (test, other):
            self.bring(one, "sampling")
        self.breath(test, 60.0, "right", False)
        self.move(test, other, 30.0)
        self.move(test, other, 0.0)

    @rule(test=tests, to=st.sampled_from(RUNNING))
    def bring(self, test: str, to: str) -> None:
        """Do what is due, one act after the other, until the test stands there."""
        one = self.known[test]
        for state, acts in self.due(test):
            if one.state == state and state != to:
                for act in acts:
                    act()

    def due(self, test: str) -> list[tuple[str, list[Callable[[], None]]]]:
        """Return for each state the acts that lead on from it."""
        return [
            ("booked", [lambda: self.arrive(test, "right", False)]),
            (
                "arrived",
                [
                    lambda: self.prepare(test),
                    lambda: self.screen(test, True),
                    lambda: self.clear(test, "bench"),
                ],
            ),
            (
                "cleared",
                [
                    lambda: self.breath(test, 0.0, "right", False),
                    lambda: self.decide(test, True),
                    lambda: self.dose(test, 25.0),
                    lambda: self.drink(test),
                ],
            ),
            ("dosed", [lambda: self.start(test)]),
        ]

    @rule(test=tests)
    def see_out(self, test: str) -> None:
        """Take or miss every sample that is open, and finish."""
        for number, minute in enumerate(sorted(self.known[test].open_minutes())):
            if number % 2:
                self.miss(test, minute)
            else:
                self.breath(test, minute, "right", True)
        self.finish(test)

    @invariant()
    def the_record_is_what_the_model_says(self) -> None:
        """Each test stands where the model has it, with the same tries."""
        if not hasattr(self, "record"):
            return
        with self.record.look() as look:
            for test_id, one in self.known.items():
                kept = look.get(Test, test_id)
                assert (kept.entry.state, kept.version) == (one.state, one.version)
                tries = look.find(SampleTry, {"test_id": test_id})
                assert {
                    found.entry.id: (found.entry.planned_minute, found.entry.status)
                    for found in tries
                } == one.tries


@pytest.mark.parametrize("database", ["sqlite", "postgresql"])
def test_any_sequence_of_use_cases_does_what_the_model_says(
    database: str, request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Legal acts are done, illegal ones refused whole; and the chain verifies at the end."""
    if database == "sqlite":
        blank = request.getfixturevalue("blank_file")

        def new_address() -> str:
            return copy_of(blank, tmp_path_factory.mktemp("machine") / "clinic.ebbline")
    else:
        server = request.getfixturevalue("server")

        def new_address() -> str:
            return str(server.new_database(template="template_record"))

    reached: dict[object, int] = {}
    machine = type(
        "Machine",
        (ClinicMachine,),
        {"new_address": staticmethod(new_address), "reached": reached},
    )
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=15,
            stateful_step_count=40,
            derandomize=True,
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
    # The sequences went everywhere, or the test would say little.
    wanted = {True, False, "moved", "stopped", "finished", *RUNNING}
    assert wanted <= set(reached), reached
