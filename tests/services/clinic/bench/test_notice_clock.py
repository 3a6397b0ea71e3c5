"""A clock that was set is noticed, and what it means is decided by a person."""

from typing import Any

import pytest

from ebbline.adapters.sql.anchor import SqlAnchors
from ebbline.core.clinic.clock import Anchor
from ebbline.core.clinic.record.staff import ClockStep
from ebbline.core.errors import AccessError, ConflictError, FieldError
from ebbline.services.clinic.bench.answer_clock import answer_clock
from ebbline.services.clinic.bench.notice_clock import notice_clock
from tests.scene import Scene
from tests.services.clinic.bench.test_minutes import minutes
from tests.services.clinic.breaths import begun, take
from tests.services.clinic.given import last_act, refused

ANCHORS = SqlAnchors()


def notice(scene: Scene, steady_s: float, *, boot: str = "boot-1") -> ClockStep | None:
    """Hold the clocks against where they last stood."""
    now = Anchor(boot_id=boot, steady_s=steady_s, utc=scene.clock.at)
    return notice_clock(scene.clinic, ANCHORS, now)


def answer(scene: Scene, step: ClockStep, **changes: Any) -> ClockStep:
    """Decide that the clock was only set."""
    given: dict[str, Any] = {
        "step_id": step.id,
        "version": 1,
        "decision": "follow",
        "step_s": None,
        "why": "set by the time server",
        "token": None,
    }
    return answer_clock(scene.clinic, scene.bench, **{**given, **changes})


def test_the_first_look_only_remembers(scene: Scene) -> None:
    """Nothing is written into the history."""
    with scene.clinic.record.look() as look:
        head = look.head()
    assert notice(scene, 100.0) is None
    with scene.clinic.record.look() as look:
        assert look.head() == head
        assert ANCHORS.kept(look) == Anchor("boot-1", 100.0, scene.clock.at)


def test_clocks_that_run_alike_say_nothing(scene: Scene) -> None:
    """Up to five seconds apart; each look counts from the one before."""
    notice(scene, 100.0)
    scene.clock.pass_minutes(1)
    assert notice(scene, 165.0) is None
    scene.clock.pass_minutes(1)
    assert notice(scene, 230.0) is None


def test_a_jump_is_recorded_open_and_moves_no_minute(scene: Scene) -> None:
    """By the steady clock half an hour passed, by the wall an hour and a half."""
    test = begun(scene)
    notice(scene, 100.0)
    scene.clock.pass_minutes(90)
    step = notice(scene, 1900.0)
    assert step is not None
    assert (step.kind, step.step_s, step.decision) == ("jump", 3600.0, "open")
    assert (step.at, last_act(scene)[0]) == (scene.clock.at, "notice clock")
    assert notice(scene, 1900.0) is None
    take(scene, test, 6.0)
    assert minutes(scene, test) == [30.0]


def test_a_new_start_is_recorded_while_a_test_runs(scene: Scene) -> None:
    """Nobody can tell whether the clock was set meanwhile."""
    notice(scene, 100.0)
    scene.clock.pass_minutes(10)
    assert notice(scene, 5.0, boot="boot-2") is None
    begun(scene)
    scene.clock.pass_minutes(10)
    step = notice(scene, 5.0, boot="boot-3")
    assert step is not None
    assert (step.kind, step.step_s, step.decision) == ("restart", 0.0, "open")


def test_a_clock_behind_where_it_was_is_always_recorded(scene: Scene) -> None:
    """After a new start it stands an hour before the last look."""
    notice(scene, 100.0)
    scene.clock.pass_minutes(-60)
    step = notice(scene, 5.0, boot="boot-2")
    assert step is not None
    assert (step.kind, step.step_s) == ("backwards", -3600.0)


def test_a_person_decides_with_a_reason(scene: Scene) -> None:
    """Keep: the computer slept, and the patient was an hour older."""
    test = begun(scene)
    notice(scene, 100.0)
    scene.clock.pass_minutes(90)
    step = notice(scene, 1900.0)
    assert step is not None
    take(scene, test, 6.0)
    kept = answer(scene, step, decision="keep", why="the tablet slept", token="tap-1")
    assert (kept.decision, kept.step_s) == ("keep", 3600.0)
    assert last_act(scene)[:2] == ("answer clock", "the tablet slept")
    assert minutes(scene, test) == [90.0]
    assert answer(scene, step, decision="keep", why="x", token="tap-1") == kept
    with pytest.raises(ConflictError, match="decision keep"):
        answer(scene, step)


def test_after_a_new_start_a_person_may_say_by_how_much(scene: Scene) -> None:
    """A jump that was measured is not typed over."""
    test = begun(scene)
    notice(scene, 100.0)
    scene.clock.pass_minutes(90)
    step = notice(scene, 5.0, boot="boot-2")
    assert step is not None
    take(scene, test, 6.0)
    assert answer(scene, step, step_s=3600.0).step_s == 3600.0
    assert minutes(scene, test) == [30.0]
    scene.clock.pass_minutes(60)
    measured = notice(scene, 10.0, boot="boot-2")
    assert measured is not None
    text = "step_s: this jump was measured; allowed: nothing; came: 60"
    with refused(scene, FieldError, text):
        answer(scene, measured, step_s=60.0)


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"why": " "}, "why: missing; allowed: a reason in words; came: nothing"),
        ({"decision": "open"}, "decision: not known; allowed: follow or keep; came: open"),
        (
            {"step_s": 1e6},
            "step_s: out of range; allowed: a week at most, in seconds; came: 1e+06",
        ),
    ],
)
def test_what_decides_nothing_is_refused(scene: Scene, changes: dict[str, Any], text: str) -> None:
    """The jump stays open."""
    begun(scene)
    notice(scene, 100.0)
    scene.clock.pass_minutes(90)
    step = notice(scene, 5.0, boot="boot-2")
    assert step is not None
    with refused(scene, FieldError, text):
        answer(scene, step, **changes)


def test_an_auditor_decides_nothing(scene: Scene) -> None:
    """Whoever only reads only reads."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        step = act.add(ClockStep(act.new_id(), act.at, 60.0, "jump", "open"))
    with pytest.raises(AccessError, match="this role may not decide what a jump"):
        answer_clock(
            scene.clinic,
            scene.auditor,
            step_id=step.id,
            version=1,
            decision="keep",
            step_s=None,
            why="x",
            token=None,
        )
