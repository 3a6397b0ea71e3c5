"""Record that a planned sample was missed, and why: nothing is ever put in its place."""

from ebbline.core.clinic.record.bench import SampleTry
from ebbline.core.errors import FieldError
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import reason
from ebbline.services.clinic.needs import missing_minutes
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.steps import standing_in


def miss_sample(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    planned_minute: float,
    why: str,
    token: str | None,
) -> SampleTry:
    """Record a sample after the drink as missed.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who records it.
    test_id : str
        The test.
    planned_minute : float
        Which planned sample, minutes from T0.
    why : str
        The reason.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    SampleTry
        With the status ``missed``. Should a breath be had after all, it is taken for the same
        planned minute and counts.

    Raises
    ------
    ClinicError
        If no samples are being taken in this test.
    FieldError
        If no reason is given, or the sample is not open.
    """
    why = reason(why)
    with clinic.act("miss sample", who, why=why, token=token) as act:

        def same(one: SampleTry) -> bool:
            return (one.test_id, one.planned_minute) == (test_id, planned_minute)

        before = repeated(act, SampleTry, token, same=same)
        if before is not None:
            return before
        test = standing_in(act, test_id, states=("sampling",)).entry
        still_open = missing_minutes(clinic, act, test)
        if planned_minute not in still_open:
            raise FieldError(
                field="planned_minute",
                wrong="this sample is not open",
                allowed=", ".join(f"{minute:g}" for minute in still_open) or "none is open",
                came=f"{planned_minute:g}",
            )
        return act.add(
            SampleTry(
                id=act.new_id(),
                test_id=test_id,
                planned_minute=planned_minute,
                label="",
                at=act.at,
                status="missed",
                way="",
                h2_ppm=None,
                ch4_ppm=None,
                o2_pct=None,
                co2_pct=None,
                h2_normalised_ppm=None,
                ch4_normalised_ppm=None,
                h2_u_ppm=None,
                ch4_u_ppm=None,
                alveolar_fraction=None,
                quality="",
                reasons=(),
                trace_digest=None,
                trace_summary={},
                analyser_id=None,
                calibration_id=None,
                operator=who.user_id,
                checked=(),
                note=why,
                moved_from=None,
                moved_to=None,
            )
        )
