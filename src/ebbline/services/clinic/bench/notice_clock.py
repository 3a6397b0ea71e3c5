"""Notice that the computer's clock was set, and record it for a person to decide about."""

from ebbline.core.clinic.clock import Anchor, compare
from ebbline.core.clinic.record.staff import ClockStep
from ebbline.core.clinic.record.visit import Test
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.ports import Act, Anchors


def notice_clock(clinic: Clinic, anchors: Anchors, now: Anchor) -> ClockStep | None:
    """Hold the clocks against where they last stood, and record a jump.

    The system does this by itself, again and again; nobody is asked. Minutes of running tests are
    counted past the jump until somebody decides that they should not be.

    Parameters
    ----------
    clinic : Clinic
        Where, and how far the two clocks may drift apart.
    anchors : Anchors
        Where the clocks last stood.
    now : Anchor
        Where they stand.

    Returns
    -------
    ClockStep or None
        What was noticed; its decision is ``open``. After a new start of the computer nobody can
        tell whether the clock was set meanwhile: then the jump is 0 until somebody says otherwise,
        and it is recorded only where a test is running.
    """
    # The name of the act is the system's own: no role does it.
    with clinic.record.act("notice clock", by="", why="", token=None) as act:
        anchor = anchors.kept(act)
        anchors.keep(act, now)
        if anchor is None:
            return None
        drift = compare(anchor, now, tolerance_s=clinic.rules.bench.clock_tolerance_s)
        if drift.kind == "none" or (drift.kind == "restart" and not _running(act)):
            return None
        return act.add(
            ClockStep(
                id=act.new_id(),
                at=now.utc,
                step_s=0.0 if drift.step_s is None else drift.step_s,
                kind=drift.kind,
                decision="open",
            )
        )


def _running(act: Act) -> bool:
    """Whether minutes are counted in any test."""
    return bool(act.find(Test, {"state": "sampling"}))
