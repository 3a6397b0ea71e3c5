"""Decide what a jump of the computer's clock means for the minutes of running tests."""

from dataclasses import replace
from typing import Literal

from ebbline.core.clinic.record.staff import ClockStep
from ebbline.core.errors import FieldError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import reason
from ebbline.services.clinic.repeated import repeated

_MOST_S = 7.0 * 86_400.0


def answer_clock(
    clinic: Clinic,
    who: Actor,
    *,
    step_id: str,
    version: int,
    decision: Literal["follow", "keep"],
    step_s: float | None,
    why: str,
    token: str | None,
) -> ClockStep:
    """Record the decision on a jump.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who decides.
    step_id : str
        The jump.
    version : int
        The version that the person saw.
    decision : {"follow", "keep"}
        ``follow``: the clock was only set, so minutes are counted past the jump. ``keep``: the
        computer slept, so minutes keep to the clock on the wall.
    step_s : float or None
        By how much the clock jumped, s, where the computer cannot tell: after a new start. None for
        what was noticed.
    why : str
        The reason.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    ClockStep

    Raises
    ------
    FieldError
        If the decision is none of the two, no reason is given, or a jump that was measured is to be
        another.
    ConflictError
        If somebody else has decided since it was seen.
    """
    why = reason(why)
    if decision not in ("follow", "keep"):
        raise FieldError(
            field="decision", wrong="not known", allowed="follow or keep", came=decision
        )
    with clinic.act("answer clock", who, why=why, token=token) as act:

        def same(one: ClockStep) -> bool:
            return (one.id, one.decision) == (step_id, decision)

        before = repeated(act, ClockStep, token, same=same)
        if before is not None:
            return before
        stands = act.get(ClockStep, step_id).entry
        if step_s is not None and stands.kind == "jump":
            raise FieldError(
                field="step_s",
                wrong="this jump was measured",
                allowed="nothing",
                came=f"{step_s:g}",
            )
        if step_s is not None and not -_MOST_S <= step_s <= _MOST_S:
            raise FieldError(
                field="step_s",
                wrong="out of range",
                allowed="a week at most, in seconds",
                came=f"{step_s:g}",
            )
        changed = replace(
            stands, decision=decision, step_s=stands.step_s if step_s is None else step_s
        )
        return act.revise(changed, version=version)
