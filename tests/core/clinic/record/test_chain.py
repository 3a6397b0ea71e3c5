import hashlib
import json
from dataclasses import replace

import pytest

from ebbline.core.clinic.record.chain import (
    START,
    ActDone,
    Change,
    Fault,
    Link,
    body_of,
    check_links,
    link,
)

ACT = ActDone(
    seq=1,
    at="2026-11-27T08:00:00.000000Z",
    zone="Europe/London",
    by="u1",
    act="register patient",
    why_digest=None,
    token="tablet-1",
    warned=("asked twice",),
    changes=(Change("patient", "p1", 1, "ab"),),
)
BODY = (
    '{"act":"register patient","at":"2026-11-27T08:00:00.000000Z","by":"u1",'
    '"changes":[["patient","p1",1,"ab"]],"seq":1,"token":"tablet-1","warned":["asked twice"],'
    '"why":null,"zone":"Europe/London"}'
)


def a_chain(*bodies: str) -> list[Link]:
    """A whole chain of bodies."""
    rows: list[Link] = []
    for seq, body in enumerate(bodies, start=1):
        rows.append(Link(seq, body, link(rows[-1].hash if rows else START, body)))
    return rows


def test_the_body_of_an_act_by_hand() -> None:
    """Everything about it, in canonical JSON."""
    assert body_of(ACT) == BODY


@pytest.mark.parametrize(
    "changed",
    [
        replace(ACT, seq=2),
        replace(ACT, at="2026-11-27T08:00:00.000001Z"),
        replace(ACT, zone="UTC"),
        replace(ACT, by=""),
        replace(ACT, act="x"),
        replace(ACT, why_digest="00"),
        replace(ACT, token=None),
        replace(ACT, warned=()),
        replace(ACT, changes=()),
        replace(ACT, changes=(Change("patient", "p1", 2, "ab"),)),
        replace(ACT, changes=(Change("patient", "p1", 1, "ac"),)),
    ],
)
def test_everything_about_an_act_is_in_its_body(changed: ActDone) -> None:
    """A change of any part gives another."""
    assert body_of(changed) != BODY
    assert json.loads(body_of(changed)).keys() == json.loads(BODY).keys()


def test_the_hash_of_the_first_act_by_hand() -> None:
    """Over 32 bytes of zero, which stand for the hash before it, and the body."""
    assert START == "00" * 32
    assert link(START, BODY) == hashlib.sha256(bytes(32) + BODY.encode()).hexdigest()


def test_a_hash_goes_into_the_next_one_as_bytes() -> None:
    """And the body as UTF-8."""
    due = hashlib.sha256(b"\xab" * 32 + "{é}".encode()).hexdigest()
    assert link("ab" * 32, "{é}") == due


def test_a_whole_chain_is_given_back_row_by_row() -> None:
    """Also one without rows."""
    rows = a_chain("a", "b", "c")
    assert list(check_links(rows)) == rows
    assert list(check_links([])) == []


@pytest.mark.parametrize(
    ("order", "fault"),
    [
        ([1, 2], Fault(1, "", "row 1 is missing; row 2 follows row 0")),
        ([0, 2], Fault(2, "", "row 2 is missing; row 3 follows row 1")),
        ([0, 0, 1, 2], Fault(2, "", "row 1 stands where row 2 is due")),
        ([1, 0, 2], Fault(1, "", "row 1 is missing; row 2 follows row 0")),
    ],
)
def test_a_row_that_is_missing_or_in_another_place_is_named(order: list[int], fault: Fault) -> None:
    """By the row that is due there; what comes after it is not looked at."""
    rows = a_chain("a", "b", "c")
    assert list(check_links([rows[place] for place in order]))[-1] == fault


def test_a_row_that_was_edited_is_named() -> None:
    """Rows before it are given back, and none after it."""
    rows = a_chain("a", "b", "c")
    edited = [rows[0], replace(rows[1], body="x"), rows[2]]
    assert list(check_links(edited)) == [
        rows[0],
        Fault(2, "", "row 2 does not follow from the row before it"),
    ]
