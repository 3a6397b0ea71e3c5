"""The rule set that a test is reported by, as it was adopted."""

from ebbline.core.clinic.record.staff import Adoption
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError
from ebbline.core.rules.grammar import RuleSet
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.ports import Look


def adopted_rules(clinic: Clinic, look: Look, test: Test) -> RuleSet:
    """Return the rule set that a test is reported by, as it was adopted.

    Parameters
    ----------
    clinic : Clinic
        Reads its text.
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    RuleSet

    Raises
    ------
    ClinicError
        If it says nothing about the substrate.
    """
    adopted = clinic.documents.rule_set(look.get(Adoption, test.criterion_id).entry.text)
    if not adopted.covers(test.substrate):
        raise ClinicError(
            field="criterion",
            wrong=f"{adopted.id} says nothing about {test.substrate}",
            allowed="a test that the adopted rule set covers",
            came=test.substrate,
        )
    return adopted
