"""What holds for the chain over any history: whatever is done to a row, that row is named."""

from dataclasses import replace

from hypothesis import assume, given
from hypothesis import strategies as st

from ebbline.core.clinic.record.chain import START, ActDone, Change, Fault, Link, body_of, link
from ebbline.core.clinic.record.chain import check_links as check

WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=6)
CHANGES = st.builds(Change, WORDS, WORDS, st.integers(1, 9), WORDS)


@st.composite
def bodies(draw: st.DrawFn, seq: int) -> str:
    """The body of any act."""
    done = st.builds(
        ActDone,
        seq=st.just(seq),
        at=WORDS,
        zone=WORDS,
        by=WORDS,
        act=WORDS,
        why_digest=st.none() | WORDS,
        token=st.none() | WORDS,
        warned=st.lists(WORDS, max_size=2).map(tuple),
        changes=st.lists(CHANGES, max_size=2).map(tuple),
    )
    return body_of(draw(done))


@st.composite
def chains(draw: st.DrawFn, *, least: int) -> list[Link]:
    """A whole chain of any acts."""
    count = draw(st.integers(least, 5))
    return linked([draw(bodies(seq)) for seq in range(1, count + 1)])


def linked(texts: list[str]) -> list[Link]:
    """The chain of bodies."""
    rows: list[Link] = []
    for seq, body in enumerate(texts, start=1):
        rows.append(Link(seq, body, link(rows[-1].hash if rows else START, body)))
    return rows


def fault_in(rows: list[Link]) -> int | None:
    """The row that is named, None for a whole chain; rows before it must have been let through."""
    said = list(check(rows))
    if said and isinstance(said[-1], Fault):
        assert said[:-1] == rows[: len(said) - 1]
        assert said[-1].entry == ""
        return said[-1].seq
    assert said == rows
    return None


@given(rows=chains(least=0))
def test_a_chain_as_it_was_written_is_whole(rows: list[Link]) -> None:
    """Whatever was done."""
    assert fault_in(rows) is None


@given(rows=chains(least=1), data=st.data())
def test_a_body_that_was_edited_is_named(rows: list[Link], data: st.DataObject) -> None:
    """Be it by one letter."""
    place = data.draw(st.integers(0, len(rows) - 1))
    body = rows[place].body
    letter = data.draw(st.integers(0, len(body) - 1))
    other = data.draw(st.characters(exclude_categories=["Cs"]))
    assume(other != body[letter])
    rows[place] = replace(rows[place], body=body[:letter] + other + body[letter + 1 :])
    assert fault_in(rows) == place + 1


@given(rows=chains(least=1), data=st.data())
def test_a_hash_that_was_edited_is_named(rows: list[Link], data: st.DataObject) -> None:
    """The row that holds it, not the one after."""
    place = data.draw(st.integers(0, len(rows) - 1))
    other = data.draw(st.binary(min_size=32, max_size=32)).hex()
    assume(other != rows[place].hash)
    rows[place] = replace(rows[place], hash=other)
    assert fault_in(rows) == place + 1


@given(rows=chains(least=2), data=st.data())
def test_a_row_that_was_edited_with_its_hash_shows_in_the_next(
    rows: list[Link], data: st.DataObject
) -> None:
    """Which follows from what was there before."""
    place = data.draw(st.integers(0, len(rows) - 2))
    body = data.draw(bodies(place + 1))
    assume(body != rows[place].body)
    before = rows[place - 1].hash if place else START
    rows[place] = Link(place + 1, body, link(before, body))
    assert fault_in(rows) == place + 2


@given(rows=chains(least=2), data=st.data())
def test_a_row_that_was_taken_out_is_named(rows: list[Link], data: st.DataObject) -> None:
    """Unless it was the last: that shows only against a head that was kept elsewhere."""
    place = data.draw(st.integers(0, len(rows) - 2))
    del rows[place]
    assert fault_in(rows) == place + 1


@given(rows=chains(least=2), data=st.data())
def test_a_row_that_was_taken_out_with_the_rest_renumbered_is_named(
    rows: list[Link], data: st.DataObject
) -> None:
    """The row that took its place does not follow."""
    place = data.draw(st.integers(0, len(rows) - 2))
    del rows[place]
    rows = [replace(row, seq=seq) for seq, row in enumerate(rows, start=1)]
    assert fault_in(rows) == place + 1


@given(rows=chains(least=1))
def test_an_end_that_was_cut_off_does_not_show(rows: list[Link]) -> None:
    """What is left is whole in itself, and its head is another one."""
    assert fault_in(rows[:-1]) is None
    assert [row.hash for row in rows[:-1]][-1:] != [rows[-1].hash]


@given(rows=chains(least=1), data=st.data())
def test_a_row_that_was_put_in_is_named(rows: list[Link], data: st.DataObject) -> None:
    """Under any number and with any hash, unless it follows at the very end."""
    place = data.draw(st.integers(0, len(rows)))
    body = data.draw(bodies(place + 1))
    assume(place == len(rows) or body != rows[place].body)
    forged = Link(place + 1, body, data.draw(st.binary(min_size=32, max_size=32)).hex())
    assume(forged.hash != link(rows[place - 1].hash if place else START, body))
    assert fault_in([*rows[:place], forged, *rows[place:]]) == place + 1


@given(rows=chains(least=1), data=st.data())
def test_a_row_that_was_put_in_with_a_right_hash_shows_in_the_next(
    rows: list[Link], data: st.DataObject
) -> None:
    """Whether the rest keeps its numbers or is numbered anew."""
    place = data.draw(st.integers(0, len(rows) - 1))
    body = data.draw(bodies(place + 1))
    assume(body != rows[place].body)
    forged = Link(place + 1, body, link(rows[place - 1].hash if place else START, body))
    longer = [*rows[:place], forged, *rows[place:]]
    assert fault_in(longer) == place + 2
    renumbered = [replace(row, seq=seq) for seq, row in enumerate(longer, start=1)]
    assert fault_in(renumbered) == place + 2


@given(rows=chains(least=2), data=st.data(), renumbered=st.booleans())
def test_of_two_rows_that_were_swapped_the_first_is_named(
    rows: list[Link], data: st.DataObject, renumbered: bool
) -> None:
    """Whether or not each was given the number of its new place."""
    first = data.draw(st.integers(0, len(rows) - 2))
    second = data.draw(st.integers(first + 1, len(rows) - 1))
    rows[first], rows[second] = rows[second], rows[first]
    if renumbered:
        rows = [replace(row, seq=seq) for seq, row in enumerate(rows, start=1)]
    assert fault_in(rows) == first + 1
