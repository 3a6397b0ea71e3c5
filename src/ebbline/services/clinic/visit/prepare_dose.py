"""Work out and weigh out the drink of a test."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from ebbline.core.clinic.dose import Dose as WorkedOut
from ebbline.core.clinic.dose import check_prepared, dose_for
from ebbline.core.clinic.dose_table import DoseRule, rules_for
from ebbline.core.clinic.record.staff import Adoption
from ebbline.core.clinic.record.visit import Dose, Test
from ebbline.core.errors import ClinicError, FieldError, list_allowed
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.entered import words
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.sole import sole, write_sole
from ebbline.services.clinic.steps import standing_in


def prepare_dose(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    version: int,
    rule: str,
    prepared_g: float,
    lot: str,
    expiry: date,
    token: str | None,
) -> Dose:
    """Record a drink as it was worked out and weighed out.

    The volume is that of the rule. A drink that is prepared anew has to be checked anew.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who prepared it.
    test_id : str
        The test.
    version : int
        The version of the dose that the person saw; 0 where there was none.
    rule : str
        The dose rule that a person chose, one of the adopted protocol.
    prepared_g : float
        What the balance shows.
    lot : str
        Lot of the substrate.
    expiry : date
        Last day of the lot.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Dose

    Raises
    ------
    FieldError
        If the rule does not fit the age, the weight is missing, what was weighed out is not the
        dose, the lot is missing or past its last day.
    ClinicError
        If the rule is not one of the protocol, or the test is not cleared.
    ConflictError
        If the dose has changed since it was seen.
    """
    lot = words("lot", lot, allowed="the lot of the substrate")

    def same(one: Dose) -> bool:
        return (one.test_id, one.rule, one.prepared_g, one.lot) == (test_id, rule, prepared_g, lot)

    with clinic.act("prepare dose", who, why="", token=token) as act:
        if before := repeated(act, Dose, token, same=same):
            return before
        test = standing_in(act, test_id, states=("cleared",)).entry
        today = act.at.astimezone(clinic.zone).date()
        if expiry < today:
            raise FieldError(
                field="expiry", wrong="past", allowed=f"{today.isoformat()} or later",
                came=expiry.isoformat(),
            )  # fmt: skip
        worked_out = work_out(clinic, act, test, rule=rule)
        doses = clinic.documents.doses(act.get(Adoption, test.protocol_id).entry.text)
        check_prepared(worked_out, prepared_g=prepared_g, tolerance=doses.tolerance)
        if not worked_out.checked:
            act.warn(f"the dose rule {rule} was not checked against its source")
        stands = sole(act, Dose, test_id)
        entry = Dose(
            id=act.new_id(),
            test_id=test_id,
            rule=rule,
            substrate=worked_out.substrate,
            mix=test.mix,
            dose_g=worked_out.dose_g,
            g_per_kg=worked_out.g_per_kg,
            cap_g=worked_out.cap_g,
            cap_used=worked_out.cap_used,
            prepared_g=prepared_g,
            volume_ml=worked_out.volume_ml,
            lot=lot,
            expiry=expiry,
            arithmetic=worked_out.arithmetic,
            prepared_by=who.user_id,
            needs_second_check=worked_out.needs_second_check,
            checked_by=None,
            drunk="",
        )
        if stands is not None:
            entry = replace(entry, id=stands.entry.id)
        return write_sole(act, stands, entry, version=version)


def dose_choices(clinic: Clinic, who: Actor, *, test_id: str) -> tuple[DoseRule, ...]:
    """Return the dose rules that a person may choose from for a test; none is chosen by itself.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who reads them.
    test_id : str
        The test.

    Returns
    -------
    tuple of DoseRule
    """
    with clinic.look(who) as look:
        return tuple(_rules(clinic, look, look.get(Test, test_id).entry))


def work_out(clinic: Clinic, look: Look, test: Test, *, rule: str) -> WorkedOut:
    """Return the dose of a test by a rule of its adopted protocol.

    Parameters
    ----------
    clinic : Clinic
        Reads the adopted protocol.
    look : Look
        The record.
    test : Test
        The test.
    rule : str
        The rule that a person chose.

    Returns
    -------
    ebbline.core.clinic.dose.Dose

    Raises
    ------
    FieldError
        If the age or a weight that is needed is missing.
    ClinicError
        If the rule is not one that the protocol has for this sugar and age.
    """
    if test.age_years is None:
        raise FieldError(
            field="age_years", wrong="not known", allowed="a patient with a birth date",
            came="nothing",
        )  # fmt: skip
    choices = _rules(clinic, look, test)
    chosen = next((one for one in choices if one.id == rule), None)
    if chosen is None:
        raise ClinicError(
            field="rule",
            wrong="not a dose rule that the adopted protocol has for this test",
            allowed=list_allowed(one.id for one in choices) or "none for this sugar and age",
            came=rule or "nothing",
        )
    return dose_for(chosen, age_years=test.age_years, weight_kg=test.weight_kg)


def _rules(clinic: Clinic, look: Look, test: Test) -> Sequence[DoseRule]:
    if test.age_years is None:
        return ()
    doses = clinic.documents.doses(look.get(Adoption, test.protocol_id).entry.text)
    return rules_for(doses, substrate=test.substrate, age_years=test.age_years)
