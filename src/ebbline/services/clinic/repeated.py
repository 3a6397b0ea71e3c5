"""The same act sent twice is done once: a tablet that got no answer may safely send it again."""

from collections.abc import Callable
from typing import TypeVar

from ebbline.core.clinic.record.entry import Entry, kind_name
from ebbline.core.errors import FieldError
from ebbline.services.clinic.ports import Act

E = TypeVar("E", bound=Entry)


def repeated(
    act: Act, kind: type[E], token: str | None, *, same: Callable[[E], bool] | None = None
) -> E | None:
    """Return what an act of this token wrote before, or None where it is to be done now.

    Parameters
    ----------
    act : Act
        The act at hand.
    kind : type of Entry
        What the act writes.
    token : str or None
        What the sender calls this act; None where the sender gave it no name.
    same : callable or None
        Whether an entry says what is asked for now; it also picks the entry where the act wrote
        several of the kind. None takes any.

    Returns
    -------
    Entry or None

    Raises
    ------
    FieldError
        If the token was used for something else.

    Examples
    --------
    The first line of nearly every use case::

        if (before := repeated(act, Symptoms, token, same=lambda one: one.scores == scores)):
            return before
    """
    done = None if token is None else act.done(token)
    if done is None:
        return None
    for one in act.written_by(kind, done):
        if same is None or same(one.entry):
            return one.entry
    raise FieldError(
        field="token",
        wrong="this was sent before with other content",
        allowed="the same content again, or a token of its own",
        came=f"another {kind_name(kind).replace('_', ' ')} under the token of act {done}",
    )
