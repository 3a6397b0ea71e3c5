"""A test of the record reaches the core with every try, the decided baseline and its symptoms."""

from ebbline.core.clinic.record.visit import Test
from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.curve.collect import collect
from ebbline.services.choose_settings import choose_settings
from ebbline.services.clinic.bench.decide_baseline import decide_baseline
from ebbline.services.clinic.report.as_breath_test import NOT_USED, as_breath_test
from tests.scene import LIBRARY, Scene
from tests.services.clinic.bench.test_miss_sample import miss
from tests.services.clinic.bench.test_move_sample import move
from tests.services.clinic.bench.test_record_symptoms import score
from tests.services.clinic.breaths import POSITIVE, begun, finished, go, put, sampled, take
from tests.services.clinic.given import a_dose


def recorded(scene: Scene, test: Test) -> BreathTest:
    """Return a test as the core takes it."""
    with scene.clinic.record.look() as look:
        return as_breath_test(scene.clinic, look, look.get(Test, test.id).entry)


def counted(test: BreathTest) -> list[tuple[float, float | None]]:
    """Return minute and hydrogen of each sample as the core collects them."""
    settings = choose_settings(test, LIBRARY)
    return [
        (slot.minute, None if slot.reading is None else slot.reading.h2.value_ppm)
        for slot in collect(test, settings.noise, settings.dilution).slots
    ]


def test_every_sample_comes_with_its_minutes(scene: Scene) -> None:
    """Actual and planned, by the adopted protocol."""
    test = recorded(scene, finished(scene))
    assert [one.planned_minute for one in test.tries] == [0, 30, 60, 90, 120, 150, 180]
    assert counted(test) == list(
        zip([-10.0, 30.0, 60.0, 90.0, 120.0, 150.0, 180.0], [5.0, *POSITIVE], strict=True)
    )
    assert (test.file, test.substrate, test.protocol) == (
        "test 1",
        "lactose",
        "lactose-180, release 1",
    )
    assert (test.weight_kg, test.age_years, test.dose_g) == (64.0, 41.7, None)


def test_the_dose_is_what_was_weighed_out(scene: Scene) -> None:
    """Not what was worked out."""
    test = begun(scene)
    a_dose(scene, test, prepared_g=25.1)
    assert recorded(scene, test).dose_g == 25.1


def two_fasting(scene: Scene, rule: str, *uses: int) -> BreathTest:
    """Return a test with 22 and 9 ppm fasting, of which the baseline uses some."""
    test = scene.test(substrate="lactose", state="cleared")
    first = take(scene, test, 22.0)
    scene.clock.pass_minutes(15)
    both = (first, take(scene, test, 9.0))
    decide_baseline(
        scene.clinic,
        scene.bench,
        test_id=test.id,
        choice="go",
        rule=rule,  # type: ignore[arg-type]
        uses=tuple(both[place].id for place in uses),
        why="fell after a rinse",
        token=None,
    )
    scene.clock.pass_minutes(5)
    put(scene, test, state="sampling", t0=scene.clock.at)
    return recorded(scene, test)


def test_both_fasting_samples_count_where_the_baseline_uses_both(scene: Scene) -> None:
    """They are two samples, not two tries at one."""
    test = two_fasting(scene, "mean", 0, 1)
    assert counted(test) == [(-20.0, 22.0), (-5.0, 9.0)]
    assert test.facts["baseline"] == "mean"


def test_a_fasting_sample_that_is_not_used_does_not_count(scene: Scene) -> None:
    """It is shown as a try, with the reason."""
    test = two_fasting(scene, "last", 1)
    assert counted(test) == [(-5.0, 9.0)]
    assert (test.tries[0].status, test.tries[0].note) == ("repeat", NOT_USED)
    assert test.facts["baseline"] == "last"


def test_without_a_decision_every_fasting_sample_counts(scene: Scene) -> None:
    """By the rule of the adopted protocol; before the drink minutes count from the last of them."""
    test = scene.test(substrate="lactose", state="cleared")
    take(scene, test, 22.0)
    scene.clock.pass_minutes(15)
    take(scene, test, 9.0)
    found = recorded(scene, test)
    assert counted(found) == [(-15.0, 22.0), (0.0, 9.0)]
    assert found.facts["baseline"] == "mean"
    assert "baseline_used" not in found.facts


def test_tries_missed_and_moved_samples(scene: Scene) -> None:
    """Repeated and missed ones are kept, what was moved away is another patient's."""
    test, other = begun(scene), scene.test(substrate="lactose", state="cleared")
    scene.clock.pass_minutes(30)
    take(scene, test, 60.0, to_repeat=True, note="blew too short")
    scene.clock.pass_minutes(1)
    take(scene, test, 6.0)
    scene.clock.pass_minutes(29)
    wrong = take(scene, test, 90.0)
    put(scene, other, state="sampling", t0=test.t0)
    move(scene, wrong, other)
    miss(scene, test, 90.0)
    found = recorded(scene, test)
    assert [(one.minute, one.status, one.h2_ppm) for one in found.tries] == [
        (-10.0, "ok", 5.0),
        (30.0, "repeat", 60.0),
        (31.0, "ok", 6.0),
        (90.0, "missed", None),
    ]
    assert counted(found) == [(-10.0, 5.0), (31.0, 6.0), (90.0, None)]


def test_what_a_stopped_test_did_not_come_to_is_missed(scene: Scene) -> None:
    """While it runs, what is still to come is not."""
    test = begun(scene)
    sampled(scene, test, POSITIVE[:4])
    assert len(recorded(scene, test).tries) == 5
    put(scene, test, state="stopped", state_why="felt faint")
    found = recorded(scene, test)
    assert [(one.minute, one.note) for one in found.tries[5:]] == [
        (150.0, "not taken"),
        (180.0, "not taken"),
    ]


def test_symptoms_go_with_the_try_that_counts(scene: Scene) -> None:
    """With the missed sample where there is none."""
    test = begun(scene)
    score(scene, test, planned_minute=0.0, scores={"pain": 1})
    scene.clock.pass_minutes(30)
    take(scene, test, 60.0, to_repeat=True)
    scene.clock.pass_minutes(1)
    take(scene, test, 6.0)
    score(scene, test, planned_minute=30.0, scores={"pain": 4})
    miss(scene, test, 60.0)
    score(scene, test, planned_minute=60.0, scores={"pain": 7})
    found = recorded(scene, test)
    assert [(one.minute, dict(one.symptoms)) for one in found.tries] == [
        (-10.0, {"pain": 1.0}),
        (30.0, {}),
        (31.0, {"pain": 4.0}),
        (60.0, {"pain": 7.0}),
    ]


def test_a_decision_whose_sample_was_moved_away_rests_on_what_is_left(scene: Scene) -> None:
    """Nothing of another patient makes the baseline."""
    test = scene.test(substrate="lactose", state="cleared")
    mine, theirs = take(scene, test, 5.0), take(scene, test, 40.0)
    go(scene, test, mine, theirs)
    scene.clock.pass_minutes(10)
    put(scene, test, state="sampling", t0=scene.clock.at)
    other = scene.test(substrate="lactose", state="cleared")
    move(scene, theirs, other)
    assert counted(recorded(scene, test)) == [(-10.0, 5.0)]
