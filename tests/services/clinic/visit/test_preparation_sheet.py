"""The sheet that a patient takes home: real dates, and how to reach the service."""

import hashlib
from typing import Any

import pytest

from ebbline.core.clinic.record.people import Patient
from ebbline.core.clinic.record.visit import Booking, Test
from ebbline.core.clinic.sheet import sheet_text
from ebbline.core.errors import ClinicError, ConflictError, FieldError
from ebbline.services.clinic.service.change_setting import change_setting
from ebbline.services.clinic.visit.preparation_sheet import read_sheet, sheet_sent
from tests.scene import Scene
from tests.services.clinic.given import refused, stands


def settings(scene: Scene, **values: str) -> None:
    """Set what the sheet prints."""
    for name, value in values.items():
        change_setting(
            scene.clinic, scene.manager, name=name, value=value, version=0, why="", token=None
        )


def sent(scene: Scene, test: Test, **changes: Any) -> Booking:
    """Record that the sheet was sent."""
    values: dict[str, Any] = {"version": 1, "guidance": "service", "token": None} | changes
    return sheet_sent(scene.clinic, scene.bench, test_id=test.id, **values)


@pytest.mark.parametrize(("age_years", "child"), [(41.7, False), (9.7, True)])
def test_the_sheet_is_that_of_the_booking(scene: Scene, age_years: float, child: bool) -> None:
    """Its dates, its sugar, its reader, the service's contact, and that it is invented."""
    settings(scene, service="Harbour Clinic", contact="an invented number")
    test = scene.test(substrate="lactose", state="booked", age_years=age_years)
    sheet = read_sheet(scene.clinic, scene.bench, test_id=test.id, guidance="north-american-2017")
    text = sheet_text(sheet)
    assert stands(scene, Patient, id=test.patient_id).entry.invented
    assert sheet.mark is not None
    assert sheet.mark.startswith("INVENTED")
    assert "breath test with lactose" in text
    assert "Your test is on Friday 27 November at 08:30, at Harbour Clinic." in text
    assert "From Friday 30 October: no antibiotics." in text
    assert "if you can not come: an invented number." in text
    assert ("Is this sheet for your child?" in text) is child


@pytest.mark.parametrize(
    ("known", "missing"), [({}, "service"), ({"service": "Harbour Clinic"}, "contact")]
)
def test_a_sheet_without_a_service_or_a_contact_is_none(
    scene: Scene, known: dict[str, str], missing: str
) -> None:
    """A patient must be able to call."""
    settings(scene, **known)
    test = scene.test(substrate="lactose", state="booked")
    with refused(
        scene,
        FieldError,
        f"{missing}: not set yet; allowed: the setting {missing}, which the sheet prints; came: "
        "nothing",
    ):
        read_sheet(scene.clinic, scene.bench, test_id=test.id, guidance="service")


def test_a_sheet_that_was_sent_is_known_by_its_text(scene: Scene) -> None:
    """Sent twice it is one act; an older sight conflicts."""
    settings(scene, service="Harbour Clinic", contact="an invented number")
    test = scene.test(substrate="lactose", state="booked")
    first = sent(scene, test, token="t1")
    assert sent(scene, test, token="t1") == first
    guidance, digest = first.sheet_release.split()
    assert guidance == "service"
    sheet = read_sheet(scene.clinic, scene.bench, test_id=test.id, guidance="service")
    # The digest by the standard library, over the text in UTF-8.
    assert digest == hashlib.sha256(sheet_text(sheet).encode()).hexdigest()[:12]
    other = sent(scene, test, version=2, guidance="north-american-2017")
    assert other.sheet_release.split()[1] != digest
    with pytest.raises(ConflictError):
        sent(scene, test, version=1)


def test_no_sheet_is_sent_to_a_patient_who_is_here(scene: Scene) -> None:
    """It would come too late."""
    test = scene.test(substrate="lactose", state="arrived")
    with refused(
        scene,
        ClinicError,
        "state: this is not done to a test that stands there; allowed: booked; came: arrived",
    ):
        sent(scene, test)
