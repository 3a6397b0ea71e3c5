"""The rule set that a test is reported by, as it was adopted, and judging by it."""

from ebbline.core.clinic.record.staff import Adoption
from ebbline.core.clinic.record.visit import Test
from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.errors import ClinicError
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpret import interpret
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.choose_settings import choose_settings
from ebbline.services.clinic.desk import Clinic
from ebbline.services.clinic.ports import Look


def judged_by(
    clinic: Clinic, recorded: BreathTest, *, rule_sets: tuple[RuleSet, ...], criterion: str
) -> Interpretation:
    """Return the interpretation of a test by these rule sets, with the settings of the service.

    Parameters
    ----------
    clinic : Clinic
        Words and settings.
    recorded : BreathTest
        The test.
    rule_sets : tuple of RuleSet
        The rule sets.
    criterion : str
        Which of them reports.

    Returns
    -------
    Interpretation
    """
    return interpret(
        recorded,
        rule_sets=rule_sets,
        criterion=criterion,
        settings=choose_settings(recorded, clinic.library),
        substrates=clinic.library.substrates,
        wording=clinic.library.wording,
        transit=clinic.library.transit,
        engine=clinic.library.engine,
    )


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
