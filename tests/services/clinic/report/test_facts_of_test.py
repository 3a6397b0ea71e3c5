"""The report's facts come from the record, by the keys of the curve file."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from ebbline.adapters.files.curve_keys import KEYS
from ebbline.adapters.pdf.facts import RECORD_FACTS
from ebbline.core.clinic.preparation import Answer
from ebbline.core.clinic.record.people import Identity, Referral
from ebbline.core.clinic.record.staff import AnalyserCheck, Setting
from ebbline.core.clinic.record.visit import Preparation, Test
from tests.scene import ZONE, Scene
from tests.services.clinic.bench.test_record_event import happen
from tests.services.clinic.bench.test_take_sample import a_blow
from tests.services.clinic.breaths import POSITIVE, begun, finished, put, sampled, take
from tests.services.clinic.given import a_dose, all_kept
from tests.services.clinic.report.test_as_breath_test import recorded, two_fasting


def facts(scene: Scene, test: Test) -> Mapping[str, str]:
    """Return the facts of a test."""
    return recorded(scene, test).facts


def record(scene: Scene, **settings: object) -> None:
    """Record settings of the service."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        for name, value in settings.items():
            act.add(Setting(act.new_id(), name, {"value": value}))


def revise(scene: Scene, kind: type[Any], entry_id: str, **changes: Any) -> None:
    """Record other values of an entry."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        stands = act.get(kind, entry_id)
        act.revise(replace(stands.entry, **changes), version=stands.version)


def test_every_key_is_one_that_the_report_knows(scene: Scene) -> None:
    """Those of a curve file, and those that only a record has."""
    test = finished(scene)
    assert set(facts(scene, test)) <= set(KEYS) | set(RECORD_FACTS)


def test_the_patient_and_the_referral(scene: Scene) -> None:
    """As they stand, with what the referrer said."""
    test = finished(scene)
    with scene.clinic.record.look() as look:
        identity = look.find(Identity, {"patient_id": test.patient_id})[0].entry
    revise(scene, Identity, identity.id, given_name="Ben", national_no="N-77")
    revise(
        scene,
        Referral,
        test.referral_id,
        copy_to="Dr S. Quay",
        medicines="none",
        surgery="yes",
        surgery_words="gallbladder, 2019",
        earlier_tests="glucose 2024: negative",
    )
    found = facts(scene, test)
    expected = {
        "patient": "Ben Shore",
        "born": "1985-03-02",
        "sex": "female",
        "record_no": "HC-0001",
        "national_no": "N-77",
        "referrer": "Dr L. Harbour",
        "copy_to": "Dr S. Quay",
        "requested": "2026-11-02",
        "indication": "bloating after milk",
        "medicines": "none",
        "surgery": "yes",
        "surgery_words": "gallbladder, 2019",
        "earlier_tests": "glucose 2024: negative",
        "invented": "yes",
    }
    assert {key: found[key] for key in expected} == expected


def test_time_place_people_and_analyser(scene: Scene) -> None:
    """Each operator once; the calibration in force, and the check of that day with its author."""
    with scene.clinic.record.act("scene", by=scene.second.user_id, why="", token=None) as act:
        one = AnalyserCheck(
            id=act.new_id(),
            analyser_id=scene.analyser.id,
            what="calibration",
            at=act.at - timedelta(hours=20),
            passed=True,
            gas="H2 100 ppm, lot G7",
            words="",
        )
        act.add(one)
        for hours in (0.25, 30.0):
            at = act.at - timedelta(hours=hours)
            act.add(replace(one, id=act.new_id(), what="check", at=at, gas=""))
    found = facts(scene, finished(scene))
    expected = {
        "date": "2026-11-27",
        "started": "08:10",
        "t0_defined_as": "end of the drink",
        "site": "room 2",
        "operator": "M. Tide",
        "analyser": "analyser 1, serial no. HC-A1",
        "method": "electrochemical",
        "calibrated": "2026-11-26 12:00, passed",
        "check_gas": "H2 100 ppm, lot G7",
        "check_today": "passed at 07:45, by S. Wave",
    }
    assert {key: found[key] for key in expected} == expected


def test_the_drink(scene: Scene) -> None:
    """Lot, expiry, volume and how the dose was worked out."""
    test = begun(scene)
    a_dose(scene, test, drunk="part")
    found = facts(scene, test)
    expected = {
        "lot": "L1",
        "expiry": "2027-06-30",
        "volume_ml": "240",
        "dose_arithmetic": "25 g, the same at every weight",
        "drunk": "part",
    }
    assert {key: found[key] for key in expected} == expected


def test_events_line_by_line(scene: Scene) -> None:
    """In order of time, each with its minute, though told later."""
    test = begun(scene)
    scene.clock.pass_minutes(40)
    happen(scene, test, "vomited", lost_fraction=0.25, note="after\nwalking")
    happen(scene, test, "walked", at=scene.clock.at - timedelta(minutes=20))
    assert facts(scene, test)["events"] == (
        "08:30, minute 20, walked\n08:50, minute 40, vomited, 25 % of the drink lost, after walking"
    )


@pytest.mark.parametrize(
    ("rinsed_at", "word"),
    [((), ""), ((-5,), "baseline"), ((-5, 25, 55), "every"), ((-5, 25), "unknown")],
)
def test_when_the_mouth_was_rinsed(scene: Scene, rinsed_at: tuple[int, ...], word: str) -> None:
    """Before every later sample, before the baseline only, or unclear; samples at 30 and 60."""
    test = begun(scene)
    t0 = scene.clock.at
    sampled(scene, test, POSITIVE[:2])
    for minute in rinsed_at:
        happen(scene, test, "rinsed", at=t0 + timedelta(minutes=minute))
    assert facts(scene, test).get("rinse", "") == word


def test_the_baselines_line_by_line(scene: Scene) -> None:
    """And which of them is used, why, and who decided."""
    found = two_fasting(scene, "last", 1).facts
    assert found["baselines"] == (
        "B1\t08:00\tH2 22 ppm, CH4 3 ppm\tnot used\nB2\t08:15\tH2 9 ppm, CH4 3 ppm\tused"
    )
    assert found["baseline_used"] == "last of B2; reason: fell after a rinse; decided by M. Tide"


def prepared(scene: Scene, test: Test, answers: Mapping[str, Answer], **words: Any) -> None:
    """Record how a patient prepared."""
    written = {
        name: {"word": one.word, "on": None if one.on is None else one.on.isoformat()}
        for name, one in answers.items()
    }
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.add(
            Preparation(
                act.new_id(),
                test.id,
                "service",
                written,
                words.get("decisions", {}),
                words.get("reasons", {}),
            )
        )


def test_the_preparation_line_by_line(scene: Scene) -> None:
    """Item, answer, and the decision where one was made; fasting counts to minute 0."""
    test = begun(scene)
    last_meal = (scene.clock.at - timedelta(hours=13)).astimezone(ZONE)
    answers = {
        **all_kept("lactose", age_years=41.7),
        "antibiotics": Answer("yes", (scene.clock.at - timedelta(days=15)).date()),
        "fast": Answer("yes", last_meal),
        "gum": Answer("unknown", None),
    }
    prepared(
        scene,
        test,
        answers,
        decisions={"antibiotics": {"go_ahead": True, "by": "Dr L. Harbour"}},
        reasons={"antibiotics": "one dose only"},
    )
    found = facts(scene, test)
    lines = dict(line.split("\t", 1) for line in found["preparation_items"].splitlines())
    asked = next(line for line in lines if "antibiotic" in line)
    assert lines[asked] == (f"{found['antibiotics']}\twent ahead, Dr L. Harbour: one dose only")
    assert "15 days before; 28 are asked" in found["antibiotics"]
    assert lines[next(line for line in lines if "gum" in line)] == "answered unknown\tno decision"
    assert lines[next(line for line in lines if "plain food" in line)] == "answered yes\t"
    assert found["preparation"] == "answered yes"
    assert found["fasting_h"] == "13.0"


def test_no_preparation_on_record_says_nothing(scene: Scene) -> None:
    """Nothing is taken as kept, and a meal without its time is not counted from."""
    test = begun(scene)
    assert "preparation_items" not in facts(scene, test)
    prepared(scene, test, {"fast": Answer("unknown", None)})
    assert "fasting_h" not in facts(scene, test)


def test_settings_on_record_are_among_them(scene: Scene) -> None:
    """By their keys, as text that is read back exactly."""
    record(scene, noise_ppm=0.1, reference="co2", service="Harbour Clinic", baseline="lowest")
    test = scene.test(substrate="lactose", state="cleared")
    take(scene, test, 5.0)
    found = facts(scene, test)
    assert (found["noise_ppm"], found["reference"]) == ("0.1", "co2")
    assert (found["service"], found["baseline"]) == ("Harbour Clinic", "lowest")


def test_blown_samples_were_not_stored(scene: Scene) -> None:
    """Of typed ones nobody knows."""
    test = scene.test(substrate="lactose", state="cleared")
    take(scene, test, 0.0, breath=a_blow())
    assert facts(scene, test)["sample_age"] == "not stored"
    take(scene, test, 6.0)
    assert "sample_age" not in facts(scene, test)


def test_an_erased_identity_leaves_no_word(scene: Scene) -> None:
    """The rest of the facts stands."""
    test = put(scene, finished(scene), state="signed")
    with scene.clinic.record.look() as look:
        identity = look.find(Identity, {"patient_id": test.patient_id})[0].entry
    revise(scene, Identity, identity.id, family_name="", given_name="", born=None, record_no="")
    found = facts(scene, test)
    assert {"patient", "born", "record_no"} & set(found) == set()
    assert found["sex"] == "female"
