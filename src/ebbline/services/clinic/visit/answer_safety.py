"""The answers to the safety questions before a drink."""

from collections.abc import Mapping
from dataclasses import replace

from ebbline.core.clinic.record.visit import Screening, Test
from ebbline.core.clinic.safety import Drink, Gate, gate
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.needs import gate_of
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.sole import sole, write_sole
from ebbline.services.clinic.steps import standing_in

STATES = ("arrived", "cleared", "dosed", "sampling")
"""Where answers may be given; after the drink one that comes to light is still recorded."""


def answer_safety(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    version: int,
    answers: Mapping[str, str],
    token: str | None,
) -> Screening:
    """Record answers to safety questions; a question that is not among them keeps its answer.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who asked.
    test_id : str
        The test.
    version : int
        The version of the answers that the person saw; 0 where there were none.
    answers : mapping of str to str
        Answer by id of the question.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Screening

    Raises
    ------
    FieldError
        If a question or an answer is not known.
    ClinicError
        If the patient has not arrived, or the test has ended.
    ConflictError
        If the answers have changed since they were seen.
    """

    def same(one: Screening) -> bool:
        return one.test_id == test_id and dict(answers).items() <= dict(one.answers).items()

    with clinic.act("answer safety", who, why="", token=token) as act:
        if before := repeated(act, Screening, token, same=same):
            return before
        test = standing_in(act, test_id, states=STATES).entry
        stands = sole(act, Screening, test_id)
        entry = Screening(act.new_id(), test_id, {}) if stands is None else stands.entry
        entry = replace(entry, answers={**entry.answers, **answers})
        # The gate refuses a question or an answer that it does not know.
        drink = Drink(substrate=test.substrate, mix=test.mix)
        gate(drink, entry.answers, clearances=(), table=clinic.rules.safety)
        return write_sole(act, stands, entry, version=version)


def safety_gate(clinic: Clinic, who: Actor, *, test_id: str) -> Gate:
    """Return what stands before the drink of a test: what to ask, what is closed, who may decide.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who reads it.
    test_id : str
        The test.

    Returns
    -------
    Gate
    """
    with clinic.look(who) as look:
        return gate_of(clinic, look, look.get(Test, test_id).entry)
