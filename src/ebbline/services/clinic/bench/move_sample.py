"""Move a sample to the test that it belongs to: both tests keep the trail of it."""

from dataclasses import replace

from ebbline.core.clinic.record.bench import BaselineDecision, SampleTry
from ebbline.core.errors import FieldError
from ebbline.services.clinic.bench.after_signing import changeable
from ebbline.services.clinic.bench.minutes import clock_of, minute_of_try
from ebbline.services.clinic.bench.place_sample import place_sample, protocol_of, tries_of
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import reason
from ebbline.services.clinic.repeated import repeated


def move_sample(
    clinic: Clinic,
    who: Actor,
    *,
    sample_id: str,
    version: int,
    to_test_id: str,
    planned_minute: float | None,
    why: str,
    will_amend: bool,
    token: str | None,
) -> SampleTry:
    """Move one try from a test to another, such as when two patients were mixed up.

    It stays in the first test with the status ``moved``, where it counts for nothing.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who moves it.
    sample_id : str
        The sample.
    version : int
        The version that the person saw.
    to_test_id : str
        The test that it belongs to.
    planned_minute : float or None
        Which planned sample it is there; None for the nearest one that is due.
    why : str
        The reason.
    will_amend : bool
        Whether the person says that a signed report of either test will be amended after this.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    SampleTry
        As it stands in the other test.

    Raises
    ------
    FieldError
        If no reason is given, the sample is no breath or is there already, or it has no place.
    ClinicError
        If a report of either test is signed and nobody says that it will be amended.
    ConflictError
        If it has changed since it was seen.
    """
    why = reason(why)
    with clinic.act("move sample", who, why=why, token=token) as act:

        def same(one: SampleTry) -> bool:
            return (one.moved_from, one.test_id) == (sample_id, to_test_id)

        before = repeated(act, SampleTry, token, same=same)
        if before is not None:
            return before
        stands = act.get(SampleTry, sample_id)
        sample = stands.entry
        if sample.status not in ("ok", "repeat"):
            raise FieldError(
                field="status",
                wrong="this is not a breath of this test",
                allowed="a try that is ok or to be repeated",
                came=sample.status,
            )
        if sample.test_id == to_test_id:
            raise FieldError(
                field="to_test_id",
                wrong="the sample is in this test already",
                allowed="another test",
                came=to_test_id,
            )
        changeable(act, sample.test_id, will_amend=will_amend)
        target = changeable(act, to_test_id, will_amend=will_amend).entry
        for one in act.find(BaselineDecision, {"test_id": sample.test_id}):
            if sample_id in one.entry.uses:
                act.warn("the sample made the baseline of the test that it leaves: decide it again")
        place = place_sample(
            protocol_of(clinic, act, target),
            [one.entry for one in tries_of(act, to_test_id)],
            minute=minute_of_try(act, clock_of(act, target), stands),
            planned_minute=planned_minute,
        )
        moved = replace(
            sample,
            id=act.new_id(),
            test_id=to_test_id,
            planned_minute=place.planned_minute,
            label=place.label,
            moved_from=sample_id,
        )
        act.add(moved)
        act.revise(replace(sample, status="moved", moved_to=moved.id), version=version)
        return moved
