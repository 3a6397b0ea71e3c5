"""How the patient prepared: an answer an item, and a decision where one was not kept."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from ebbline.core.clinic.preparation import Answer
from ebbline.core.clinic.record.visit import Preparation
from ebbline.core.errors import ClinicError, list_allowed
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import moment, words
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.sole import needed, sole, write_sole
from ebbline.services.clinic.steps import standing_in
from ebbline.services.clinic.visit.preparing import judged_items

STATES = ("arrived", "cleared", "dosed", "sampling", "finished", "stopped", "drafted")
"""Where answers may be given or put right: until the report is signed."""


def answer_preparation(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    version: int,
    guidance: str,
    answers: Mapping[str, Answer],
    token: str | None,
) -> Preparation:
    """Record answers about the preparation; an item that is not among them keeps its answer.

    A decision is about the answer that it was made on: with another answer, or by another
    guidance, it no longer counts.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who asked.
    test_id : str
        The test.
    version : int
        The version of the preparation that the person saw; 0 where there was none.
    guidance : str
        Whose guidance the items follow: a rule set's id, or ``service``.
    answers : mapping of str to Answer
        Answer by id of the item.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Preparation

    Raises
    ------
    FieldError
        If the guidance, an item or an answer is not known, or a date cannot be.
    ClinicError
        If the patient has not arrived, or the report is signed.
    ConflictError
        If the answers have changed since they were seen.
    """
    given = {name: _written(name, answer) for name, answer in answers.items()}

    def same(one: Preparation) -> bool:
        return one.test_id == test_id and given.items() <= dict(one.answers).items()

    with clinic.act("answer preparation", who, why="", token=token) as act:
        if before := repeated(act, Preparation, token, same=same):
            return before
        test = standing_in(act, test_id, states=STATES).entry
        stands = sole(act, Preparation, test_id)
        old = Preparation(act.new_id(), test_id, guidance, {}, {}, {})
        if stands is not None:
            old = stands.entry
        kept = dict(old.answers) if old.guidance == guidance else {}
        entry = replace(old, guidance=guidance, answers={**kept, **given})
        still = {name for name in kept if entry.answers[name] == kept[name]}
        entry = replace(
            entry,
            decisions={name: one for name, one in old.decisions.items() if name in still},
            reasons={name: one for name, one in old.reasons.items() if name in still},
        )
        judged_items(clinic, act, test, entry)
        return write_sole(act, stands, entry, version=version)


def decide_preparation(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    version: int,
    item: str,
    go_ahead: bool,
    by_name: str,
    reason: str,
    token: str | None,
) -> Preparation:
    """Record a named person's decision on an item that was not kept or is not known.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who records it.
    test_id : str
        The test.
    version : int
        The version of the preparation that the person saw.
    item : str
        The item.
    go_ahead : bool
        Whether the test goes ahead all the same.
    by_name : str
        Name of the person who decided.
    reason : str
        The reason.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Preparation

    Raises
    ------
    FieldError
        If nothing is answered yet, or name or reason is missing.
    ClinicError
        If there is nothing to decide about that item, the patient has not arrived, or the report
        is signed.
    ConflictError
        If the answers have changed since they were seen.
    """
    by_name = words("by_name", by_name, allowed="the name of the person who decides")
    reason = words("reason", reason, allowed="a reason in words")

    def same(one: Preparation) -> bool:
        return one.test_id == test_id and one.reasons.get(item) == reason

    with clinic.act("answer preparation", who, why=reason, token=token) as act:
        if before := repeated(act, Preparation, token, same=same):
            return before
        test = standing_in(act, test_id, states=STATES).entry
        stands = needed(act, Preparation, test_id)
        deviations = {
            one.id: one
            for one in judged_items(clinic, act, test, stands.entry)
            if one.needs_decision and one.state != "unanswered"
        }
        if item not in deviations:
            raise ClinicError(
                field="preparation",
                wrong="nothing to decide about this item",
                allowed=list_allowed(deviations) or "an item that was answered and not kept",
                came=item or "nothing",
            )
        decision = {"go_ahead": go_ahead, "by": by_name, "about": deviations[item].words}
        entry = replace(
            stands.entry,
            decisions={**stands.entry.decisions, item: decision},
            reasons={**stands.entry.reasons, item: reason},
        )
        return act.revise(entry, version=version)


def _written(name: str, answer: Answer) -> dict[str, Any]:
    """Return an answer as it is kept: a day, or a moment in UTC."""
    on = moment(name, answer.on) if isinstance(answer.on, datetime) else answer.on
    return {"word": answer.word, "on": None if on is None else on.isoformat()}
