"""Record the symptom scores that belong to a sample: five complaints, from 0 to 10."""

from collections.abc import Mapping
from typing import Literal

from ebbline.core.clinic.bench_table import BenchTable
from ebbline.core.clinic.record.bench import Symptoms
from ebbline.core.curve.breath_test import SYMPTOMS
from ebbline.core.errors import FieldError, list_allowed
from ebbline.services.clinic.bench.place_sample import protocol_of
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.sole import write_sole
from ebbline.services.clinic.steps import standing_in

_SCORED_IN = ("cleared", "dosed", "sampling", "finished")


def record_symptoms(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    planned_minute: float,
    scale: Literal["0-10", "faces"],
    scores: Mapping[str, float],
    note: str,
    version: int,
    token: str | None,
) -> Symptoms:
    """Record the scores of one sample, or put them right.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who asked.
    test_id : str
        The test.
    planned_minute : float
        Planned minute of the sample that they belong to, a fasting one included.
    scale : {"0-10", "faces"}
        Numbers, or faces for a child to point at.
    scores : mapping of str to float
        Complaint to its score; only those that were asked.
    note : str
        What the patient said.
    version : int
        The version that the person saw, 0 where there was none.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Symptoms

    Raises
    ------
    ClinicError
        If the test stands where nothing is scored.
    FieldError
        If a complaint, score, scale or planned minute is not known.
    ConflictError
        If they have changed since they were seen.
    """
    _check_scores(clinic.rules.bench, scale, scores)
    given = {name: float(scores[name]) for name in SYMPTOMS if name in scores}
    with clinic.act("record symptoms", who, why="", token=token) as act:

        def same(one: Symptoms) -> bool:
            return (one.test_id, one.planned_minute, one.scores) == (
                test_id,
                planned_minute,
                given,
            )

        before = repeated(act, Symptoms, token, same=same)
        if before is not None:
            return before
        test = standing_in(act, test_id, states=_SCORED_IN).entry
        protocol = protocol_of(clinic, act, test)
        planned = (*protocol.fasting, *protocol.minutes)
        if planned_minute not in planned:
            raise FieldError(
                field="planned_minute",
                wrong="no such sample is planned",
                allowed=", ".join(f"{minute:g}" for minute in planned),
                came=f"{planned_minute:g}",
            )
        found = act.find(Symptoms, {"test_id": test_id, "planned_minute": planned_minute})
        stands = found[-1] if found else None
        return write_sole(
            act,
            stands,
            Symptoms(
                id=act.new_id() if stands is None else stands.entry.id,
                test_id=test_id,
                planned_minute=planned_minute,
                at=act.at,
                scale=scale,
                scores=given,
                note=note.strip(),
            ),
            version=version,
        )


def _check_scores(table: BenchTable, scale: str, scores: Mapping[str, float]) -> None:
    if scale not in table.scales:
        raise FieldError(
            field="scale", wrong="not known", allowed=list_allowed(table.scales), came=scale
        )
    if not scores:
        raise FieldError(
            field="scores",
            wrong="nothing was scored",
            allowed=f"one or more of {list_allowed(SYMPTOMS)}",
            came="nothing",
        )
    allowed = table.scales[scale].scores
    for name, score in scores.items():
        if name not in SYMPTOMS:
            raise FieldError(
                field="scores", wrong="not known", allowed=list_allowed(SYMPTOMS), came=name
            )
        if score not in allowed:
            raise FieldError(
                field=name,
                wrong=f"no score of the scale {scale}",
                allowed=list_allowed([f"{one:g}" for one in allowed]),
                came=f"{score:g}",
            )
