"""Interpret a test of the record by the rule set that the service has adopted, and keep it."""

from dataclasses import replace
from typing import Protocol

from ebbline.core.clinic.record.result import Snapshot
from ebbline.core.clinic.record.visit import Test
from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.choose_rules import choose_rules
from ebbline.services.clinic.bench.baseline_effect import effect_in_words
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Act, Look
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.report.adopted_rules import adopted_rules, judged_by
from ebbline.services.clinic.report.as_breath_test import as_breath_test
from ebbline.services.clinic.steps import standing_in

_INTERPRETED_IN = ("sampling", "finished", "stopped", "drafted", "signed", "amended")


class WriteDocument(Protocol):
    """Writes an interpretation as one document."""

    def __call__(self, interpretation: Interpretation) -> str:
        """Return the whole document, the same text for the same interpretation."""
        ...


def interpret_test(
    clinic: Clinic, who: Actor, *, test_id: str, write: WriteDocument, token: str | None
) -> Snapshot:
    """Interpret a test and keep the interpretation with all that made it.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who asks.
    test_id : str
        The test.
    write : WriteDocument
        Writes the document that is kept.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    Snapshot
        The one that is kept already where nothing has changed since.

    Raises
    ------
    ClinicError
        If nothing was drunk yet, or the adopted rule set says nothing about the substrate.
    """
    with clinic.act("interpret", who, why="", token=token) as act:
        before = repeated(act, Snapshot, token, same=lambda one: one.test_id == test_id)
        if before is not None:
            return before
        test = standing_in(act, test_id, states=_INTERPRETED_IN).entry
        return keep_snapshot(act, test, interpretation_of(clinic, act, test), write)


def interpretation_of(clinic: Clinic, look: Look, test: Test) -> Interpretation:
    """Return the interpretation of a test as it stands, by the text that was adopted for it.

    Parameters
    ----------
    clinic : Clinic
        The other rule sets, words and settings.
    look : Look
        The record.
    test : Test
        The test.

    Returns
    -------
    Interpretation

    Raises
    ------
    ClinicError
        If the adopted rule set says nothing about the substrate.
    """
    recorded = as_breath_test(clinic, look, test)
    if effect := effect_in_words(clinic, look, test):
        recorded = replace(recorded, facts={**recorded.facts, "baseline_effect": effect})
    adopted = adopted_rules(clinic, look, test)
    return judged_by(
        clinic, recorded, rule_sets=_beside(adopted, recorded, clinic), criterion=adopted.id
    )


def keep_snapshot(
    act: Act, test: Test, interpretation: Interpretation, write: WriteDocument
) -> Snapshot:
    """Keep an interpretation, unless the last one kept of the test is the same.

    Parameters
    ----------
    act : Act
        The act at hand.
    test : Test
        The test.
    interpretation : Interpretation
        Its interpretation.
    write : WriteDocument
        Writes the document that is kept.

    Returns
    -------
    Snapshot
    """
    kept = act.find(Snapshot, {"test_id": test.id})
    if kept and kept[-1].entry.interpretation == interpretation.id:
        return kept[-1].entry
    return act.add(
        Snapshot(
            id=act.new_id(),
            test_id=test.id,
            interpretation=interpretation.id,
            engine=interpretation.engine,
            criterion_id=test.criterion_id,
            findings=tuple(
                [one.rule_set, one.question, one.finding] for one in interpretation.findings
            ),
            document=write(interpretation).encode(),
        )
    )


def _beside(adopted: RuleSet, test: BreathTest, clinic: Clinic) -> tuple[RuleSet, ...]:
    """Return the rule sets to show, the adopted text in place of the library's own of that id."""
    anyone = replace(test, facts={k: v for k, v in test.facts.items() if k != "criterion"})

    def read_rules(name: str) -> RuleSet:
        # Never called: no rule set is asked for by name.
        return clinic.documents.rule_set(name)

    shown, _ = choose_rules(anyone, (), clinic.library, read_rules)
    if adopted.id not in [one.id for one in shown]:
        return (adopted, *shown)
    return tuple(adopted if one.id == adopted.id else one for one in shown)
