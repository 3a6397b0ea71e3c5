"""A named person's decision on a safety question that closed a drink."""

from ebbline.core.clinic.record.visit import Clearance
from ebbline.core.clinic.safety import Clearance as Decision
from ebbline.core.clinic.safety import check_clearance
from ebbline.core.errors import SafetyError, list_allowed
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.needs import gate_of
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.steps import standing_in


def record_clearance(
    clinic: Clinic, who: Actor, *, test_id: str, decision: Decision, token: str | None
) -> Clearance:
    """Record a decision; nobody decides before the question is answered.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who records it.
    test_id : str
        The test.
    decision : ebbline.core.clinic.safety.Clearance
        The decision: about which bar, sugar and answer, whether to go ahead, by whom and why.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Clearance

    Raises
    ------
    SafetyError
        If the person may not decide that, name or reason is missing, or the bar does not stand
        before this drink with this answer.
    ClinicError
        If the drink was given, or the patient has not arrived.
    """
    check_clearance(decision, clinic.rules.safety)
    with clinic.act("record clearance", who, why=decision.reason, token=token) as act:
        entry = Clearance(
            id=act.new_id(),
            test_id=test_id,
            bar=decision.bar,
            substrate=decision.substrate,
            answer=decision.answer,
            go_ahead=decision.go_ahead,
            by_name=decision.by_name.strip(),
            by_kind=decision.by_kind,
            reason=decision.reason.strip(),
        )
        if before := repeated(act, Clearance, token, same=lambda one: _same(one, entry)):
            return before
        test = standing_in(act, test_id, states=("arrived", "cleared")).entry
        before_drink = gate_of(clinic, act, test)
        stands = [(one.bar, one.answer) for one in before_drink.closed]
        stands += [(one.bar, one.answer) for one in before_drink.cleared]
        open_to = [f"{bar}, {test.substrate}, {answer}" for bar, answer in stands]
        about = f"{decision.bar}, {decision.substrate}, {decision.answer}"
        if about not in open_to:
            raise SafetyError(
                field="bar",
                wrong="not what stands before this drink",
                allowed=list_allowed(open_to) or "no bar stands before it",
                came=about,
            )
        return act.add(entry)


def _same(one: Clearance, other: Clearance) -> bool:
    """Return whether two decisions say the same, whatever their ids."""
    return (one.test_id, one.bar, one.answer, one.go_ahead, one.by_name, one.reason) == (
        other.test_id,
        other.bar,
        other.answer,
        other.go_ahead,
        other.by_name,
        other.reason,
    )
