"""Patients of one surname in the clinic at once: no breath goes to the wrong one.

All people are invented. Twelve Shores sit in the clinic; some share a given name, some a birthday
(day and month), two of them the name and the whole date of birth.
"""

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.clinic.record.people import Identity
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError
from ebbline.services.clinic.bench.right_patient import Checked
from tests.scene import Scene
from tests.services.clinic.breaths import put, take, typed

PEOPLE = (
    ("Ben", date(1985, 3, 2)),
    ("Ben", date(1958, 3, 2)),
    ("Ben", date(1985, 2, 3)),
    ("Ada", date(1985, 3, 2)),
    ("Ada", date(1985, 3, 2)),
    ("Adá", date(1990, 3, 2)),
    ("Bena", date(1985, 3, 2)),
    ("Mara", date(2015, 3, 2)),
    ("Mara", date(2016, 3, 2)),
    ("Noor", date(1972, 11, 30)),
    ("Noor", date(1972, 11, 3)),
    ("Ole", date(1972, 11, 30)),
)
SAMPLES = 200
SEED = 20261127


@dataclass(frozen=True, slots=True)
class Sitting:
    """A patient who sits in the clinic."""

    test: Test
    given_name: str
    born: date
    record_no: str


def seated(scene: Scene) -> list[Sitting]:
    """Return the patients, all of the surname Shore, all at minute 0."""
    found = []
    for given_name, born in PEOPLE:
        test = scene.test(substrate="lactose", state="sampling", t0=scene.clock.at)
        with scene.clinic.record.act("scene", by="", why="", token=None) as act:
            stands = act.find(Identity, {"patient_id": test.patient_id})[0]
            who = replace(stands.entry, given_name=given_name, born=born)
            act.revise(who, version=stands.version)
        found.append(Sitting(test, given_name, born, who.record_no))
    return found


def told_by(one: Sitting, way: str) -> Checked:
    """Return what is scanned off a patient, or what the patient says."""
    said: Mapping[str, Mapping[str, str | date]] = {
        "name and birth": {"family_name": "shore", "given_name": one.given_name, "born": one.born},
        "surname and birth": {"family_name": "SHORE", "born": one.born},
        "name and number": {"family_name": "Shore", "record_no": one.record_no.lower()},
        "birth and number": {"born": one.born, "record_no": one.record_no},
    }
    if way == "label":
        return Checked(str(one.test.number), {})
    return Checked("", said[way])


WAYS = ("label", "name and birth", "surname and birth", "name and number", "birth and number")


def script(people: list[Sitting]) -> Iterator[tuple[int, Sitting, Sitting, str]]:
    """Yield each sample: its number, who blew, whose line was tapped, and how it was checked."""
    rng = random.Random(SEED)
    for number in range(SAMPLES):
        blew = rng.choice(people)
        tapped = blew if rng.random() < 0.6 else rng.choice(people)
        yield number, blew, tapped, rng.choice(WAYS)


def test_two_hundred_samples_of_one_surname(scene: Scene) -> None:
    """Whoever blew is told by the hydrogen: each patient blows a value of their own.

    A line that was tapped wrongly is always refused; a right one is refused only where what was
    said fits two who are here, and then the label tells. Each reading is sent twice.
    """
    people = seated(scene)
    own = {one.test.id: 10.0 + place for place, one in enumerate(people)}
    kept = refused = 0
    for number, blew, tapped, way in script(people):
        scene.clock.pass_minutes(0.5)
        given = {
            "breath": typed(own[blew.test.id], float(number)),
            "planned_minute": 30.0,
            "token": f"tap-{number}",
        }
        try:
            first = take(scene, tapped.test, 0.0, checked=told_by(blew, way), **given)
        except ClinicError:
            refused += 1
            if blew is tapped:
                assert way in ("name and birth", "surname and birth")
                first = take(scene, tapped.test, 0.0, checked=told_by(blew, "label"), **given)
                kept += 1
            continue
        assert blew is tapped
        assert take(scene, tapped.test, 0.0, checked=told_by(blew, way), **given) == first
        kept += 1
    with scene.clinic.record.look() as look:
        samples = [one.entry for one in look.find(SampleTry, {})]
    assert len(samples) == kept
    assert [one for one in samples if one.h2_ppm != own[one.test_id]] == []
    assert len({one.ch4_ppm for one in samples}) == kept
    # The script must really try both: about 60 % right lines, the rest wrong ones.
    assert kept > 100
    assert refused > 60


def test_a_wrong_identifier_is_refused_for_every_pair(scene: Scene) -> None:
    """Each of the twelve says who they are on the line of each other one."""
    people = seated(scene)
    ways = ("label", "name and birth", "birth and number", "name and number")
    pairs = [(a, b) for a in people for b in people if a is not b]
    tried = 0
    for blew, tapped in pairs:
        for way in ways:
            try:
                take(scene, tapped.test, 6.0, checked=told_by(blew, way), planned_minute=30.0)
            except ClinicError:
                tried += 1
    assert tried == len(pairs) * len(ways) == 528
    with scene.clinic.record.look() as look:
        assert look.find(SampleTry, {}) == ()


def test_who_has_gone_home_is_mixed_up_with_nobody(scene: Scene) -> None:
    """Of the two Adas with one birthday, one has finished."""
    people = seated(scene)
    gone, here = people[3], people[4]
    put(scene, gone.test, state="finished")
    scene.clock.pass_minutes(30)
    assert take(scene, here.test, 6.0, checked=told_by(here, "name and birth")).h2_ppm == 6.0
