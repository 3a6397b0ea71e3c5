import copy
import tomllib
from typing import Any

import pytest

from ebbline.adapters.files.library import DATA
from ebbline.core.clinic.access_table import Wait, parse_access
from ebbline.core.errors import SettingError

SHIPPED = tomllib.loads((DATA / "access.toml").read_text(encoding="utf-8"))
TABLE = parse_access(SHIPPED)


def changed(table: str, **changes: Any) -> dict[str, Any]:
    """Return the shipped rows with keys of one table replaced."""
    rows = copy.deepcopy(SHIPPED)
    rows[table] |= changes
    return rows


def refusal(rows: dict[str, Any]) -> str:
    """Return the words with which rows are refused."""
    with pytest.raises(SettingError) as caught:
        parse_access(rows)
    return str(caught.value)


def test_lengths_lie_where_the_guideline_asks_for_them() -> None:
    """NIST SP 800-63B (2017), 5.1.1.2: at least 8 are asked for, at least 64 are accepted."""
    assert TABLE.password.least_length >= 8
    assert TABLE.password.most_length >= 64


def test_a_session_lasts_as_long_as_the_guideline_allows() -> None:
    """NIST SP 800-63B (2017), 4.2.3: 30 minutes of inactivity, 12 hours in all."""
    assert (TABLE.session.idle_s, TABLE.session.most_s) == (30 * 60, 12 * 60 * 60)


def test_waits_grow_as_in_the_example_of_the_guideline() -> None:
    """NIST SP 800-63B (2017), 5.2.2: for example from 30 seconds up to an hour."""
    waits = [one.wait_s for one in TABLE.throttle.waits]
    assert (waits[0], waits[-1]) == (30, 3600)
    assert TABLE.throttle.waits[0] == Wait(failures=5, wait_s=30)


def test_a_hundred_wrong_passwords_take_days() -> None:
    """NIST SP 800-63B, 5.2.2, allows 100 in a row; here the last of them comes after three days."""
    due = [
        max((one.wait_s for one in TABLE.throttle.waits if one.failures <= n), default=0.0)
        for n in range(1, 100)
    ]
    assert sum(due) > 3 * 24 * 3600


@pytest.mark.parametrize("word", ["password", "qwertyuiop", "1234567890", "iloveyou", "1q2w3e4r5t"])
def test_what_is_used_most_is_in_the_list(word: str) -> None:
    """UK National Cyber Security Centre (2019), the most used passwords of broken accounts."""
    assert word in TABLE.password.common


def test_each_table_says_where_it_comes_from() -> None:
    """Source and provenance of every table are kept."""
    assert set(TABLE.sources) == {"password", "session", "throttle", "proof", "common"}
    assert TABLE.sources["session"][1] == "read"
    assert all("NIST" in TABLE.sources[one][0] for one in ("password", "session", "throttle"))


WAIT = {"failures": 5, "wait_s": 30}


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (
            SHIPPED | {"door": {}},
            (
                "access.toml, door: unknown key; allowed: password, session, throttle, proof or "
                "common; came: door"
            ),
        ),
        (
            changed("password", shortest=1),
            (
                "access.toml, password.shortest: unknown key; allowed: least_length, most_length, "
                "source or provenance; came: shortest"
            ),
        ),
        (
            changed("password", least_length=7),
            "access.toml, password.least_length: out of range; allowed: 8 to 64; came: 7",
        ),
        (
            changed("password", least_length=10.5),
            "access.toml, password.least_length: not a whole number; allowed: 8 to 64; came: 10.5",
        ),
        (
            changed("session", most_hours=1, idle_minutes=61),
            (
                "access.toml, session.idle_minutes: longer than the whole session; allowed: 60 or "
                "less; came: 61"
            ),
        ),
        (
            changed("session", idle_minutes=5, seen_every_s=300),
            (
                "access.toml, session.seen_every_s: a session in use would end; allowed: less than "
                "300; came: 300.0"
            ),
        ),
        (
            changed("throttle", wait=[]),
            (
                "access.toml, throttle.wait: guessing is not slowed down; "
                "allowed: one row or more; came: none"
            ),
        ),
        (
            changed("throttle", wait=[WAIT, WAIT]),
            "access.toml, wait[2].failures: not in order; allowed: more than 5; came: 5",
        ),
        (
            changed("throttle", wait=[WAIT, {"failures": 6, "wait_s": 29}]),
            (
                "access.toml, wait[2].wait_s: shorter than after fewer failures; "
                "allowed: 30 or more; came: 29"
            ),
        ),
        (
            changed("throttle", wait=[WAIT | {"words": ""}]),
            "access.toml, wait[1].words: unknown key; allowed: failures or wait_s; came: words",
        ),
        (
            changed("proof", life_s="long"),
            "access.toml, proof.life_s: not a number; allowed: 10 to 3600; came: 'long'",
        ),
        (
            changed("common", provenance="heard"),
            (
                "access.toml, common.provenance: not one of the choices; allowed: read, memory or "
                "common practice; came: 'heard'"
            ),
        ),
    ],
)
def test_rows_that_cannot_be_used_are_refused(rows: dict[str, Any], words: str) -> None:
    """Naming the key, what was allowed and what came."""
    assert refusal(rows) == words


@pytest.mark.parametrize("name", ["password", "session", "throttle", "proof", "common"])
def test_a_table_that_is_missing_is_refused(name: str) -> None:
    """No table has rows of its own in the code."""
    rows = {key: value for key, value in SHIPPED.items() if key != name}
    assert refusal(rows) == (
        f"access.toml, {name}: missing; allowed: a table [{name}]; came: nothing"
    )
