"""What may still be put right in a test: everything, but behind a signed report not unawares."""

from ebbline.core.clinic.record.entry import Kept
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError
from ebbline.services.clinic.ports import Act
from ebbline.services.clinic.steps import standing_in

SIGNED = ("signed", "amended")
"""Where a report of the test is signed."""

_CHANGED_IN = ("cleared", "dosed", "sampling", "finished", "stopped", "drafted", *SIGNED)


def changeable(act: Act, test_id: str, *, will_amend: bool) -> Kept[Test]:
    """Return a test whose samples may be corrected.

    Parameters
    ----------
    act : Act
        The act; it keeps that the person was told of the signed report.
    test_id : str
        The test.
    will_amend : bool
        Whether the person says that a signed report will be amended after this.

    Returns
    -------
    Kept of Test

    Raises
    ------
    ClinicError
        If the test stands where nothing was sampled yet, or its report is signed and nobody says
        that it will be amended.
    """
    test = standing_in(act, test_id, states=_CHANGED_IN)
    if test.entry.state in SIGNED:
        if not will_amend:
            raise ClinicError(
                field="state",
                wrong=f"the report of test {test.entry.number} is signed",
                allowed="the change, where the person says that the report will be amended",
                came=test.entry.state,
            )
        act.warn(f"the report of test {test.entry.number} is signed; it must be amended now")
    return test
