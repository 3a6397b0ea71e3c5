"""Whether somebody's competence for a task is in date: warned of and recorded, never a block."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from ebbline.core.clinic.cells import Cells
from ebbline.core.clinic.roles import FILE
from ebbline.core.errors import FieldError

_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Competence:
    """A proof of competence for a task, from one day to another, both included.

    Raises
    ------
    FieldError
        If it ends before it begins.
    """

    task: str
    from_day: date
    until: date

    def __post_init__(self) -> None:
        """Refuse a proof that covers no day."""
        if self.until < self.from_day:
            raise FieldError(
                field="until",
                wrong="ends before it begins",
                allowed=f"{self.from_day.isoformat()} or later",
                came=self.until.isoformat(),
            )


@dataclass(frozen=True, slots=True)
class Standing:
    """Whether a competence is in date, whether it ends soon, and both in words."""

    valid: bool
    due: bool
    words: str


def parse_due_within_days(table: Mapping[str, Any]) -> int:
    """Return how many days before its end a competence is mentioned as due.

    Parameters
    ----------
    table : mapping
        What data/roles.toml holds.

    Returns
    -------
    int
        Days.

    Raises
    ------
    SettingError
        With key, what was allowed and what came.
    """
    row = Cells(table, file=FILE, path="").table("competence")
    row.only(("due_within_days",))
    days = row.number("due_within_days", 0, 365)
    if days != int(days):
        raise row.error("due_within_days", "not whole days", "a whole number", days)
    return int(days)


def standing(
    task: str, entries: Iterable[Competence], *, on: date, due_within_days: int
) -> Standing:
    """Return how somebody's competence for a task stands on a day.

    Proofs that overlap or follow without a gap count as one, so a renewal that is recorded already
    makes nothing due.

    Parameters
    ----------
    task : str
        The task, such as ``review``.
    entries : iterable of Competence
        All proofs of the person, for any task.
    on : date
        The day.
    due_within_days : int
        How many days before its end a competence is due.

    Returns
    -------
    Standing
    """
    proofs = sorted(
        (one for one in entries if one.task == task), key=lambda one: (one.from_day, one.until)
    )
    begun = [one for one in proofs if one.from_day <= on]
    if not begun:
        later = f"; it begins on {proofs[0].from_day.isoformat()}" if proofs else ""
        return Standing(
            valid=False, due=False, words=f"competence for {task}: none recorded{later}"
        )
    end = max(one.until for one in begun)
    if end < on:
        gone = (on - end).days
        return Standing(
            valid=False,
            due=False,
            words=f"competence for {task}: expired since {(end + _DAY).isoformat()}, "
            f"for {_days(gone)}",
        )
    for one in proofs:
        if one.from_day <= end + _DAY:
            end = max(end, one.until)
    left = (end - on).days
    due = left <= due_within_days
    words = f"competence for {task}: valid until {end.isoformat()}"
    return Standing(
        valid=True, due=due, words=f"{words}, {_days(left)} left, due for renewal" if due else words
    )


def _days(count: int) -> str:
    return f"{count} day" if count == 1 else f"{count} days"
