"""Entries of which a test has one: it is written the first time, and a new version after that."""

from typing import TypeVar

from ebbline.core.clinic.record.entry import Entry, Kept, kind_name
from ebbline.core.errors import FieldError
from ebbline.services.clinic.ports import Act, Look

E = TypeVar("E", bound=Entry)


def sole(look: Look, kind: type[E], test_id: str) -> Kept[E] | None:
    """Return the one entry of a kind that a test has, None where there is none yet.

    Parameters
    ----------
    look : Look
        The record.
    kind : type of Entry
        A kind of which a test has one.
    test_id : str
        The test.

    Returns
    -------
    Kept of Entry, or None
    """
    found = look.find(kind, {"test_id": test_id})
    return found[-1] if found else None


def needed(look: Look, kind: type[E], test_id: str) -> Kept[E]:
    """Return the one entry of a kind that a test must have by now.

    Parameters
    ----------
    look : Look
        The record.
    kind : type of Entry
        A kind of which a test has one.
    test_id : str
        The test.

    Returns
    -------
    Kept of Entry

    Raises
    ------
    FieldError
        If it has none.
    """
    found = sole(look, kind, test_id)
    if found is None:
        name = kind_name(kind)
        raise FieldError(
            field=name, wrong="not there yet", allowed=f"a test with its {name}", came="none"
        )
    return found


def write_sole(act: Act, stands: Kept[E] | None, entry: E, *, version: int) -> E:
    """Record the one entry of a kind that a test has, or a new version of it.

    Parameters
    ----------
    act : Act
        The act at hand.
    stands : Kept of Entry, or None
        What stands now.
    entry : Entry
        What is to stand.
    version : int
        The version that the person saw, 0 where there was none.

    Returns
    -------
    Entry

    Raises
    ------
    FieldError
        If the person saw a version that was never there.
    ConflictError
        If it has changed since it was seen.
    """
    if stands is not None:
        return act.revise(entry, version=version)
    if version != 0:
        raise FieldError(
            field="version", wrong="nothing stands yet", allowed="0", came=str(version)
        )
    return act.add(entry)
