"""Read a test a second time without seeing the first reading, and compare the readers."""

from collections.abc import Mapping
from typing import get_args

from ebbline.core.clinic.agreement import Agreement, Pair, agreements
from ebbline.core.clinic.record.result import Report, SecondRead, Signature, Snapshot
from ebbline.core.clinic.record.visit import Test
from ebbline.core.errors import ClinicError, FieldError, list_allowed
from ebbline.core.rules.codes import Finding
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import Look
from ebbline.services.clinic.repeated import repeated
from ebbline.services.clinic.report.adopted_rules import adopted_rules
from ebbline.services.clinic.steps import standing_in

FINDINGS = get_args(Finding)
"""What a reader may find."""

_READ_IN = ("finished", "stopped", "drafted", "signed", "amended")


def second_read(
    clinic: Clinic,
    who: Actor,
    *,
    test_id: str,
    findings: Mapping[str, str],
    token: str | None,
) -> SecondRead:
    """Record what a second reader finds.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        The second reader.
    test_id : str
        The test.
    findings : mapping of str to str
        Each question of the adopted rule set to the finding.
    token : str or None
        What the sender calls this act.

    Returns
    -------
    SecondRead

    Raises
    ------
    ClinicError
        If the test goes on, or this person signed its report or has read it before.
    FieldError
        If a question is left out or not known, or a finding is none.
    """
    with clinic.act("second read", who, why="", token=token) as act:

        def same(one: SecondRead) -> bool:
            return (one.test_id, one.findings) == (test_id, dict(findings))

        before = repeated(act, SecondRead, token, same=same)
        if before is not None:
            return before
        test = standing_in(act, test_id, states=_READ_IN).entry
        own = {"test_id": test_id, "user_id": who.user_id}
        if any((act.find(Signature, own), act.find(SecondRead, own))):
            raise ClinicError(
                field="reader",
                wrong="this person has read the test already",
                allowed="another reviewer",
                came=clinic.user(act, who).entry.name,
            )
        _check_findings(_questions(clinic, act, test), findings)
        return act.add(
            SecondRead(
                id=act.new_id(), test_id=test_id, user_id=who.user_id, findings=dict(findings)
            )
        )


def compare_readers(clinic: Clinic, who: Actor) -> tuple[Agreement, ...]:
    """Return how well second readers agree with the reports that were signed.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who asks.

    Returns
    -------
    tuple of Agreement
        One a question, over all tests that were read twice. The first reading is what the adopted
        rule set finds in the latest signed report, which its signer answers for.
    """
    pairs: dict[str, list[Pair]] = {}
    with clinic.look(who) as look:
        for second in look.find(SecondRead, {}):
            first = _signed_findings(clinic, look, second.entry.test_id)
            for question, finding in second.entry.findings.items():
                if question in first:
                    pairs.setdefault(question, []).append((first[question], finding))
    return agreements(pairs, categories=FINDINGS)


def _questions(clinic: Clinic, look: Look, test: Test) -> tuple[str, ...]:
    """Return what the adopted rule set asks of a test."""
    asked = [
        one.question
        for one in adopted_rules(clinic, look, test).statements
        if test.substrate in one.substrates
    ]
    return tuple(dict.fromkeys(asked))


def _check_findings(questions: tuple[str, ...], findings: Mapping[str, str]) -> None:
    if set(findings) != set(questions):
        raise FieldError(
            field="findings",
            wrong="not the questions of the adopted rule set",
            allowed=f"a finding for each of {', '.join(questions)}",
            came=", ".join(findings) or "nothing",
        )
    for question, finding in findings.items():
        if finding not in FINDINGS:
            raise FieldError(
                field=question,
                wrong="no finding",
                allowed=list_allowed(FINDINGS),
                came=finding or "nothing",
            )


def _signed_findings(clinic: Clinic, look: Look, test_id: str) -> dict[str, str]:
    """Return what the latest signed report of a test finds by its adopted rule set."""
    signed = look.find(Report, {"test_id": test_id, "status": ("signed", "amended")})
    if not signed:
        return {}
    latest = max(signed, key=lambda one: one.entry.number).entry
    snapshot = look.get(Snapshot, latest.snapshot_id).entry
    adopted = adopted_rules(clinic, look, look.get(Test, test_id).entry).id
    return {
        question: finding
        for rule_set, question, finding in snapshot.findings
        if rule_set == adopted
    }
