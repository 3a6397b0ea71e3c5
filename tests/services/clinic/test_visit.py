"""Two whole visits from the referral to minute 0, by the use cases alone, and read back."""

from dataclasses import replace
from datetime import date, datetime, timedelta

from ebbline.core.clinic.identify import fold_name
from ebbline.core.clinic.preparation import Answer
from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.people import Identity, Referral
from ebbline.core.clinic.record.visit import (
    Arrival,
    Booking,
    Clearance,
    Dose,
    Preparation,
    Screening,
    Test,
)
from ebbline.core.clinic.safety import Clearance as Decision
from ebbline.core.errors import ClinicError, SafetyError
from ebbline.services.clinic.desk import Actor
from ebbline.services.clinic.people.refer import Request, refer
from ebbline.services.clinic.people.register_patient import Person, register_patient
from ebbline.services.clinic.visit.answer_preparation import answer_preparation, decide_preparation
from ebbline.services.clinic.visit.answer_safety import answer_safety, safety_gate
from ebbline.services.clinic.visit.arrive import arrive
from ebbline.services.clinic.visit.book_test import Plan, book_test
from ebbline.services.clinic.visit.clear_test import clear_test
from ebbline.services.clinic.visit.hand_over import hand_over
from ebbline.services.clinic.visit.prepare_dose import prepare_dose
from ebbline.services.clinic.visit.record_clearance import record_clearance
from ebbline.services.clinic.visit.record_t0 import correct_t0, record_t0
from ebbline.services.clinic.visit.second_check import second_check
from ebbline.services.clinic.visit.weigh import weigh
from tests.scene import MORNING, Scene
from tests.services.clinic.breaths import go, take
from tests.services.clinic.given import (
    AT_HALF_PAST_EIGHT,
    BEN,
    FRUCTOSE,
    LACTOSE,
    REQUEST,
    all_kept,
    all_no,
    refused,
    stands,
)

IDA = Person("Küste", "Ida", date(1979, 6, 14), "HC-1002", "", "")
DOUBT = "hereditary-fructose-intolerance"
BAR = "hereditary-fructose-intolerance-in-doubt"
GO_AHEAD = Decision(
    bar=BAR,
    substrate="fructose",
    answer="unknown",
    go_ahead=True,
    by_name="Dr L. Harbour",
    by_kind="doctor",
    reason="eats fruit every day without harm",
)


def sent(scene: Scene, person: Person, request: Request, plan: Plan) -> Test:
    """Register and refer somebody, and book the test."""
    patient = register_patient(
        scene.clinic, scene.bench, person=person, sex="unknown", language="en", invented=True,
        not_these=(), token=None,
    )  # fmt: skip
    referral = refer(scene.clinic, scene.bench, patient_id=patient.id, request=request, token=None)
    return book_test(
        scene.clinic, scene.bench, referral_id=referral.id, plan=plan,
        appointment=AT_HALF_PAST_EIGHT, token=None,
    ).test  # fmt: skip


def received(scene: Scene, test: Test, person: Person) -> None:
    """Receive the patient, by a name in capitals without its accent."""
    said: dict[str, str | date] = {
        "family_name": fold_name(person.family_name).upper(),
        "born": person.born or date.min,
    }
    arrive(
        scene.clinic, scene.bench, test_id=test.id, version=version_of(scene, test), said=said,
        consent="signed on paper", carer="", token=None,
    )  # fmt: skip


def version_of(scene: Scene, test: Test) -> int:
    """Return the version in which a test stands."""
    return scene.version_of(test)


def trail(scene: Scene) -> list[tuple[str, str]]:
    """Return every act after those of the scene: its name, and who did it."""
    with scene.clinic.record.look() as look:
        return [
            (one.act, one.by) for one in look.acts_after(0) if one.act not in ("scene", "adopt")
        ]


def test_an_adult_is_tested_with_lactose(scene: Scene) -> None:
    """A deviation is decided on, and minute 0 is put right."""
    test = sent(scene, IDA, REQUEST, LACTOSE)
    received(scene, test, IDA)
    # From 14 June to 27 November 2026 are 166 of 365 days.
    assert test.age_years == 47.45
    answers = all_kept("lactose", age_years=47.45) | {"smoking": Answer("yes", None)}
    answer_preparation(
        scene.clinic, scene.bench, test_id=test.id, version=0, guidance="service", answers=answers,
        token=None,
    )  # fmt: skip
    answer_safety(
        scene.clinic, scene.bench, test_id=test.id, version=0, answers=all_no("lactose"), token=None
    )
    with refused(
        scene,
        ClinicError,
        "preparation: not every item was kept, or decided on; allowed: items that were kept, or a "
        "named person's decision to go ahead; came: smoking (not kept): answered yes",
    ):
        clear_test(scene.clinic, scene.bench, test_id=test.id, version=2, token=None)
    decide_preparation(
        scene.clinic, scene.bench, test_id=test.id, version=1, item="smoking", go_ahead=True,
        by_name="Dr L. Harbour", reason="one cigarette at six", token=None,
    )  # fmt: skip
    clear_test(scene.clinic, scene.bench, test_id=test.id, version=2, token=None)
    go(scene, test, take(scene, test, 5.0))
    prepare_dose(
        scene.clinic, scene.bench, test_id=test.id, version=0, rule="lactose-adult-25",
        prepared_g=25.1, lot="L1", expiry=date(2027, 6, 30), token=None,
    )  # fmt: skip
    hand_over(scene.clinic, scene.bench, test_id=test.id, version=3, token=None)
    scene.clock.pass_minutes(30)
    record_t0(
        scene.clinic, scene.bench, test_id=test.id, version=4, at=None, drunk="all", token=None
    )
    earlier = MORNING - timedelta(minutes=2)
    correct_t0(
        scene.clinic, scene.bench, test_id=test.id, version=5, at=earlier, why="late tap",
        token=None,
    )  # fmt: skip

    with scene.clinic.look(scene.auditor) as look:
        history = look.versions(Test, test.id)
    states = ["booked", "arrived", "cleared", "dosed", "sampling", "sampling"]
    assert [one.entry.state for one in history] == states
    t0: list[datetime | None] = [None, None, None, None, MORNING, earlier]
    assert [one.entry.t0 for one in history] == t0
    preparation = stands(scene, Preparation, test_id=test.id).entry
    assert preparation.decisions["smoking"]["by"] == "Dr L. Harbour"
    assert preparation.reasons == {"smoking": "one cigarette at six"}
    assert stands(scene, Arrival, test_id=test.id).entry.checked == ("family_name", "born")
    dose = stands(scene, Dose, test_id=test.id).entry
    assert (dose.dose_g, dose.prepared_g, dose.drunk, dose.checked_by) == (25.0, 25.1, "all", None)
    bench = scene.bench.user_id
    assert trail(scene) == [
        (act, bench)
        for act in (
            "register patient", "refer", "book", "arrive", "answer preparation", "answer safety",
            "answer preparation", "clear test", "take sample", "decide baseline", "prepare dose",
            "hand over", "record T0", "correct T0",
        )
    ]  # fmt: skip


def test_a_child_is_tested_with_fructose(scene: Scene) -> None:
    """A doctor decides on the doubt, and a second person checks the dose."""
    request = replace(REQUEST, indication="pain after juice", alarm_features=None)
    test = sent(scene, BEN, request, FRUCTOSE)
    received(scene, test, BEN)
    answer_preparation(
        scene.clinic, scene.bench, test_id=test.id, version=0, guidance="service",
        answers=all_kept("fructose", age_years=9.73), token=None,
    )  # fmt: skip
    answer_safety(
        scene.clinic, scene.bench, test_id=test.id, version=0,
        answers={**all_no("fructose"), DOUBT: "unknown"}, token=None,
    )  # fmt: skip
    closed = safety_gate(scene.clinic, scene.bench, test_id=test.id).closed
    assert [(one.bar, one.by) for one in closed] == [(BAR, "doctor")]
    says = closed[0].says
    with refused(
        scene,
        SafetyError,
        "substrate: fructose, plain mix, may not be given; allowed: a drink before which no bar is "
        f"closed; came: {BAR} (decision missing, by doctor): {says}",
    ):
        clear_test(scene.clinic, scene.bench, test_id=test.id, version=2, token=None)
    record_clearance(scene.clinic, scene.reviewer, test_id=test.id, decision=GO_AHEAD, token=None)
    with refused(
        scene,
        ClinicError,
        "state: cannot go from arrived to cleared yet; allowed: cleared when the preparation is "
        "answered and every deviation has a decision, the safety questions are answered and no bar "
        "is closed, a child is weighed; came: not yet that a child is weighed",
    ):
        clear_test(scene.clinic, scene.bench, test_id=test.id, version=2, token=None)
    weigh(
        scene.clinic, scene.bench, test_id=test.id, version=2, weight_kg=17.3, second_kg=17.3,
        token=None,
    )  # fmt: skip
    clear_test(scene.clinic, scene.bench, test_id=test.id, version=3, token=None)
    go(scene, test, take(scene, test, 5.0))
    # 0.5 g/kg × 17.3 kg = 8.65 g, rounded down to what the balance shows.
    prepare_dose(
        scene.clinic, scene.bench, test_id=test.id, version=0, rule="fructose-child-0.5-10",
        prepared_g=8.6, lot="F1", expiry=date(2027, 6, 30), token=None,
    )  # fmt: skip
    with refused(
        scene,
        ClinicError,
        "state: cannot go from cleared to dosed yet; allowed: dosed when the safety questions are "
        "answered and no bar is closed, the decision on the fasting readings is to go ahead, the "
        "dose is prepared as it was worked out, a second person checked the dose where the dose "
        "rule asks for it; came: not yet that a second person checked the dose where the dose rule "
        "asks for it",
    ):
        hand_over(scene.clinic, scene.bench, test_id=test.id, version=4, token=None)
    check_by(scene, test, scene.second)
    hand_over(scene.clinic, scene.bench, test_id=test.id, version=4, token=None)
    scene.clock.pass_minutes(15)
    record_t0(
        scene.clinic, scene.second, test_id=test.id, version=5, at=None, drunk="part", token=None
    )

    found = stands(scene, Test, id=test.id).entry
    assert (found.state, found.t0) == ("sampling", scene.clock.at)
    assert (found.weight_kg, found.age_years, found.invented) == (17.3, 9.73, True)
    dose = stands(scene, Dose, test_id=test.id).entry
    assert (dose.dose_g, dose.cap_used, dose.drunk) == (8.6, False, "part")
    assert (dose.prepared_by, dose.checked_by) == (scene.bench.user_id, scene.second.user_id)
    clearance = stands(scene, Clearance, test_id=test.id).entry
    assert (clearance.by_name, clearance.by_kind, clearance.reason) == (
        "Dr L. Harbour", "doctor", "eats fruit every day without harm",
    )  # fmt: skip
    assert stands(scene, Screening, test_id=test.id).entry.answers[DOUBT] == "unknown"
    assert not stands(scene, Referral, id=test.referral_id).entry.alarm_answered
    assert stands(scene, Identity, patient_id=test.patient_id).entry.given_name == "Ben"
    assert stands(scene, Booking, test_id=test.id).entry.slot == MORNING
    assert stands(scene, SampleTry, test_id=test.id).entry.label == "B1"
    names = {scene.bench.user_id, scene.second.user_id, scene.reviewer.user_id}
    assert {by for _, by in trail(scene)} == names


def check_by(scene: Scene, test: Test, second: Actor) -> None:
    """Check the dose as a second person, after the first one tried."""
    with refused(
        scene,
        ClinicError,
        "second_check: one person prepared the dose and checked it; allowed: two different people; "
        f"came: {scene.bench.user_id} twice",
    ):
        second_check(scene.clinic, scene.bench, test_id=test.id, version=1, token=None)
    second_check(scene.clinic, second, test_id=test.id, version=1, token=None)
