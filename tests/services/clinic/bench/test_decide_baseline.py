"""The decision on the fasting readings is laid out by the adopted rules, and made by a person."""

from typing import Any

import pytest

from ebbline.core.clinic.record.bench import BaselineDecision
from ebbline.core.clinic.record.staff import Adoption
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, FieldError
from ebbline.services.clinic.bench.advise_baseline import advise_baseline
from ebbline.services.clinic.bench.breath_taken import Typed
from ebbline.services.clinic.bench.decide_baseline import decide_baseline
from ebbline.services.clinic.service.adopt import adopt
from tests.scene import DOCUMENTS, Scene
from tests.services.clinic.breaths import begun, go, put, take
from tests.services.clinic.given import last_act, refused

# The validity row of data/rules/european-2022.toml, as a service would confirm it.
CONFIRMED = '\nconfirmed_by = "Dr L. Harbour"\nconfirmed_on = 2026-11-02\nprovenance = "memory"'
SAYS = (
    "Fasting H2 of 15 ppm or more: rinse the mouth and repeat the sample; if it stays so, prepare "
    "again and rebook"
)


def with_a_limit(scene: Scene) -> Adoption:
    """Adopt the rule set that has a limit for the baseline, its rows confirmed (invented)."""
    text = DOCUMENTS.offered("rule set", "european-2022")
    return adopt(
        scene.clinic,
        scene.manager,
        what="rule set",
        text=text.replace('\nprovenance = "memory"', CONFIRMED),
        adopted_by="Dr L. Harbour",
        token=None,
    )


def high(scene: Scene) -> Test:
    """Return a test with fasting readings of 22 and 9 ppm under a limit of 15 ppm."""
    test = scene.test(substrate="lactose", state="cleared")
    put(scene, test, criterion_id=with_a_limit(scene).id)
    take(scene, test, 22.0)
    scene.clock.pass_minutes(15)
    take(scene, test, 9.0)
    return test


def decide(scene: Scene, test: Test, **changes: Any) -> BaselineDecision:
    """Decide to go ahead with all fasting samples."""
    advice = advise_baseline(scene.clinic, scene.bench, test_id=test.id)
    given: dict[str, Any] = {
        "test_id": test.id,
        "choice": "go",
        "rule": "mean",
        "uses": tuple(one.sample for one, _ in advice.by_sample),
        "why": "",
        "token": None,
    }
    return decide_baseline(scene.clinic, scene.bench, **{**given, **changes})


def test_limits_come_from_the_adopted_rule_set(scene: Scene) -> None:
    """The first reading is past it, the second and the lowest are not; the mean is, by hand."""
    test = high(scene)
    advice = advise_baseline(scene.clinic, scene.bench, test_id=test.id)
    assert [(one.h2_ppm, len(past)) for one, past in advice.by_sample] == [(22.0, 1), (9.0, 0)]
    assert [(one.minute) for one, _ in advice.by_sample] == [-15.0, 0.0]
    found = {one.rule: (one.h2_ppm, len(one.excesses)) for one in advice.candidates[:3]}
    assert found == {"mean": (15.5, 1), "last": (9.0, 0), "lowest": (9.0, 0)}
    assert advice.by_sample[0][1][0].limit.says == SAYS


def test_a_rule_set_without_limits_gives_none(scene: Scene) -> None:
    """The North American consensus has no row about the baseline here."""
    test = scene.test(substrate="lactose", state="cleared")
    take(scene, test, 60.0)
    assert not advise_baseline(scene.clinic, scene.bench, test_id=test.id).past_a_limit


def test_the_value_that_counts_is_judged(scene: Scene) -> None:
    """Raw 12 ppm at O2 15.3 % is 15 ppm of alveolar gas."""
    test = scene.test(substrate="lactose", state="cleared")
    put(scene, test, criterion_id=with_a_limit(scene).id)
    take(scene, test, 0.0, breath=Typed(12.0, 2.0, 15.3, None))
    advice = advise_baseline(scene.clinic, scene.bench, test_id=test.id)
    ((reading, excesses),) = advice.by_sample
    assert (reading.h2_ppm, reading.ch4_ppm) == pytest.approx((15.0, 2.5))
    assert len(excesses) == 1


def test_a_decision_past_a_limit_keeps_limit_and_reason(scene: Scene) -> None:
    """Without a reason it is refused."""
    test = high(scene)
    text = (
        "why: a fasting reading is past a limit and no reason is given to go ahead; allowed: a "
        "reason; came: nothing"
    )
    with refused(scene, FieldError, text):
        decide(scene, test)
    made = decide(scene, test, why="fell after a rinse", rule="last", token="tap-1")
    assert (made.choice, made.rule, made.over_limit) == ("go", "last", (SAYS,))
    assert (made.why, made.by) == ("fell after a rinse", scene.bench.user_id)
    assert last_act(scene)[:2] == ("decide baseline", "fell after a rinse")
    again = decide(scene, test, why="fell after a rinse", rule="last", token="tap-1")
    assert again == made


def test_another_sample_may_be_taken_first(scene: Scene) -> None:
    """Such a decision makes no baseline."""
    test = high(scene)
    made = decide(scene, test, choice="rinse and repeat", rule="", uses=())
    assert (made.choice, made.rule, made.uses) == ("rinse and repeat", "", ())
    with pytest.raises(FieldError, match="rule: rinse and repeat makes no baseline"):
        decide(scene, test, choice="rinse and repeat")


def test_without_a_fasting_reading_nothing_is_decided(scene: Scene) -> None:
    """Neither laid out nor recorded."""
    test = scene.test(substrate="lactose", state="cleared")
    text = "baseline: there is no fasting reading yet; allowed: one or more; came: none"
    with refused(scene, ClinicError, text):
        advise_baseline(scene.clinic, scene.bench, test_id=test.id)
    with refused(scene, ClinicError, text):
        go(scene, test)


def test_after_the_drink_only_the_baseline_is_decided_otherwise(scene: Scene) -> None:
    """With a reason."""
    test = begun(scene)
    text = (
        "why: the baseline is decided otherwise after the drink and no reason is given; allowed: a "
        "reason; came: nothing"
    )
    with refused(scene, FieldError, text):
        decide(scene, test, rule="lowest")
    text = "choice: the patient has had the drink; allowed: go, with another baseline; came: rebook"
    with refused(scene, FieldError, text):
        decide(scene, test, choice="rebook", rule="", uses=(), why="x")
    assert decide(scene, test, rule="lowest", why="by the protocol").rule == "lowest"


def test_nothing_is_decided_behind_a_signed_report(scene: Scene) -> None:
    """Nor before the patient is prepared."""
    test = begun(scene)
    for state in ("arrived", "signed"):
        put(scene, test, state=state)
        with pytest.raises(ClinicError, match="state: this is not done to a test that stands"):
            decide(scene, test)
