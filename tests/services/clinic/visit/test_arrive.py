"""Nobody arrives as somebody else: two identifiers, the right day, and consent."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from ebbline.core.clinic.record.visit import Arrival, Screening, Test
from ebbline.core.errors import ClinicError, ConflictError, EbblineError, FieldError
from ebbline.services.clinic.visit.arrive import arrive, undo_arrival
from ebbline.services.clinic.visit.book_test import book_test
from tests.scene import Scene
from tests.services.clinic.given import (
    AT_HALF_PAST_EIGHT,
    BEN,
    LACTOSE,
    REQUEST,
    arrived,
    last_act,
    put,
    referred,
    refused,
    stands,
)

BORN = date(2017, 3, 2)


def booked(scene: Scene) -> Test:
    """Book a test for Ben Shore."""
    referral = referred(scene)
    return book_test(
        scene.clinic, scene.bench, referral_id=referral.id, plan=LACTOSE,
        appointment=AT_HALF_PAST_EIGHT, token=None,
    ).test  # fmt: skip


def come(scene: Scene, test: Test, **changes: Any) -> Arrival:
    """Record that Ben has arrived."""
    values: dict[str, Any] = {
        "version": 1,
        "said": {"family_name": "Shore", "born": BORN},
        "consent": "spoken, by his mother",
        "carer": "his mother",
        "token": None,
    } | changes
    return arrive(scene.clinic, scene.bench, test_id=test.id, **values)


def undo(scene: Scene, test: Test, **changes: Any) -> Test:
    """Take the arrival back."""
    values: dict[str, Any] = {"version": 2, "why": "wrong line", "token": None} | changes
    return undo_arrival(scene.clinic, scene.bench, test_id=test.id, **values)


def test_an_arrival_keeps_what_was_checked_and_how_consent_was_given(scene: Scene) -> None:
    """The test goes on, and the same act sent twice is one."""
    test = booked(scene)
    first = come(scene, test, token="t1")
    assert come(scene, test, token="t1") == first
    found = stands(scene, Arrival, test_id=test.id).entry
    assert (found.checked, found.consent, found.carer) == (
        ("family_name", "born"), "spoken, by his mother", "his mother",
    )  # fmt: skip
    assert stands(scene, Test, id=test.id).entry.state == "arrived"


@pytest.mark.parametrize(
    ("said", "error", "text"),
    [
        (
            {"family_name": "Shore", "born": date(2017, 2, 3)},
            ClinicError,
            (
                "born: not what is on record for this patient; allowed: the patient of this test, "
                "and nobody else; came: 2017-02-03"
            ),
        ),
        (
            {"family_name": "Quay", "born": BORN},
            ClinicError,
            (
                "family_name: not what is on record for this patient; allowed: the patient of this "
                "test, and nobody else; came: Quay"
            ),
        ),
        (
            {"family_name": "Shore", "given_name": "Ben"},
            ClinicError,
            (
                "identity: not enough identifiers; allowed: two or more of name, date of birth, "
                "record number or national number; came: name"
            ),
        ),
    ],
)
def test_whoever_does_not_fit_does_not_arrive(
    scene: Scene, said: dict[str, Any], error: type[EbblineError], text: str
) -> None:
    """What is on record is not told."""
    test = booked(scene)
    with refused(scene, error, text):
        come(scene, test, said=said)


def test_whoever_fits_two_patients_of_the_day_is_asked_for_more(scene: Scene) -> None:
    """Twins share a name and a birth date; the record number tells them apart."""
    test = booked(scene)
    twin = referred(scene, REQUEST, replace(BEN, given_name="Bo", record_no="HC-1002"))
    book_test(
        scene.clinic, scene.bench, referral_id=twin.id, plan=LACTOSE,
        appointment=replace(AT_HALF_PAST_EIGHT, chair="chair 2"), token=None,
    )  # fmt: skip
    with refused(
        scene,
        ClinicError,
        "identity: what was said fits another patient of this day as well; allowed: one more "
        "identifier, such as the record number; came: family_name and born",
    ):
        come(scene, test)
    said = {"family_name": "SHORE", "born": BORN, "record_no": "hc-1001"}
    assert come(scene, test, said=said).checked == ("family_name", "born", "record_no")


def test_consent_is_recorded(scene: Scene) -> None:
    """In whatever words local rules ask for, but not without."""
    test = booked(scene)
    with refused(
        scene, FieldError, "consent: missing; allowed: how consent was given; came: nothing"
    ):
        come(scene, test, consent=" ")


def test_another_day_is_another_appointment(scene: Scene) -> None:
    """The preparation was counted back from the day that was booked."""
    test = booked(scene)
    scene.clock.pass_minutes(24 * 60)
    with refused(
        scene,
        ClinicError,
        "slot: the appointment is on another day; allowed: an arrival on 2026-11-27, or another "
        "appointment first; came: 2026-11-28",
    ):
        come(scene, test)


def test_nobody_arrives_twice_or_blindly(scene: Scene) -> None:
    """An older sight of the test conflicts."""
    test = booked(scene)
    with pytest.raises(ConflictError):
        come(scene, test, version=2)
    come(scene, test)
    with refused(
        scene,
        ClinicError,
        "state: no step leads from arrived to arrived; allowed: booked, cleared or stopped; "
        "came: arrived",
    ):
        come(scene, test)


def test_an_arrival_is_taken_back_and_stays_on_record(scene: Scene) -> None:
    """A weight that was taken meanwhile goes with it: it was of another patient."""
    test = booked(scene)
    come(scene, test)
    undone = undo(scene, test, token="t1")
    assert undo(scene, test, token="t1").id == undone.id
    assert (undone.state, undone.weight_kg) == ("booked", None)
    assert last_act(scene)[:2] == ("undo arrival", "wrong line")
    assert come(scene, test, version=3).test_id == test.id
    with scene.clinic.record.look() as look:
        assert look.count(Arrival) == 2


def test_an_arrival_with_something_recorded_since_stays(scene: Scene) -> None:
    """Nor is it taken back without a reason."""
    test = scene.test(substrate="lactose", state="arrived")
    arrived(scene, test)
    with refused(scene, FieldError, "why: missing; allowed: a reason in words; came: nothing"):
        undo(scene, test, version=1, why="")
    put(scene, Screening("s1", test.id, {}))
    with refused(
        scene,
        ClinicError,
        "state: cannot go from arrived to booked yet; allowed: booked when nothing was recorded "
        "since the arrival; came: not yet that nothing was recorded since the arrival",
    ):
        undo(scene, test, version=1)
