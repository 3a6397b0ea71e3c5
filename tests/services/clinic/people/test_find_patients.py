"""Patients are found by what a person can type."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from ebbline.core.errors import AccessError, FieldError
from ebbline.services.clinic.desk import Actor
from ebbline.services.clinic.people.find_patients import find_patients
from ebbline.services.clinic.people.register_patient import Person
from tests.scene import Scene
from tests.services.clinic.given import BEN, refused, registered

ROSE = Person("Quây-Ørsted", "Rose", date(1990, 1, 1), "HC-1002", "", "")


def found(scene: Scene, **given: Any) -> list[str]:
    """Return the record numbers that are found."""
    values = {"name": "", "record_no": "", "born": None} | given
    return [one.entry.record_no for one in find_patients(scene.clinic, scene.bench, **values)]


@pytest.mark.parametrize(
    ("given", "numbers"),
    [
        ({"name": "shore"}, ["HC-1001", "HC-1003"]),
        ({"name": "be sho"}, ["HC-1001"]),
        ({"name": "QUAY"}, ["HC-1002"]),
        ({"name": "orsted rose"}, ["HC-1002"]),
        ({"name": "hore"}, []),
        ({"record_no": "hc-1003"}, ["HC-1003"]),
        ({"record_no": "HC-10"}, []),
        ({"born": date(2017, 3, 2)}, ["HC-1001"]),
        ({"name": "shore", "born": date(1985, 5, 5)}, ["HC-1003"]),
        ({"name": "quay", "born": date(1985, 5, 5)}, []),
    ],
)
def test_a_patient_is_found_by_what_is_given(
    scene: Scene, given: dict[str, Any], numbers: list[str]
) -> None:
    """Beginnings of names without accents, a whole number, a date; all of it must fit."""
    for person in (
        BEN, ROSE, replace(BEN, given_name="Ida", born=date(1985, 5, 5), record_no="HC-1003"),
    ):  # fmt: skip
        registered(scene, person)
    assert found(scene, **given) == numbers


def test_nothing_given_finds_nobody(scene: Scene) -> None:
    """A list of all patients is no search."""
    with refused(
        scene,
        FieldError,
        "name: nothing to look for; allowed: a name, a record number or a date; came: nothing",
    ):
        found(scene, name=" - ")


def test_a_stranger_finds_nobody(scene: Scene) -> None:
    """Whoever is not a user reads nothing."""
    with pytest.raises(AccessError):
        find_patients(scene.clinic, Actor("none"), name="shore", record_no="", born=None)
