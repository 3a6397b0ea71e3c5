import tomllib
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.competence import Competence, Standing, parse_due_within_days, standing
from ebbline.core.errors import FieldError, SettingError

YEAR = Competence("bench", date(2026, 1, 1), date(2026, 12, 31))
NEXT = Competence("bench", date(2027, 1, 1), date(2027, 12, 31))


def on(day: date, *entries: Competence, task: str = "bench", within: int = 30) -> Standing:
    """Return how a competence stands on a day."""
    return standing(task, entries, on=day, due_within_days=within)


@pytest.mark.parametrize(
    ("day", "valid", "due", "words"),
    [
        (date(2025, 12, 31), False, False, "none recorded; it begins on 2026-01-01"),
        (date(2026, 1, 1), True, False, "valid until 2026-12-31"),
        (date(2026, 11, 30), True, False, "valid until 2026-12-31"),
        (date(2026, 12, 1), True, True, "valid until 2026-12-31, 30 days left, due for renewal"),
        (date(2026, 12, 30), True, True, "valid until 2026-12-31, 1 day left, due for renewal"),
        (date(2026, 12, 31), True, True, "valid until 2026-12-31, 0 days left, due for renewal"),
        (date(2027, 1, 1), False, False, "expired since 2027-01-01, for 1 day"),
        (date(2027, 1, 31), False, False, "expired since 2027-01-01, for 31 days"),
    ],
)
def test_both_the_first_and_the_last_day_count(
    day: date, valid: bool, due: bool, words: str
) -> None:
    """The words say until when, or since when no more."""
    assert on(day, YEAR) == Standing(valid, due, f"competence for bench: {words}")


def test_a_renewal_that_follows_without_a_gap_makes_nothing_due() -> None:
    """The words give the end of both."""
    assert on(date(2026, 12, 31), NEXT, YEAR) == Standing(
        True, False, "competence for bench: valid until 2027-12-31"
    )


def test_a_renewal_after_a_gap_does_not_cover_the_gap() -> None:
    """The first proof is due, and in the gap the competence has expired."""
    later = Competence("bench", date(2027, 1, 2), date(2027, 12, 31))
    assert on(date(2026, 12, 31), YEAR, later).due
    assert on(date(2027, 1, 1), YEAR, later) == Standing(
        False, False, "competence for bench: expired since 2027-01-01, for 1 day"
    )
    assert on(date(2027, 1, 2), YEAR, later).valid


def test_a_proof_for_another_task_counts_for_nothing() -> None:
    """Nor does it when there is none at all."""
    assert on(date(2026, 5, 1), YEAR, task="review") == Standing(
        False, False, "competence for review: none recorded"
    )
    assert not on(date(2026, 5, 1)).valid


def test_a_shorter_proof_does_not_shorten_a_longer_one() -> None:
    """The latest end counts."""
    short = Competence("bench", date(2026, 2, 1), date(2026, 2, 28))
    assert on(date(2026, 6, 1), YEAR, short).words == "competence for bench: valid until 2026-12-31"


def test_a_proof_that_ends_before_it_begins_is_refused() -> None:
    """One of a single day is not."""
    assert Competence("bench", date(2026, 1, 1), date(2026, 1, 1)).until == date(2026, 1, 1)
    with pytest.raises(FieldError) as caught:
        Competence("bench", date(2026, 1, 2), date(2026, 1, 1))
    assert str(caught.value) == (
        "until: ends before it begins; allowed: 2026-01-02 or later; came: 2026-01-01"
    )


DAYS = st.integers(0, 400).map(lambda n: date(2026, 1, 1) + timedelta(days=n))
PROOFS = st.lists(
    st.tuples(DAYS, st.integers(0, 120)).map(
        lambda pair: Competence("bench", pair[0], pair[0] + timedelta(days=pair[1]))
    ),
    max_size=6,
)


@given(PROOFS, DAYS)
def test_a_competence_is_valid_on_exactly_the_days_that_some_proof_covers(
    proofs: list[Competence], day: date
) -> None:
    """Checked day by day, and due is when a day of the days to come is not covered."""

    def covered(one: date) -> bool:
        return any(proof.from_day <= one <= proof.until for proof in proofs)

    found = on(day, *proofs)
    ahead = [covered(day + timedelta(days=n)) for n in range(32)]
    assert found.valid == ahead[0]
    assert found.due == (ahead[0] and not all(ahead))


def test_the_shipped_setting_is_thirty_days() -> None:
    """Common practice, no source."""
    shipped = tomllib.loads((DATA / "roles.toml").read_text(encoding="utf-8"))
    assert parse_due_within_days(shipped) == 30


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (
            {},
            "roles.toml, competence: missing; allowed: a table [competence]; came: nothing",
        ),
        (
            {"competence": {}},
            "roles.toml, competence.due_within_days: missing; allowed: 0 to 365; came: nothing",
        ),
        (
            {"competence": {"due_within_days": 30, "colour": "red"}},
            "roles.toml, competence.colour: unknown key; allowed: due_within_days; came: colour",
        ),
        (
            {"competence": {"due_within_days": -1}},
            "roles.toml, competence.due_within_days: out of range; allowed: 0 to 365; came: -1",
        ),
        (
            {"competence": {"due_within_days": "soon"}},
            "roles.toml, competence.due_within_days: not a number; allowed: 0 to 365; came: 'soon'",
        ),
        (
            {"competence": {"due_within_days": 2.5}},
            (
                "roles.toml, competence.due_within_days: not whole days; allowed: a whole number; "
                "came: 2.5"
            ),
        ),
    ],
)
def test_a_setting_that_cannot_be_used_is_refused(table: dict[str, Any], message: str) -> None:
    """With the key, what was allowed and what came."""
    with pytest.raises(SettingError) as caught:
        parse_due_within_days(table)
    assert str(caught.value) == message
