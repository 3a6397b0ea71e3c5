"""A referral says why a patient comes, and whether the referrer was asked for alarm features."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from ebbline.core.clinic.record.people import Referral
from ebbline.core.errors import ConflictError, FieldError
from ebbline.services.clinic.people.refer import Request, correct_referral, refer
from tests.scene import Scene
from tests.services.clinic.given import REQUEST, last_act, referred, refused, registered, stands


def correct(scene: Scene, referral: Referral, request: Request, **changes: Any) -> Referral:
    """Correct a referral."""
    values: dict[str, Any] = {"version": 1, "why": "read again", "token": None} | changes
    return correct_referral(
        scene.clinic, scene.bench, referral_id=referral.id, request=request, **values
    )


@pytest.mark.parametrize(
    ("features", "kept", "answered"),
    [(None, (), False), ((), (), True), (("anaemia", "bleeding"), ("bleeding", "anaemia"), True)],
)
def test_not_asked_is_another_answer_than_none(
    scene: Scene, features: tuple[str, ...] | None, kept: tuple[str, ...], answered: bool
) -> None:
    """Both leave no feature, and only one of them was asked."""
    referral = referred(scene, replace(REQUEST, alarm_features=features))
    found = stands(scene, Referral, id=referral.id).entry
    assert (found.alarm_features, found.alarm_answered) == (kept, answered)


def test_alarm_features_warn_and_block_nothing(scene: Scene) -> None:
    """The warning is kept with the act."""
    referred(scene, replace(REQUEST, alarm_features=("weight-loss",)))
    assert (
        "Alarm features: weight loss without a known reason. They go back to the referrer"
        in (last_act(scene)[2])
    )


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        (
            {"alarm_features": ("seagulls",)},
            (
                "alarm_features: not known; allowed: weight-loss, bleeding, anaemia, bowel-habit, "
                "family-history, mass, fever or night-symptoms; came: seagulls"
            ),
        ),
        (
            {"requested_on": date(2026, 11, 28)},
            "requested_on: in the future; allowed: up to 2026-11-27; came: 2026-11-28",
        ),
        ({"referrer": " "}, "referrer: missing; allowed: who asked for the test; came: nothing"),
        (
            {"indication": ""},
            "indication: missing; allowed: why the test is asked for; came: nothing",
        ),
        (
            {"surgery": "maybe"},
            "surgery: not one of the choices; allowed: yes, no or unknown; came: maybe",
        ),
    ],
)
def test_what_cannot_be_is_refused(scene: Scene, changes: dict[str, Any], text: str) -> None:
    """The refusal names the field."""
    patient = registered(scene)
    with refused(scene, FieldError, text):
        refer(
            scene.clinic, scene.bench, patient_id=patient.id, request=replace(REQUEST, **changes),
            token=None,
        )  # fmt: skip


def test_nobody_is_referred_who_is_not_registered(scene: Scene) -> None:
    """The refusal names the id that came."""
    with refused(
        scene,
        FieldError,
        "patient_id: there is no such patient; allowed: one that is in the record; came: none",
    ):
        refer(scene.clinic, scene.bench, patient_id="none", request=REQUEST, token=None)


def test_the_same_referral_sent_twice_is_one(scene: Scene) -> None:
    """Another one under its token is refused."""
    patient = registered(scene)
    values: dict[str, Any] = {"patient_id": patient.id, "token": "t1"}
    first = refer(scene.clinic, scene.bench, request=REQUEST, **values)
    assert refer(scene.clinic, scene.bench, request=REQUEST, **values) == first
    with pytest.raises(FieldError, match="token"):
        refer(scene.clinic, scene.bench, request=replace(REQUEST, copy_to="R. Quay"), **values)


def test_a_correction_keeps_what_stood(scene: Scene) -> None:
    """Both versions, the reason, and a second sending that changes nothing."""
    referral = referred(scene)
    changed = replace(REQUEST, surgery="yes", surgery_words="bypass, 2020")
    corrected = correct(scene, referral, changed, token="t2")
    assert correct(scene, referral, changed, token="t2") == corrected
    with scene.clinic.record.look() as look:
        words = [one.entry.surgery_words for one in look.versions(Referral, referral.id)]
    assert words == ["", "bypass, 2020"]
    assert last_act(scene)[:2] == ("refer", "read again")


def test_a_correction_needs_a_reason_and_the_latest_version(scene: Scene) -> None:
    """Nothing is changed blindly."""
    referral = referred(scene)
    with refused(scene, FieldError, "why: missing; allowed: a reason in words; came: nothing"):
        correct(scene, referral, REQUEST, why="")
    correct(scene, referral, replace(REQUEST, copy_to="R. Quay"))
    with pytest.raises(ConflictError):
        correct(scene, referral, replace(REQUEST, copy_to="M. Tide"))
