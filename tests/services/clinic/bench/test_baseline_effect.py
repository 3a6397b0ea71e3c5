"""The choice of a baseline is shown together with what another one would make of the test."""

import pytest

from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError
from ebbline.services.clinic.bench.baseline_effect import BaselineEffect, effects_of_baselines
from ebbline.services.clinic.bench.finish_test import finish_test
from ebbline.services.clinic.report.interpret_test import interpretation_of
from tests.scene import Scene
from tests.services.clinic.breaths import finished, go, put, sampled, take

SUGAR = "carbohydrate-malabsorption"
METHANE = "methanogen-overgrowth"


def two_baselines(scene: Scene, first: float, second: float) -> Test:
    """Return a finished test with two fasting samples, whose mean was decided on; then 29 ppm."""
    test = scene.test(substrate="lactose", state="cleared")
    one = take(scene, test, first)
    scene.clock.pass_minutes(10)
    two = take(scene, test, second, confirmed=True)
    go(scene, test, one, two)
    scene.clock.pass_minutes(5)
    test = put(scene, test, state="sampling", t0=scene.clock.at)
    sampled(scene, test, (12.0, 20.0, 29.0, 28.0, 25.0, 20.0))
    version = scene.version_of(test)
    return finish_test(scene.clinic, scene.bench, test_id=test.id, version=version, token=None)


def effects(scene: Scene, test: Test) -> tuple[BaselineEffect, ...]:
    """Return the effects as the bench sees them."""
    return effects_of_baselines(scene.clinic, scene.bench, test_id=test.id)


def fact(scene: Scene, test: Test) -> str | None:
    """Return what the report says of other baselines."""
    with scene.clinic.record.look() as look:
        return interpretation_of(scene.clinic, look, test).test.facts.get("baseline_effect")


def test_each_baseline_is_shown_with_its_findings(scene: Scene) -> None:
    """29 - 12 = 17 and 29 - 14 = 15 are below 20 ppm; 29 - 6 = 23 is above, by hand."""
    found = effects(scene, two_baselines(scene, 18.0, 6.0))
    assert [(one.rule, one.uses, dict(one.findings)[SUGAR], one.chosen) for one in found] == [
        ("mean", ("B1", "B2"), "negative", True),
        ("last", ("B1", "B2"), "positive", False),
        ("lowest", ("B1", "B2"), "positive", False),
        ("last", ("B1",), "negative", False),
        ("last", ("B2",), "positive", False),
    ]
    assert {dict(one.findings)[METHANE] for one in found} == {"negative"}


def test_the_report_says_which_baseline_would_change_a_finding(scene: Scene) -> None:
    """In one line, each with its samples."""
    assert fact(scene, two_baselines(scene, 18.0, 6.0)) == (
        "with the last of B1, B2: carbohydrate malabsorption positive; with the lowest of B1, B2: "
        "carbohydrate malabsorption positive; with the last of B2: carbohydrate malabsorption "
        "positive"
    )


def test_the_report_says_where_no_baseline_would(scene: Scene) -> None:
    """29 less 5, 5.5 or 6 ppm is more than 20 in any case."""
    assert fact(scene, two_baselines(scene, 5.0, 6.0)) == (
        "the findings are the same with every other fasting sample"
    )


def test_with_one_fasting_sample_there_is_nothing_to_say(scene: Scene) -> None:
    """And the one baseline is shown as the chosen one."""
    test = finished(scene)
    assert fact(scene, test) is None
    assert {one.uses for one in effects(scene, test)} == {("B1",)}


def test_before_the_drink_there_is_nothing_to_judge(scene: Scene) -> None:
    """The values that each baseline would have are shown by the advice instead."""
    test = scene.test(substrate="lactose", state="cleared")
    take(scene, test, 5.0)
    with pytest.raises(ClinicError, match="state: this is not done to a test that stands there"):
        effects(scene, test)
