"""A test is booked by adopted documents only, for a patient whose age is known."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest

from ebbline.core.clinic.record.staff import Adoption, Analyser
from ebbline.core.clinic.record.visit import Booking, Test
from ebbline.core.errors import ClinicError, ConflictError, EbblineError, FieldError, list_allowed
from ebbline.services.clinic.service.adopt import adopt
from ebbline.services.clinic.visit.book_test import (
    Appointment,
    Booked,
    Plan,
    book_test,
    change_booking,
)
from tests.scene import DOCUMENTS, MORNING, Scene
from tests.services.clinic.given import (
    AT_HALF_PAST_EIGHT,
    BEN,
    FRUCTOSE,
    LACTOSE,
    REQUEST,
    last_act,
    referred,
    refused,
    stands,
)

HINT = (
    "No finished test for bacterial overgrowth is on record. The North American consensus advises "
    "to exclude overgrowth before a test with this sugar: overgrowth can make it falsely "
    "positive."
)
LATER = replace(AT_HALF_PAST_EIGHT, slot=datetime(2027, 3, 2, 9, 0, tzinfo=UTC))


def book(scene: Scene, referral_id: str, plan: Plan = LACTOSE, **changes: Any) -> Booked:
    """Book a test."""
    values: dict[str, Any] = {"appointment": AT_HALF_PAST_EIGHT, "token": None} | changes
    return book_test(scene.clinic, scene.bench, referral_id=referral_id, plan=plan, **values)


def change(scene: Scene, test: Test, appointment: Appointment, **changes: Any) -> Booking:
    """Change a booking."""
    values: dict[str, Any] = {"version": 1, "why": "snow", "token": None} | changes
    return change_booking(
        scene.clinic, scene.bench, test_id=test.id, appointment=appointment, **values
    )


def test_a_booking_makes_a_test(scene: Scene) -> None:
    """With the adoptions as they are in force, minute 0 by the protocol, and the age that day."""
    booked = book(scene, referred(scene).id)
    test = stands(scene, Test, id=booked.test.id).entry
    assert (test.number, test.state, test.t0, test.t0_defined_as) == (
        1, "booked", None, "end of the drink",
    )  # fmt: skip
    assert test.protocol_id == scene.protocols["lactose-180"].id
    assert test.criterion_id == scene.criterion.id
    # From 2 March to 27 November 2026 are 270 of 365 days.
    assert (test.age_years, test.invented) == (9.73, True)
    assert stands(scene, Booking, test_id=test.id).entry == booked.booking


def test_tests_are_numbered_on(scene: Scene) -> None:
    """The second test is number 2, of whichever patient."""
    referral = referred(scene)
    book(scene, referral.id)
    assert book(scene, referral.id, FRUCTOSE).test.number == 2


def test_the_age_is_that_of_the_day_in_the_zone_of_the_clinic(scene: Scene) -> None:
    """In London it is still the day before the birthday."""
    east = timezone(timedelta(hours=10))
    slot = datetime(2027, 3, 2, 9, 0, tzinfo=east)
    booked = book(scene, referred(scene).id, appointment=replace(LATER, slot=slot))
    assert booked.test.age_years == 9.99


def test_an_overgrowth_test_first_is_a_note_and_no_block(scene: Scene) -> None:
    """It goes once such a test of the same patient has ended."""
    referral = referred(scene)
    assert book(scene, referral.id).notes == (HINT,)
    glucose = book(
        scene, referral.id, Plan("glucose", "plain", "glucose-120", LACTOSE.criterion, "")
    )
    assert glucose.notes == ()
    assert book(scene, referral.id).notes == (HINT,)
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.revise(replace(glucose.test, state="finished"), version=1)
    assert book(scene, referral.id).notes == ()


def test_alarm_features_are_noted(scene: Scene) -> None:
    """As named, or as never asked for."""
    named = referred(scene, replace(REQUEST, alarm_features=("anaemia",)))
    assert book(scene, named.id).notes[0] == (
        "Alarm features: anaemia. They go back to the referrer whatever a breath test says: ask "
        "whether something else comes first."
    )
    other = replace(BEN, record_no="HC-1002", given_name="Ida")
    unasked = referred(scene, replace(REQUEST, alarm_features=None), other)
    assert book(scene, unasked.id).notes[0] == "The referrer was not asked for alarm features."


def test_a_booking_sent_twice_is_one(scene: Scene) -> None:
    """Another one under its token is refused."""
    referral = referred(scene)
    first = book(scene, referral.id, token="t1")
    again = book(scene, referral.id, token="t1")
    assert (again.test.id, again.booking.id, again.notes) == (
        first.test.id, first.booking.id, first.notes,
    )  # fmt: skip
    with pytest.raises(FieldError, match="token: this was sent before with other content"):
        book(scene, referral.id, appointment=LATER, token="t1")


@pytest.mark.parametrize(
    ("plan", "appointment", "error", "text"),
    [
        (
            replace(LACTOSE, mix="stirred"),
            AT_HALF_PAST_EIGHT,
            FieldError,
            "mix: not one of the choices; allowed: plain, flavoured or unknown; came: stirred",
        ),
        (
            replace(LACTOSE, protocol="sea-water-60"),
            AT_HALF_PAST_EIGHT,
            ClinicError,
            (
                "protocol: this service has not adopted this protocol; allowed: "
                "{protocols}; came: sea-water-60"
            ),
        ),
        (
            replace(LACTOSE, criterion="rome-2009"),
            AT_HALF_PAST_EIGHT,
            ClinicError,
            (
                "rule_set: this service has not adopted this rule set; allowed: "
                "north-american-2017; came: rome-2009"
            ),
        ),
        (
            replace(LACTOSE, substrate="fructose"),
            AT_HALF_PAST_EIGHT,
            ClinicError,
            ("substrate: the protocol lactose-180 is not for it; allowed: lactose; came: fructose"),
        ),
        (
            LACTOSE,
            replace(LATER, slot=datetime(2026, 12, 1, 9, 0)),  # noqa: DTZ001 - it has no zone
            FieldError,
            (
                "slot: no time zone; allowed: a date and time with its zone; came: "
                "2026-12-01T09:00:00"
            ),
        ),
        (
            LACTOSE,
            replace(LATER, slot=datetime(2026, 11, 27, 7, 59, tzinfo=UTC)),
            FieldError,
            "slot: in the past; allowed: now or later; came: 2026-11-27T07:59:00+00:00",
        ),
        (
            LACTOSE,
            replace(LATER, analyser_id="none"),
            FieldError,
            (
                "analyser_id: there is no such analyser; allowed: one that is in the record; "
                "came: none"
            ),
        ),
    ],
)
def test_what_cannot_be_booked_is_refused(
    scene: Scene, plan: Plan, appointment: Appointment, error: type[EbblineError], text: str
) -> None:
    """The refusal names the field; no test is made."""
    referral = referred(scene)
    with scene.clinic.record.look() as look:
        adopted = look.find(Adoption, {"what": "protocol", "in_force": True})
        names = list_allowed(one.entry.name for one in adopted)
    with refused(scene, error, text.replace("{protocols}", names)):
        book(scene, referral.id, plan, appointment=appointment)


def test_nobody_is_booked_whose_birth_date_is_not_known(scene: Scene) -> None:
    """No dose could be worked out."""
    referral = referred(scene, REQUEST, replace(BEN, born=None))
    with refused(
        scene,
        FieldError,
        "born: the birth date of the patient is not known, and the dose depends on the age; "
        "allowed: a patient with a birth date; came: nothing",
    ):
        book(scene, referral.id)


def test_an_analyser_out_of_use_is_not_booked(scene: Scene) -> None:
    """One that is in use is."""
    referral = referred(scene)
    appointment = replace(LATER, analyser_id=scene.analyser.id)
    assert book(scene, referral.id, appointment=appointment).booking.analyser_id is not None
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.add(Analyser("a2", "analyser 2", "HC-A2", "electrochemical", "", False))
    with refused(
        scene,
        ClinicError,
        "analyser_id: this analyser is not in use; allowed: analyser 1; came: analyser 2",
    ):
        book(scene, referral.id, appointment=replace(LATER, analyser_id="a2"))


def test_a_sugar_without_a_dose_for_the_age_is_noted(scene: Scene) -> None:
    """The protocol as it was adopted has no row for a child under this name."""
    text = DOCUMENTS.offered("protocol", "fructose-180").replace('"child"', '"adult"')
    text = text.replace('"below_years":18,', '"below_years":2,').replace(
        '"release":"1"', '"release":"2"'
    )
    adopt(scene.clinic, scene.manager, what="protocol", text=text, adopted_by="R. Q.", token=None)
    notes = book(scene, referred(scene).id, FRUCTOSE).notes
    assert notes[-1] == "The protocol fructose-180 has no dose for 9.73 years."


def test_another_day_changes_the_age_and_takes_back_the_sheet(scene: Scene) -> None:
    """The dates on the sheet are wrong now."""
    test = book(scene, referred(scene).id).test
    booking = stands(scene, Booking, test_id=test.id)
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.revise(replace(booking.entry, sheet_release="service abc"), version=1)
    same_day = replace(AT_HALF_PAST_EIGHT, chair="chair 2")
    assert change(scene, test, same_day, version=2).sheet_release == "service abc"
    assert change(scene, test, LATER, version=3).sheet_release == ""
    assert stands(scene, Test, id=test.id).entry.age_years == 10.0
    assert last_act(scene)[:2] == ("change booking", "snow")


def test_the_chair_of_a_late_patient_may_change(scene: Scene) -> None:
    """A slot that has passed stays as it is, and another one in the past is refused."""
    test = book(scene, referred(scene).id).test
    scene.clock.pass_minutes(60)
    assert change(scene, test, replace(AT_HALF_PAST_EIGHT, chair="chair 3")).chair == "chair 3"
    slot = MORNING + timedelta(minutes=5)
    with refused(
        scene,
        FieldError,
        "slot: in the past; allowed: now or later; came: 2026-11-27T08:35:00+00:00",
    ):
        change(scene, test, replace(AT_HALF_PAST_EIGHT, slot=slot), version=2)


def test_a_change_sent_twice_is_one_and_an_older_sight_conflicts(scene: Scene) -> None:
    """Nothing is changed blindly, nor without a reason."""
    test = book(scene, referred(scene).id).test
    first = change(scene, test, LATER, token="t2")
    assert change(scene, test, LATER, token="t2").id == first.id
    with pytest.raises(ConflictError):
        change(scene, test, AT_HALF_PAST_EIGHT)
    with refused(scene, FieldError, "why: missing; allowed: a reason in words; came: nothing"):
        change(scene, test, LATER, version=2, why="")


def test_the_booking_of_a_patient_who_is_here_stays(scene: Scene) -> None:
    """It is what the preparation was counted back from."""
    test = scene.test(substrate="lactose", state="arrived")
    with refused(
        scene,
        ClinicError,
        "state: this is not done to a test that stands there; allowed: booked; came: arrived",
    ):
        change(scene, test, LATER)


def test_a_birthday_is_not_given_away(scene: Scene) -> None:
    """The day before 18 years is not 18, for doses of adults."""
    referral = referred(scene, REQUEST, replace(BEN, born=date(2008, 11, 28)))
    assert book(scene, referral.id).test.age_years == 17.99
