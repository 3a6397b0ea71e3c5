"""Two patients never become one on record, nor one patient two."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from ebbline.core.clinic.record.people import Identity, Patient
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import AccessError, ClinicError, ConflictError, FieldError
from ebbline.services.clinic.people.register_patient import (
    Person,
    correct_identity,
    identity_of,
    register_patient,
)
from tests.scene import Scene
from tests.services.clinic.given import BEN, last_act, refused, registered, stands


def register(scene: Scene, person: Person, **changes: Any) -> Patient:
    """Register a patient, with some arguments changed."""
    values: dict[str, Any] = {
        "sex": "male", "language": "en", "invented": True, "not_these": (), "token": None,
    } | changes  # fmt: skip
    return register_patient(scene.clinic, scene.bench, person=person, **values)


def correct(scene: Scene, person: Person, *, version: int = 1, why: str = "misread") -> Identity:
    """Correct who Ben is."""
    patient = stands(scene, Identity, record_no="HC-1001").entry.patient_id
    return correct_identity(
        scene.clinic, scene.bench, patient_id=patient, version=version, person=person, why=why,
        token=None,
    )  # fmt: skip


def test_a_patient_is_registered_with_who_they_are_apart(scene: Scene) -> None:
    """The patient has no name; the identity has."""
    patient = register(scene, replace(BEN, family_name=" Shore "))
    assert stands(scene, Patient, id=patient.id).entry == patient
    identity = stands(scene, Identity, patient_id=patient.id).entry
    assert (identity.family_name, identity.born) == ("Shore", date(2017, 3, 2))


def test_the_same_registration_sent_twice_is_one_patient(scene: Scene) -> None:
    """And another one under its token is refused."""
    first = register(scene, BEN, token="t1")
    assert register(scene, BEN, token="t1") == first
    with pytest.raises(FieldError, match="token: this was sent before with other content"):
        register(scene, replace(BEN, record_no="HC-1002"), token="t1")
    with scene.clinic.record.look() as look:
        assert look.count(Patient) == 1


@pytest.mark.parametrize("number", ["HC-1001", " hc-1001", "HC - 1001"])
def test_a_record_number_is_given_once(scene: Scene, number: str) -> None:
    """However it is typed."""
    registered(scene)
    other = Person("Quay", "Rose", date(1990, 1, 1), number, "", "")
    with refused(
        scene,
        ClinicError,
        "record_no: another patient has this record number; allowed: a number that no patient "
        f"has; came: {number.strip()}",
    ):
        register(scene, other)


def test_a_patient_who_looks_the_same_is_never_registered_silently(scene: Scene) -> None:
    """Until somebody says that it is another; the warning in the chain holds no name."""
    ben = registered(scene)
    twin = replace(BEN, family_name="SHÖRE", record_no="HC-1002")
    with refused(
        scene,
        FieldError,
        "family_name: a patient who looks the same is on record; allowed: the patient HC-1001, or "
        "a new one once it is said that it is another; came: SHÖRE, Ben",
    ):
        register(scene, twin)
    register(scene, twin, not_these=(ben.id,))
    _, _, body = last_act(scene)
    assert "patients who look the same were on record: 1" in body
    assert "Ben" not in body


def test_the_same_national_number_looks_the_same(scene: Scene) -> None:
    """Whatever the name: somebody may have married."""
    registered(scene, replace(BEN, national_no="N 7"))
    with pytest.raises(FieldError, match="a patient who looks the same is on record"):
        register(scene, Person("Quay", "Rose", date(1990, 1, 1), "HC-1002", "n7", ""))


def test_the_same_name_with_another_birth_date_is_another_patient(scene: Scene) -> None:
    """Of whom nothing is asked."""
    registered(scene)
    register(scene, replace(BEN, born=date(2016, 3, 2), record_no="HC-1002"))
    with scene.clinic.record.look() as look:
        assert look.count(Patient) == 2


@pytest.mark.parametrize(
    ("person", "changes", "text"),
    [
        (
            replace(BEN, family_name=" "),
            {},
            "family_name: missing; allowed: the family name; came: nothing",
        ),
        (
            replace(BEN, record_no=""),
            {},
            "record_no: missing; allowed: the record number of the patient; came: nothing",
        ),
        (
            replace(BEN, born=date(2026, 11, 28)),
            {},
            "born: not a date of birth; allowed: from 1896 to 2026-11-27; came: 2026-11-28",
        ),
        (
            BEN,
            {"sex": ""},
            "sex: not one of the choices; allowed: female, male, other or unknown; came: nothing",
        ),
        (
            BEN,
            {"language": "English"},
            "language: not a language tag; allowed: a tag such as en or pt-BR; came: English",
        ),
    ],
)
def test_what_cannot_be_is_refused(
    scene: Scene, person: Person, changes: dict[str, Any], text: str
) -> None:
    """The refusal names the field."""
    with refused(scene, FieldError, text):
        register(scene, person, **changes)


def test_an_auditor_registers_nobody(scene: Scene) -> None:
    """Whoever only reads changes nothing."""
    with pytest.raises(AccessError, match="this role may not register a patient"):
        register_patient(
            scene.clinic, scene.auditor, person=BEN, sex="male", language="en", invented=True,
            not_these=(), token=None,
        )  # fmt: skip


def test_a_correction_keeps_what_stood(scene: Scene) -> None:
    """Both versions are there, and the reason."""
    registered(scene)
    corrected = correct(scene, replace(BEN, given_name="Benedict"))
    with scene.clinic.record.look() as look:
        names = [one.entry.given_name for one in look.versions(Identity, corrected.id)]
    assert names == ["Ben", "Benedict"]
    assert last_act(scene)[:2] == ("correct identity", "misread")


def test_a_correction_that_makes_two_look_the_same_is_warned_of(scene: Scene) -> None:
    """It may be right, so it is not refused."""
    registered(scene, replace(BEN, given_name="Bo", record_no="HC-1002"))
    registered(scene)
    correct(scene, replace(BEN, given_name="Bo"))
    assert "patients who look the same were on record: 1" in last_act(scene)[2]


def test_a_correction_sent_twice_is_one(scene: Scene) -> None:
    """The second call returns what the first wrote."""
    patient = registered(scene)
    values: dict[str, Any] = {
        "patient_id": patient.id, "version": 1, "person": replace(BEN, contact="none"),
        "why": "moved", "token": "t2",
    }  # fmt: skip
    first = correct_identity(scene.clinic, scene.bench, **values)
    assert correct_identity(scene.clinic, scene.bench, **values) == first


def test_a_correction_of_what_changed_meanwhile_is_refused(scene: Scene) -> None:
    """Somebody else was quicker."""
    registered(scene)
    correct(scene, replace(BEN, given_name="Benedict"))
    with pytest.raises(ConflictError):
        correct(scene, replace(BEN, given_name="Benno"))


def test_a_correction_needs_a_reason_and_a_free_number(scene: Scene) -> None:
    """Neither the number of another patient nor a blank reason is taken."""
    registered(scene, Person("Quay", "Rose", date(1990, 1, 1), "HC-1002", "", ""))
    registered(scene)
    with refused(scene, FieldError, "why: missing; allowed: a reason in words; came: nothing"):
        correct(scene, BEN, why=" ")
    with pytest.raises(ClinicError, match="another patient has this record number"):
        correct(scene, replace(BEN, record_no="HC-1002"))


@pytest.mark.parametrize(
    ("state", "age_years"), [("booked", 46.73), ("sampling", 46.73), ("signed", 41.7)]
)
def test_a_new_birth_date_changes_the_age_in_tests_that_are_not_signed(
    scene: Scene, state: str, age_years: float
) -> None:
    """From 2 March 1980 to 27 November 2026 are 46 years and 270 of 365 days."""
    test = scene.test(substrate="lactose", state=state)
    with scene.clinic.record.look() as look:
        known = identity_of(look, test.patient_id).entry
    person = Person("Shore", "Ada", date(1980, 3, 2), known.record_no, "", "")
    correct_identity(
        scene.clinic, scene.bench, patient_id=test.patient_id, version=1, person=person,
        why="misread", token=None,
    )  # fmt: skip
    assert stands(scene, Test, id=test.id).entry.age_years == age_years


def test_a_birth_date_that_is_taken_back_leaves_no_age(scene: Scene) -> None:
    """Nobody doses by an age that nobody knows."""
    test = scene.test(substrate="lactose", state="booked")
    person = Person("Shore", "Ada", None, "HC-0001", "", "")
    correct_identity(
        scene.clinic, scene.bench, patient_id=test.patient_id, version=1, person=person,
        why="of a sister", token=None,
    )  # fmt: skip
    assert stands(scene, Test, id=test.id).entry.age_years is None


def test_nobody_knows_who_an_unknown_patient_is(scene: Scene) -> None:
    """The refusal names the id that came."""
    with scene.clinic.record.look() as look, pytest.raises(FieldError) as caught:
        identity_of(look, "none")
    assert str(caught.value) == (
        "patient_id: there is no such patient; allowed: one that is in the record; came: none"
    )
