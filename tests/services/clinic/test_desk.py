"""Nothing is read or done by somebody who may not, and a lapsed competence is kept with the act."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from ebbline.core.clinic.record.people import Patient
from ebbline.core.clinic.record.staff import CompetenceProof, User
from ebbline.core.errors import AccessError
from ebbline.services.clinic.desk import Actor
from tests.scene import Scene


def weigh(scene: Scene, who: Actor, *, token: str | None = None) -> list[str]:
    """Do an act of the bench and return what the person was warned of."""
    with scene.clinic.act("weigh", who, why="", token=token) as act:
        if token is None or act.done(token) is None:
            act.add(Patient(act.new_id(), "female", "en", True))
    with scene.clinic.look(who) as look:
        (seen,) = look.acts([look.head()[0]])
    assert (seen.act, seen.by) == ("weigh", who.user_id)
    warned: list[str] = json.loads(seen.body)["warned"]
    return warned


def refused(scene: Scene, who: Actor, act: str) -> str:
    """Return the words with which an act is refused."""
    with (
        pytest.raises(AccessError) as caught,
        scene.clinic.act(act, who, why="", token=None) as doing,
    ):
        doing.add(Patient(doing.new_id(), "female", "en", True))
    with scene.clinic.record.look() as look:
        assert look.find(Patient, {}) == ()
    return str(caught.value)


def test_whoever_may_do_an_act_does_it(scene: Scene) -> None:
    """The history has their id; nobody is warned while a competence is in date."""
    assert weigh(scene, scene.bench) == []


def test_whoever_may_not_leaves_nothing(scene: Scene) -> None:
    """A role that may not, and an act that there is not."""
    assert refused(scene, scene.auditor, "weigh") == (
        "weigh: this role may not record a body weight; allowed: bench; came: auditor"
    )
    assert refused(scene, scene.bench, "sail").startswith("sail: unknown act; allowed: ")


def test_a_stranger_does_and_reads_nothing(scene: Scene) -> None:
    """An id that is nobody's, or none."""
    for user_id, came in (("nobody", "nobody"), ("", "nobody"), ("x1", "x1")):
        words = f"user: there is no such user; allowed: somebody who has logged in; came: {came}"
        assert refused(scene, Actor(user_id), "weigh") == words
        with pytest.raises(AccessError) as caught, scene.clinic.look(Actor(user_id)):
            pass
        assert str(caught.value) == words


def test_whoever_was_let_go_does_and_reads_nothing(scene: Scene) -> None:
    """From the next act on."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        user = act.get(User, scene.bench.user_id)
        act.revise(replace(user.entry, active=False), version=user.version)
    gone = "this person may not work with the record any more"
    assert gone in refused(scene, scene.bench, "weigh")
    with pytest.raises(AccessError, match=gone), scene.clinic.look(scene.bench):
        pass


def test_a_lapsed_competence_warns_and_does_not_stop(scene: Scene) -> None:
    """The warning is in the history; the same act sent twice is warned of once."""
    scene.clock.at = datetime(2027, 1, 2, 9, 0, tzinfo=UTC)
    lapsed = ["competence for bench: expired since 2027-01-01, for 2 days"]
    assert weigh(scene, scene.bench, token="t1") == lapsed
    with scene.clinic.record.look() as look:
        head = look.head()
    assert weigh(scene, scene.bench, token="t1") == lapsed
    with scene.clinic.record.look() as look:
        assert look.head() == head
        assert len(look.find(Patient, {})) == 1


def test_a_competence_ends_at_the_clinics_midnight(scene: Scene) -> None:
    """In summer an hour before that of UTC."""
    with scene.clinic.record.act("scene", by="", why="", token=None) as act:
        days = (date(2027, 1, 1), date(2027, 6, 30))
        act.add(CompetenceProof(act.new_id(), scene.bench.user_id, "bench", *days, "watched"))
    scene.clock.at = datetime(2027, 6, 30, 22, 59, tzinfo=UTC)
    assert weigh(scene, scene.bench) == []
    scene.clock.at = datetime(2027, 6, 30, 23, 0, tzinfo=UTC)
    assert weigh(scene, scene.bench) == [
        "competence for bench: expired since 2027-07-01, for 1 day"
    ]


def test_a_person_is_found_by_the_id_alone(scene: Scene) -> None:
    """As they stand now."""
    with scene.clinic.look(scene.bench) as look:
        assert scene.clinic.user(look, scene.bench).entry.login == "tide"
