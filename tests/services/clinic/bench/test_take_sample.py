"""A sample is kept with its values, its minute, its patient, or not at all."""

from datetime import UTC, datetime, timedelta

import pytest

from ebbline.core.clinic.record.bench import SampleTry, TestEvent
from ebbline.core.clinic.record.staff import AnalyserCheck
from ebbline.core.errors import AccessError, ClinicError, FieldError
from ebbline.services.clinic.bench.breath_taken import Reduced, Typed
from ebbline.services.clinic.bench.right_patient import Checked
from ebbline.services.clinic.bench.take_sample import take_sample
from tests.core.breath.givens import a_trace, reduced
from tests.scene import Scene
from tests.services.clinic.breaths import begun, label, put, take, typed
from tests.services.clinic.given import last_act, refused, stands

TRACE = "ab" * 32


def a_blow(digest: str = TRACE, *, to_s: float = 10.0) -> Reduced:
    """Return an invented blow, reduced from its trace."""
    reduction = reduced(a_trace(seed=3, to_s=to_s))
    return Reduced(reduction, digest, {"file": "2026-11-27-084000.csv"})


def test_a_typed_sample_is_kept_with_all_that_it_says(scene: Scene) -> None:
    """Raw and normalised by hand: O2 15.3 % has (20.9 - 15.3)/7 = 0.8 of alveolar gas."""
    test = begun(scene)
    scene.clock.pass_minutes(31)
    one = take(scene, test, 20.0, breath=Typed(20.0, 4.0, 15.3, None), note=" was called away ")
    assert (one.planned_minute, one.label, one.status, one.way) == (30.0, "", "ok", "typed")
    assert (one.h2_ppm, one.ch4_ppm, one.o2_pct, one.co2_pct) == (20.0, 4.0, 15.3, None)
    assert one.alveolar_fraction == pytest.approx(0.8)
    assert (one.h2_normalised_ppm, one.ch4_normalised_ppm) == pytest.approx((25.0, 5.0))
    assert one.h2_u_ppm is not None
    assert one.h2_u_ppm > 0.0
    assert one.quality == "normalised"
    assert one.reasons == ("O2 15.3 %: alveolar fraction 0.80, scaled by 1.25",)
    assert (one.operator, one.checked, one.note) == (
        scene.bench.user_id,
        ("label",),
        "was called away",
    )
    assert stands(scene, SampleTry, id=one.id).entry == one


def test_a_blow_is_kept_with_its_trace(scene: Scene) -> None:
    """The values of the reduction, its digest and its summary."""
    test = begun(scene)
    scene.clock.pass_minutes(30)
    blow = a_blow()
    one = take(scene, test, 0.0, breath=blow)
    reading = blow.reduction.reading
    assert reading is not None
    assert (one.way, one.status, one.quality) == ("blow", "ok", blow.reduction.quality)
    assert (one.h2_ppm, one.h2_u_ppm) == (reading.h2.raw_ppm, reading.h2.u_ppm)
    assert one.o2_pct == blow.reduction.values["o2_pct"].raw
    assert (one.trace_digest, one.trace_summary) == (TRACE, {"file": "2026-11-27-084000.csv"})


def test_a_refused_blow_is_kept_as_one_to_be_repeated(scene: Scene) -> None:
    """With the reasons, and without a value that counts."""
    test = begun(scene)
    scene.clock.pass_minutes(30)
    one = take(scene, test, 0.0, breath=a_blow(to_s=1.5))
    assert (one.status, one.quality) == ("repeat", "refused")
    assert one.reasons
    assert one.h2_normalised_ppm is None
    again = take(scene, test, 6.0)
    assert (again.planned_minute, again.status) == (30.0, "ok")


def test_an_operator_may_want_it_again(scene: Scene) -> None:
    """The try is kept and does not count."""
    test = begun(scene)
    scene.clock.pass_minutes(30)
    assert take(scene, test, 6.0, to_repeat=True).status == "repeat"


def test_fasting_samples_are_numbered(scene: Scene) -> None:
    """A try to be repeated has the number of the sample that it was meant to be."""
    test = scene.test(substrate="lactose", state="cleared")
    labels = [
        take(scene, test, 18.0, to_repeat=True).label,
        take(scene, test, 18.0).label,
        take(scene, test, 6.0).label,
    ]
    assert labels == ["B1", "B1", "B2"]


def test_the_same_trace_is_kept_once(scene: Scene) -> None:
    """Sent again under its token it is the same sample, under another it is refused."""
    test = begun(scene)
    scene.clock.pass_minutes(30)
    first = take(scene, test, 0.0, breath=a_blow(), token="tap-1")
    assert take(scene, test, 0.0, breath=a_blow(), token="tap-1") == first
    text = (
        "trace_digest: this breath is on record already; allowed: a breath that is new; "
        "came: that of test 1"
    )
    with refused(scene, FieldError, text):
        take(scene, test, 0.0, breath=a_blow(), token="tap-2")
    with scene.clinic.record.look() as look:
        assert len(look.find(SampleTry, {"trace_digest": TRACE})) == 1


def test_another_value_under_the_same_token_is_refused(scene: Scene) -> None:
    """A tablet that sends two breaths under one name has lost one."""
    test = begun(scene)
    scene.clock.pass_minutes(30)
    take(scene, test, 6.0, token="tap-1")
    with pytest.raises(FieldError, match="token: this was sent before with other content"):
        take(scene, test, 7.0, token="tap-1")


@pytest.mark.parametrize("state", ["booked", "arrived", "dosed", "finished", "stopped", "signed"])
def test_no_sample_is_taken_elsewhere_in_the_life_of_a_test(scene: Scene, state: str) -> None:
    """Only fasting, and after minute 0."""
    test = scene.test(substrate="lactose", state=state)
    text = (
        "state: this is not done to a test that stands there; allowed: cleared or sampling; "
        f"came: {state}"
    )
    with refused(scene, ClinicError, text):
        take(scene, test, 6.0)


def test_a_breath_of_nobody_in_particular_is_refused(scene: Scene) -> None:
    """Nothing is kept."""
    test = begun(scene)
    text = (
        "checked: nobody knows whose breath this is; allowed: a label that was scanned, or two "
        "identifiers that the patient said; came: nothing"
    )
    with refused(scene, FieldError, text):
        take(scene, test, 6.0, checked=Checked("", {}))


def test_the_time_may_be_told(scene: Scene) -> None:
    """In any zone; it is kept in UTC, and the minute follows from it."""
    test = begun(scene)
    scene.clock.pass_minutes(40)
    told = scene.clock.at.astimezone(scene.clinic.zone) - timedelta(minutes=9)
    one = take(scene, test, 6.0, at=told)
    assert (one.at, one.planned_minute) == (datetime(2026, 11, 27, 8, 41, tzinfo=UTC), 30.0)


def test_smoking_shortly_before_is_warned_of(scene: Scene) -> None:
    """The warning is kept with the act; 15 min later there is none."""
    test = begun(scene)
    scene.clock.pass_minutes(22)
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        act.add(TestEvent(act.new_id(), test.id, act.at, "smoked", None, ""))
    scene.clock.pass_minutes(8)
    take(scene, test, 90.0)
    assert "smoked 8 min before; at least 15 are asked" in last_act(scene)[2]
    scene.clock.pass_minutes(30)
    take(scene, test, 9.0)
    assert "smoked" not in last_act(scene)[2]


def test_the_calibration_in_force_is_kept(scene: Scene) -> None:
    """The last one before the sample."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        early = act.at - timedelta(hours=1)
        checks = [
            act.add(
                AnalyserCheck(
                    act.new_id(), scene.analyser.id, "calibration", at, True, "gas 100 ppm", ""
                )
            )
            for at in (early, act.at + timedelta(minutes=20))
        ]
    test = begun(scene)
    scene.clock.pass_minutes(30)
    assert take(scene, test, 6.0).calibration_id == checks[1].id
    with scene.clinic.record.look() as look:
        fasting = look.find(SampleTry, {"test_id": test.id})[0].entry
    assert (fasting.analyser_id, fasting.calibration_id) == (scene.analyser.id, checks[0].id)


def test_only_the_bench_takes_samples(scene: Scene) -> None:
    """Not even a reviewer does."""
    test = begun(scene)
    with pytest.raises(AccessError, match="this role may not take a sample"):
        take_sample(
            scene.clinic,
            scene.reviewer,
            test_id=test.id,
            checked=label(test),
            breath=typed(6.0),
            typed_again=None,
            confirmed=False,
            to_repeat=False,
            at=None,
            planned_minute=None,
            analyser_id=None,
            note="",
            token=None,
        )


def test_a_fasting_sample_may_be_entered_late(scene: Scene) -> None:
    """Its time says that it was before minute 0."""
    test = begun(scene)
    scene.clock.pass_minutes(20)
    one = take(scene, test, 6.0, at=scene.clock.at - timedelta(minutes=25))
    assert (one.label, one.planned_minute) == ("B2", 0.0)


def test_a_sample_at_the_limit_of_the_drink_is_a_fasting_one(scene: Scene) -> None:
    """Minute 0 itself belongs to the baseline, as in a curve file."""
    test = begun(scene)
    assert take(scene, put(scene, test, site="room 3"), 6.0).label == "B2"
