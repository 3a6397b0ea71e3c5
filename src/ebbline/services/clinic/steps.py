"""Take a step in the life of a test, where everything that it needs is there."""

from collections.abc import Collection
from dataclasses import replace

from ebbline.core.clinic.life import check_step
from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, list_allowed
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.needs import needs_met
from ebbline.services.clinic.ports import Act, Look


def step(
    clinic: Clinic, act: Act, test: Test, *, version: int, to: str, also: Collection[str]
) -> Test:
    """Record that a test goes on to another state.

    Parameters
    ----------
    clinic : Clinic
        Rules.
    act : Act
        The act in which the step is taken.
    test : Test
        The test where it stands, with what else changes by the step.
    version : int
        The version that the person saw.
    to : str
        Where it goes.
    also : collection of str
        Needs that this act itself meets.

    Returns
    -------
    Test
        As it was recorded.

    Raises
    ------
    ClinicError
        If there is no such step from where the test stands, or a need is not met.
    ConflictError
        If the test has changed since the person saw it.
    """
    life = clinic.rules.life
    asked = {
        need.id for one in life.steps_from(test.state) if one.to == to for need in one.needs
    }.difference(also)
    met = needs_met(clinic, act, test, asked=asked, at=act.at).union(also)
    check_step(life, state=test.state, to=to, met=met)
    return act.revise(replace(test, state=to), version=version)


def standing_in(look: Look, test_id: str, *, states: Collection[str]) -> Kept[Test]:
    """Return a test that stands in one of these states.

    Parameters
    ----------
    look : Look
        The record.
    test_id : str
        Id of the test.
    states : collection of str
        Where it may stand.

    Returns
    -------
    Kept of Test

    Raises
    ------
    ClinicError
        If it stands somewhere else.
    """
    found = look.get(Test, test_id)
    if found.entry.state not in states:
        raise ClinicError(
            field="state",
            wrong="this is not done to a test that stands there",
            allowed=list_allowed(states),
            came=found.entry.state,
        )
    return found
