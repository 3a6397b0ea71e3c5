"""Record how somebody was shown to be competent, and show whose competence ends or is missing."""

from dataclasses import dataclass
from datetime import date

from ebbline.core.clinic.competence import Competence, Standing, standing
from ebbline.core.clinic.record.staff import CompetenceProof, User
from ebbline.core.clinic.roles import TASKS, RoleTable
from ebbline.core.errors import FieldError, list_allowed
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.repeated import repeated


@dataclass(frozen=True, slots=True)
class PersonStanding:
    """How a person's competence for a task stands."""

    user_id: str
    name: str
    task: str
    standing: Standing


def record_competence(
    clinic: Clinic,
    who: Actor,
    *,
    user_id: str,
    task: str,
    from_day: date,
    until_day: date,
    words: str,
    token: str | None,
) -> CompetenceProof:
    """Record a proof that somebody is competent for a task.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who records it.
    user_id : str
        The person.
    task : {"bench", "review"}
        For what.
    from_day, until_day : date
        First and last day.
    words : str
        How it was shown.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    CompetenceProof

    Raises
    ------
    FieldError
        If there is no such user or task, it ends before it begins, or nothing says how it was
        shown.
    AccessError
        If this person may not record it.
    """
    if task not in TASKS:
        raise FieldError(
            field="task", wrong="no such task", allowed=list_allowed(TASKS), came=task or "nothing"
        )
    if not words.strip():
        raise FieldError(
            field="words", wrong="nothing says how it was shown", allowed="words", came="nothing"
        )
    proof = Competence(task, from_day, until_day)
    with clinic.act("record competence", who, why="", token=token) as act:
        before = repeated(act, CompetenceProof, token, same=lambda one: _same(one, user_id, proof))
        if before is not None:
            return before
        return act.add(
            CompetenceProof(
                id=act.new_id(),
                user_id=act.get(User, user_id).entry.id,
                task=proof.task,
                from_day=proof.from_day,
                until_day=proof.until,
                words=words.strip(),
            )
        )


def _same(kept: CompetenceProof, user_id: str, proof: Competence) -> bool:
    told = (kept.user_id, kept.task, kept.from_day, kept.until_day)
    return told == (user_id, proof.task, proof.from_day, proof.until)


def standings(clinic: Clinic, who: Actor, *, on: date) -> tuple[PersonStanding, ...]:
    """Return how the competence of everybody who is active stands, for each task of theirs.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who asks.
    on : date
        The day, in the clinic's time zone.

    Returns
    -------
    tuple of PersonStanding
        By name, then by task.
    """
    with clinic.look(who) as look:
        people = [one.entry for one in look.find(User, {"active": True})]
        proofs = [one.entry for one in look.find(CompetenceProof, {})]
    found = [
        PersonStanding(
            user_id=user.id,
            name=user.name,
            task=task,
            standing=standing(
                task,
                [
                    Competence(one.task, one.from_day, one.until_day)
                    for one in proofs
                    if one.user_id == user.id
                ],
                on=on,
                due_within_days=clinic.rules.due_within_days,
            ),
        )
        for user in people
        for task in _tasks_of(user, clinic.rules.roles)
    ]
    return tuple(sorted(found, key=lambda one: (one.name, one.user_id, one.task)))


def due(clinic: Clinic, who: Actor, *, on: date) -> tuple[PersonStanding, ...]:
    """Return whose competence is missing, has ended or ends soon.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who asks.
    on : date
        The day, in the clinic's time zone.

    Returns
    -------
    tuple of PersonStanding
        By name, then by task.
    """
    return tuple(
        one for one in standings(clinic, who, on=on) if not one.standing.valid or one.standing.due
    )


def _tasks_of(user: User, table: RoleTable) -> list[str]:
    """Return the tasks whose competence is looked at in something that a user may do."""
    looked_at = {act.needs_competence for act in table.acts if set(act.roles) & set(user.roles)}
    return [task for task in TASKS if task in looked_at]
