"""Rows of access: passwords, waits after wrong ones, sessions and proofs for signing."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.core.clinic.cells import PROVENANCES, Cells

FILE = "access.toml"
"""The file of the rows, for messages."""


@dataclass(frozen=True, slots=True)
class PasswordPolicy:
    """How long a password is, in characters, and which ones are refused as commonly used."""

    least_length: int
    most_length: int
    common: frozenset[str]


@dataclass(frozen=True, slots=True)
class SessionLimits:
    """How long a session lasts while nobody works in it and at most; how often that is noted."""

    idle_s: float
    most_s: float
    seen_every_s: float


@dataclass(frozen=True, slots=True)
class Wait:
    """From so many wrong passwords in a row on, so long until the next try, s."""

    failures: int
    wait_s: float


@dataclass(frozen=True, slots=True)
class Throttle:
    """Waits that grow with the wrong passwords, and when those are forgotten, s."""

    waits: tuple[Wait, ...]
    forget_s: float


@dataclass(frozen=True, slots=True)
class ProofLimits:
    """How long a password given again counts for signing, s."""

    life_s: float


@dataclass(frozen=True, slots=True)
class AccessTable:
    """All rows of access. ``sources`` says for each table where its rows come from."""

    password: PasswordPolicy
    session: SessionLimits
    throttle: Throttle
    proof: ProofLimits
    sources: Mapping[str, tuple[str, str]]


def parse_access(table: Mapping[str, Any]) -> AccessTable:
    """Return the rows of access, or refuse them whole.

    Parameters
    ----------
    table : mapping
        What data/access.toml holds.

    Returns
    -------
    AccessTable

    Raises
    ------
    SettingError
        With key, what was allowed and what came.
    """
    top = Cells(table, file=FILE, path="")
    top.only(("password", "session", "throttle", "proof", "common"))
    common = _table(top, "common", "passwords")
    return AccessTable(
        password=_password(_table(top, "password", "least_length", "most_length"), common),
        session=_session(_table(top, "session", "idle_minutes", "most_hours", "seen_every_s")),
        throttle=_throttle(_table(top, "throttle", "forget_days", "wait")),
        proof=ProofLimits(life_s=_table(top, "proof", "life_s").number("life_s", 10, 3600)),
        sources={name: _source(top.table(name)) for name in top.names()},
    )


def _table(top: Cells, name: str, *keys: str) -> Cells:
    table = top.table(name)
    table.only((*keys, "source", "provenance"))
    return table


def _source(table: Cells) -> tuple[str, str]:
    return table.text("source"), table.choice("provenance", PROVENANCES)


def _password(row: Cells, common: Cells) -> PasswordPolicy:
    # Nobody may set a length that the guideline does not allow: 8 to 64 must lie in the range.
    return PasswordPolicy(
        least_length=_whole(row, "least_length", 8, 64),
        most_length=_whole(row, "most_length", 64, 4096),
        common=frozenset(common.text("passwords").casefold().split()),
    )


def _session(row: Cells) -> SessionLimits:
    idle_s = row.number("idle_minutes", 1, 24 * 60) * 60.0
    most_s = row.number("most_hours", 1, 30 * 24) * 3600.0
    if idle_s > most_s:
        raise row.error(
            "idle_minutes",
            "longer than the whole session",
            f"{most_s / 60:g} or less",
            f"{idle_s / 60:g}",
        )
    seen_every_s = row.number("seen_every_s", 0, 600)
    if seen_every_s >= idle_s:
        raise row.error(
            "seen_every_s", "a session in use would end", f"less than {idle_s:g}", seen_every_s
        )
    return SessionLimits(idle_s=idle_s, most_s=most_s, seen_every_s=seen_every_s)


def _throttle(row: Cells) -> Throttle:
    waits: list[Wait] = []
    for one in row.rows("wait"):
        one.only(("failures", "wait_s"))
        wait = Wait(_whole(one, "failures", 1, 100), one.number("wait_s", 1, 24 * 3600))
        if waits and wait.failures <= waits[-1].failures:
            raise one.error(
                "failures", "not in order", f"more than {waits[-1].failures}", wait.failures
            )
        if waits and wait.wait_s < waits[-1].wait_s:
            raise one.error(
                "wait_s",
                "shorter than after fewer failures",
                f"{waits[-1].wait_s:g} or more",
                f"{wait.wait_s:g}",
            )
        waits.append(wait)
    if not waits:
        raise row.error("wait", "guessing is not slowed down", "one row or more", "none")
    return Throttle(waits=tuple(waits), forget_s=row.number("forget_days", 1, 366) * 86400.0)


def _whole(row: Cells, key: str, least: int, most: int) -> int:
    number = row.number(key, least, most)
    if number != int(number):
        raise row.error(key, "not a whole number", f"{least} to {most}", number)
    return int(number)
