"""A drink is worked out by a rule of the adopted protocol, and weighed out as worked out."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from ebbline.core.clinic.record.visit import Dose, Test
from ebbline.core.errors import ClinicError, ConflictError, EbblineError, FieldError
from ebbline.services.clinic.service.adopt import adopt
from ebbline.services.clinic.visit.prepare_dose import dose_choices, prepare_dose
from tests.scene import DOCUMENTS, Scene
from tests.services.clinic.given import a_dose, last_act, refused, stands


def prepare(scene: Scene, test: Test, **changes: Any) -> Dose:
    """Prepare 25 g of lactose for an adult."""
    values: dict[str, Any] = {
        "version": 0,
        "rule": "lactose-adult-25",
        "prepared_g": 25.0,
        "lot": "L1",
        "expiry": date(2027, 6, 30),
        "token": None,
    } | changes
    return prepare_dose(scene.clinic, scene.bench, test_id=test.id, **values)


def child(scene: Scene, **changes: Any) -> Test:
    """Record a fructose test of a child that is cleared."""
    values: dict[str, Any] = {"age_years": 9.2, "weight_kg": 28.5} | changes
    return scene.test(substrate="fructose", state="cleared", **values)


def test_a_dose_is_kept_with_its_arithmetic(scene: Scene) -> None:
    """An adult's needs no second check; the same act sent twice is one."""
    test = scene.test(substrate="lactose", state="cleared")
    first = prepare(scene, test, token="t1")
    assert prepare(scene, test, token="t1") == first
    dose = stands(scene, Dose, test_id=test.id).entry
    assert (dose.dose_g, dose.volume_ml, dose.mix) == (25.0, 240.0, "plain")
    assert dose.arithmetic == "25 g, the same at every weight"
    assert (dose.prepared_by, dose.needs_second_check) == (scene.bench.user_id, False)


def test_a_child_is_dosed_by_weight_and_needs_a_second_check(scene: Scene) -> None:
    """0.5 g/kg × 28.5 kg = 14.25 g, and the cap is 10 g."""
    dose = prepare(scene, child(scene), rule="fructose-child-0.5-10", prepared_g=10.05)
    assert (dose.dose_g, dose.cap_used, dose.volume_ml) == (10.0, True, 100.0)
    assert dose.needs_second_check
    assert dose.arithmetic == "0.5 g/kg × 28.5 kg = 14.25 g; cap 10 g used"


def test_a_rule_from_memory_is_warned_of(scene: Scene) -> None:
    """The warning is kept with the act."""
    test = scene.test(substrate="lactose", state="cleared")
    prepare(scene, test, rule="lactose-adult-25-in-10-pct")
    assert (
        "the dose rule lactose-adult-25-in-10-pct was not checked against its source"
        in last_act(scene)[2]
    )


@pytest.mark.parametrize(
    ("changes", "error", "text"),
    [
        (
            {"rule": "lactose-child-2-20"},
            ClinicError,
            (
                "rule: not a dose rule that the adopted protocol has for this test; allowed: "
                "lactose-adult-25, lactose-adult-50 or lactose-adult-25-in-10-pct; came: "
                "lactose-child-2-20"
            ),
        ),
        (
            {"prepared_g": 50.0},
            FieldError,
            "prepared_g: not the dose of 25 g; allowed: 24.75 to 25.25 g; came: 50",
        ),
        (
            {"lot": " "},
            FieldError,
            "lot: missing; allowed: the lot of the substrate; came: nothing",
        ),
        (
            {"expiry": date(2026, 11, 26)},
            FieldError,
            "expiry: past; allowed: 2026-11-27 or later; came: 2026-11-26",
        ),
        ({"version": 1}, FieldError, "version: nothing stands yet; allowed: 0; came: 1"),
    ],
)
def test_what_is_not_the_dose_is_refused(
    scene: Scene, changes: dict[str, Any], error: type[EbblineError], text: str
) -> None:
    """Nothing is kept."""
    test = scene.test(substrate="lactose", state="cleared")
    with refused(scene, error, text):
        prepare(scene, test, **changes)


def test_the_rules_of_the_protocol_are_offered_and_none_is_chosen(scene: Scene) -> None:
    """Those for the sugar and the age, in the order of the rows."""
    test = scene.test(substrate="lactose", state="cleared")
    choices = dose_choices(scene.clinic, scene.bench, test_id=test.id)
    assert [one.id for one in choices] == [
        "lactose-adult-25",
        "lactose-adult-50",
        "lactose-adult-25-in-10-pct",
    ]


def test_the_last_day_of_a_lot_is_still_good(scene: Scene) -> None:
    """It expires after that day."""
    test = scene.test(substrate="lactose", state="cleared")
    assert prepare(scene, test, expiry=date(2026, 11, 27)).lot == "L1"


def test_a_child_that_was_not_weighed_gets_no_dose(scene: Scene) -> None:
    """Nor does anybody whose age is not known."""
    not_weighed = child(scene, weight_kg=None)
    with refused(
        scene,
        FieldError,
        "weight_kg: the weight is missing, and the rule fructose-child-0.5-10 needs it; allowed: "
        "the weight on the day, kg; came: nothing",
    ):
        prepare(scene, not_weighed, rule="fructose-child-0.5-10", prepared_g=10.0)
    no_age = child(scene, age_years=None)
    assert dose_choices(scene.clinic, scene.bench, test_id=no_age.id) == ()
    with refused(
        scene,
        FieldError,
        "age_years: not known; allowed: a patient with a birth date; came: nothing",
    ):
        prepare(scene, no_age, rule="fructose-child-0.5-10", prepared_g=10.0)


def test_an_age_that_no_rule_fits_has_nothing_to_choose_from(scene: Scene) -> None:
    """The adopted text may have been cut short; here its rules are of adults only."""
    text = DOCUMENTS.offered("protocol", "fructose-180")
    text = text.replace('"below_years":18,', '"below_years":2,').replace(
        '"release":"1"', '"release":"2"'
    )
    new = adopt(
        scene.clinic, scene.manager, what="protocol", text=text, adopted_by="R. Q.", token=None
    )
    test = child(scene)
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.revise(replace(test, protocol_id=new.id), version=1)
    with refused(
        scene,
        ClinicError,
        "rule: not a dose rule that the adopted protocol has for this test; allowed: none for this "
        "sugar and age; came: fructose-child-0.5-10",
    ):
        prepare(scene, test, rule="fructose-child-0.5-10", prepared_g=10.0)


def test_a_dose_that_is_prepared_anew_is_checked_anew(scene: Scene) -> None:
    """The check was of the other drink."""
    test = scene.test(substrate="lactose", state="cleared")
    a_dose(scene, test, checked_by=scene.second.user_id)
    dose = prepare(scene, test, version=1, prepared_g=24.9)
    assert (dose.checked_by, stands(scene, Dose, test_id=test.id).version) == (None, 2)
    with pytest.raises(ConflictError):
        prepare(scene, test, version=1, prepared_g=25.1)


def test_nothing_is_prepared_for_a_test_that_is_not_cleared(scene: Scene) -> None:
    """The drink waits for the questions."""
    test = scene.test(substrate="lactose", state="arrived")
    with refused(
        scene,
        ClinicError,
        "state: this is not done to a test that stands there; allowed: cleared; came: arrived",
    ):
        prepare(scene, test)
