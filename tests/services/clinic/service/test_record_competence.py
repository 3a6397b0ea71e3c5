"""Who was shown to be competent, for what and until when, and who has to be shown anew."""

from datetime import date
from typing import Any

import pytest

from ebbline.core.clinic.record.staff import CompetenceProof
from ebbline.core.errors import AccessError, FieldError
from ebbline.services.clinic.service.record_competence import due, record_competence, standings
from tests.scene import Scene

NEXT = (date(2027, 1, 1), date(2027, 12, 31))


def record_one(scene: Scene, **changes: Any) -> CompetenceProof:
    """Record that M. Tide was shown to be competent at the bench in 2027."""
    given: dict[str, Any] = {
        "user_id": scene.bench.user_id,
        "task": "bench",
        "from_day": NEXT[0],
        "until_day": NEXT[1],
        "words": " watched by a senior ",
        "token": None,
    }
    return record_competence(scene.clinic, scene.manager, **given | changes)


def lines(scene: Scene, on: date, *, only_due: bool) -> list[str]:
    """Return how everybody's competence stands, one line each."""
    found = (due if only_due else standings)(scene.clinic, scene.auditor, on=on)
    return [f"{one.name}, {one.standing.words}" for one in found]


def test_a_proof_is_kept_as_it_was_given(scene: Scene) -> None:
    """And sent twice it is recorded once."""
    proof = record_one(scene, token="t1")
    assert proof == CompetenceProof(
        proof.id, scene.bench.user_id, "bench", *NEXT, "watched by a senior"
    )
    assert record_one(scene, token="t1") == proof
    with scene.clinic.look(scene.auditor) as look:
        assert look.get(CompetenceProof, proof.id).entry == proof
        assert len(look.find(CompetenceProof, {"from_day": NEXT[0]})) == 1


def test_everybody_stands_for_the_tasks_that_their_roles_need(scene: Scene) -> None:
    """By data/roles.toml: reviewers and managers may do some things at the bench."""
    until = "valid until 2026-12-31"
    assert lines(scene, date(2026, 11, 27), only_due=False) == [
        f"Dr L. Harbour, competence for bench: {until}",
        f"Dr L. Harbour, competence for review: {until}",
        f"M. Tide, competence for bench: {until}",
        f"R. Quay, competence for bench: {until}",
        f"S. Wave, competence for bench: {until}",
    ]
    assert lines(scene, date(2026, 11, 27), only_due=True) == []


def test_what_ends_soon_is_due_until_it_is_renewed(scene: Scene) -> None:
    """30 days before its end, by data/roles.toml."""
    record_one(scene)
    end = "valid until 2026-12-31, 30 days left, due for renewal"
    assert lines(scene, date(2026, 12, 1), only_due=True) == [
        f"Dr L. Harbour, competence for bench: {end}",
        f"Dr L. Harbour, competence for review: {end}",
        f"R. Quay, competence for bench: {end}",
        f"S. Wave, competence for bench: {end}",
    ]
    gone = "expired since 2027-01-01, for 1 day"
    assert lines(scene, date(2027, 1, 1), only_due=True)[-1] == (
        f"S. Wave, competence for bench: {gone}"
    )
    assert lines(scene, date(2025, 12, 31), only_due=True)[-1] == (
        "S. Wave, competence for bench: none recorded; it begins on 2026-01-01"
    )


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"task": "sailing"}, "task: no such task; allowed: bench or review; came: sailing"),
        ({"task": ""}, "task: no such task; allowed: bench or review; came: nothing"),
        ({"words": " "}, "words: nothing says how it was shown; allowed: words; came: nothing"),
        (
            {"until_day": date(2026, 12, 31)},
            "until: ends before it begins; allowed: 2027-01-01 or later; came: 2026-12-31",
        ),
        (
            {"user_id": "nobody"},
            "user_id: there is no such user; allowed: one that is in the record; came: nobody",
        ),
    ],
)
def test_a_proof_that_proves_nothing_is_refused(
    scene: Scene, changes: dict[str, Any], words: str
) -> None:
    """Nothing of it is stored."""
    with pytest.raises(FieldError) as caught:
        record_one(scene, **changes)
    assert str(caught.value) == words
    assert len(lines(scene, date(2026, 11, 27), only_due=False)) == 5


def test_only_a_manager_records_competence(scene: Scene) -> None:
    """Nobody vouches for themselves at the bench."""
    with pytest.raises(AccessError) as caught:
        record_competence(
            scene.clinic,
            scene.bench,
            user_id=scene.bench.user_id,
            task="bench",
            from_day=NEXT[0],
            until_day=NEXT[1],
            words="watched by a senior",
            token=None,
        )
    assert str(caught.value) == (
        "record competence: this role may not record a proof of competence; allowed: manager; "
        "came: bench"
    )
