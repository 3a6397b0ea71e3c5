import tomllib
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.access import (
    PasswordProof,
    Tried,
    check_proof,
    check_session,
    next_try,
    too_early,
)
from ebbline.core.clinic.access_table import parse_access
from ebbline.core.errors import AccessError

TABLE = parse_access(tomllib.loads((DATA / "access.toml").read_text(encoding="utf-8")))
THROTTLE = TABLE.throttle
LONGEST_S = 3600.0
START = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)


def later(seconds: float) -> datetime:
    """Return a moment after the start."""
    return START + timedelta(seconds=seconds)


def earliest_s(failures: int) -> float:
    """Return how long after the first wrong password so many may have been given, by hand."""
    waits = [0] * 4 + [30] * 5 + [300] * 5 + [900] * 5
    return float(sum((waits + [3600] * failures)[: failures - 1]))


def test_the_first_five_tries_need_no_wait() -> None:
    """A person who mistypes is not held up."""
    tried = None
    for count in range(1, 6):
        tried, wait_s = next_try(tried, THROTTLE, now=START)
        assert (tried, wait_s) == (Tried(count, START), 0.0)


@pytest.mark.parametrize(
    ("failures", "after_s", "wait_s"),
    [(5, 0, 30), (9, 0.5, 29.5), (10, 0, 300), (15, 0, 900), (20, 0, 3600), (4000, 0, 3600)],
)
def test_a_try_that_is_too_early_is_not_counted(
    failures: int, after_s: float, wait_s: float
) -> None:
    """So that trying all the time makes nobody wait for longer."""
    tried = Tried(failures, START)
    assert next_try(tried, THROTTLE, now=later(after_s)) == (tried, wait_s)


@pytest.mark.parametrize(
    ("wait_s", "words"),
    [
        (0.1, "1 s"),
        (30, "30 s"),
        (59.5, "1 min"),
        (61, "2 min"),
        (3600, "60 min"),
        (9e3, "2 h 30 min"),
    ],
)
def test_who_is_too_early_is_told_how_long_to_wait(wait_s: float, words: str) -> None:
    """Rounded up, so that who waits so long is not too early again."""
    assert str(too_early(wait_s)) == (
        f"login: too many wrong passwords in a row; allowed: another try in {words}; "
        "came: a try before that"
    )


@given(st.lists(st.floats(0, 5000), min_size=1, max_size=60))
def test_nobody_guesses_faster_than_the_waits_allow(gaps: list[float]) -> None:
    """However tries are spread, a wrong one comes no sooner than the waits before it add up to."""
    tried, now_s = None, 0.0
    first_s: float | None = None
    for gap in gaps:
        now_s += gap
        tried, wait_s = next_try(tried, THROTTLE, now=later(now_s))
        if wait_s == 0.0:
            first_s = now_s if first_s is None else first_s
            assert now_s - first_s >= earliest_s(tried.failures) - 0.001


@given(failures=st.integers(1, 10**6), shift_s=st.floats(-(10**8), 10**5))
def test_who_waits_as_told_may_always_try_again(failures: int, shift_s: float) -> None:
    """There is no lasting lock, and a clock that was set back makes none."""
    tried, wait_s = next_try(Tried(failures, START), THROTTLE, now=later(shift_s))
    assert 0.0 <= wait_s <= LONGEST_S
    if wait_s > 0.0:
        again, left_s = next_try(tried, THROTTLE, now=later(shift_s + wait_s + 0.001))
        assert (again.failures, left_s) == (failures + 1, 0.0)


def test_wrong_passwords_of_long_ago_are_forgotten() -> None:
    """After 30 days, by the shipped rows."""
    tried = Tried(50, START)
    assert next_try(tried, THROTTLE, now=later(30 * 86400)) == (Tried(1, later(30 * 86400)), 0.0)
    assert next_try(tried, THROTTLE, now=later(29 * 86400)) == (Tried(51, later(29 * 86400)), 0.0)


def session_words(
    *, begun_s: float = 0, seen_s: float = 0, ended_s: float | None = None, now_s: float
) -> str:
    """Return the words with which a session is refused, else whether its use is to be noted."""
    try:
        note = check_session(
            TABLE.session,
            begun_at=later(begun_s),
            seen_at=later(seen_s),
            ended_at=None if ended_s is None else later(ended_s),
            now=later(now_s),
        )
    except AccessError as error:
        return str(error)
    return "note" if note else "open"


def test_a_session_in_use_stays_open_and_its_use_is_noted_once_a_minute() -> None:
    """So that reading a page does not write each time."""
    assert session_words(now_s=0) == "open"
    assert session_words(now_s=59.9) == "open"
    assert session_words(now_s=60) == "note"
    assert session_words(now_s=1799) == "note"


def test_a_session_is_refused_in_three_ways() -> None:
    """In other words each: nobody worked in it, it lasted its time, it was ended."""
    assert session_words(now_s=1800) == (
        "session: nobody has worked in this session for too long; allowed: less than 30 min, or a "
        "new login; came: 30 min"
    )
    assert session_words(seen_s=43100, now_s=43200) == (
        "session: this session has lasted its full time; allowed: less than 12 h 0 min, or a new "
        "login; came: 12 h 0 min"
    )
    assert session_words(ended_s=5, now_s=6) == (
        "session: this session was ended; allowed: a new login; came: a session that was ended by "
        "a logout, a new password or a manager"
    )


def test_a_clock_that_was_set_back_does_not_keep_a_session_open() -> None:
    """That somebody works in it is noted by the new time, from which idleness counts."""
    assert session_words(seen_s=7200, now_s=3600) == "note"


PROOF = PasswordProof("user1", START)


@pytest.mark.parametrize("after_s", [0, 1, 120])
def test_a_fresh_proof_counts_for_its_user(after_s: float) -> None:
    """For two minutes, by the shipped rows."""
    check_proof(PROOF, "user1", now=later(after_s), limits=TABLE.proof)


@pytest.mark.parametrize(
    ("user", "after_s", "words"),
    [
        (
            "user2",
            0,
            (
                "somebody else gave the password; allowed: the password of the person who signs; "
                "came: that of another person"
            ),
        ),
        (
            "user1",
            121,
            (
                "the password was not given just now; allowed: at most 2 min before signing; "
                "came: 3 min before"
            ),
        ),
        (
            "user1",
            -1,
            (
                "the password was not given just now; allowed: at most 2 min before signing; "
                "came: a time after signing"
            ),
        ),
    ],
)
def test_a_proof_counts_for_nobody_else_and_at_no_other_time(
    user: str, after_s: float, words: str
) -> None:
    """Nor before it was given."""
    with pytest.raises(AccessError) as caught:
        check_proof(PROOF, user, now=later(after_s), limits=TABLE.proof)
    assert str(caught.value) == f"password: {words}"
