"""Stopping early is suggested by the service's rule and the adopted criterion, never done."""

from ebbline.core.clinic.record.staff import Setting
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, FieldError
from ebbline.services.clinic.bench.suggest_stop import suggest_stop
from tests.scene import Scene
from tests.services.clinic.bench.test_miss_sample import miss
from tests.services.clinic.bench.test_record_symptoms import score
from tests.services.clinic.breaths import begun, put, sampled, take, typed
from tests.services.clinic.given import refused


def chosen(scene: Scene, rule: str = "two-in-a-row") -> None:
    """Record the rule that the service has chosen."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.add(Setting(act.new_id(), "stop_rule", {"value": rule}))


def scored(scene: Scene, test: Test, *minutes: float) -> None:
    """Record symptom scores at planned minutes."""
    for minute in minutes:
        score(scene, test, planned_minute=minute)


def test_two_samples_in_a_row_past_the_criterion_suggest_it(scene: Scene) -> None:
    """Rises of 24 and 36 ppm; at least 20 are asked."""
    chosen(scene)
    test = begun(scene)
    sampled(scene, test, [6.0, 29.0])
    scored(scene, test, 30.0, 60.0)
    assert suggest_stop(scene.clinic, scene.bench, test_id=test.id) is None
    sampled(scene, test, [41.0])
    scored(scene, test, 90.0)
    found = suggest_stop(scene.clinic, scene.bench, test_id=test.id)
    assert found is not None
    assert (found.met, found.left) == ((60.0, 90.0), (120.0, 150.0, 180.0))
    assert "suggestion only" in found.words[1]
    assert "late-lactose" in [one.id for one in found.lost]
    with scene.clinic.record.look() as look:
        assert look.get(Test, test.id).entry.state == "sampling"


def test_symptoms_are_asked_for_with_both(scene: Scene) -> None:
    """Scores at one of them are not enough."""
    chosen(scene)
    test = begun(scene)
    sampled(scene, test, [29.0, 41.0])
    scored(scene, test, 60.0)
    assert suggest_stop(scene.clinic, scene.bench, test_id=test.id) is None


def test_a_missed_sample_breaks_the_row(scene: Scene) -> None:
    """Nobody knows what it would have said."""
    chosen(scene)
    test = begun(scene)
    sampled(scene, test, [29.0, 41.0])
    scored(scene, test, 30.0, 60.0)
    miss(scene, test, 90.0)
    assert suggest_stop(scene.clinic, scene.bench, test_id=test.id) is None


def test_a_methane_level_alone_suggests_nothing(scene: Scene) -> None:
    """It was there before the drink and says nothing about how the test goes on."""
    chosen(scene)
    test = begun(scene)
    for minute in (30.0, 60.0):
        scene.clock.pass_minutes(30)
        take(scene, test, 6.0, breath=typed(6.0, 40.0))
        scored(scene, test, minute)
    assert suggest_stop(scene.clinic, scene.bench, test_id=test.id) is None


def test_a_service_without_a_rule_gets_no_suggestion(scene: Scene) -> None:
    """None was chosen, or none at all on purpose."""
    test = begun(scene)
    sampled(scene, test, [29.0, 41.0])
    scored(scene, test, 30.0, 60.0)
    assert suggest_stop(scene.clinic, scene.bench, test_id=test.id) is None
    chosen(scene, "none")
    assert suggest_stop(scene.clinic, scene.bench, test_id=test.id) is None


def test_a_rule_that_is_gone_is_named(scene: Scene) -> None:
    """An edited file must not turn a suggestion off unseen."""
    chosen(scene, "three-in-a-row")
    test = begun(scene)
    text = "stop_rule: no such rule; allowed: none or two-in-a-row; came: three-in-a-row"
    with refused(scene, FieldError, text):
        suggest_stop(scene.clinic, scene.bench, test_id=test.id)


def test_there_is_nothing_to_stop_once_it_is_over(scene: Scene) -> None:
    """Nor before it began."""
    test = put(scene, begun(scene), state="finished")
    text = "state: this is not done to a test that stands there; allowed: sampling; came: finished"
    with refused(scene, ClinicError, text):
        suggest_stop(scene.clinic, scene.bench, test_id=test.id)
