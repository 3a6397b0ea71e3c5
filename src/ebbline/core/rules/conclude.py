"""What the statements say together: findings with their reasons, and where rule sets differ."""

from ebbline.core.curve.breath_test import BreathTest
from ebbline.core.curve.curves import Curves
from ebbline.core.curve.measures import Measures
from ebbline.core.rules.caveats import Case, caveats_of
from ebbline.core.rules.codes import FINDING_WORDS, MET, NOT_ASKED
from ebbline.core.rules.grammar import RuleSet
from ebbline.core.rules.interpretation import FindingResult, Settings, StatementResult
from ebbline.core.rules.rows import Verdicts
from ebbline.core.rules.table import RuleTable
from ebbline.core.rules.wording import Wording


def conclude(
    test: BreathTest,
    *,
    table: RuleTable,
    verdicts: Verdicts,
    raw_verdicts: Verdicts,
    statements: dict[int, StatementResult],
    curves: Curves,
    measures: dict[str, Measures],
    settings: Settings,
    wording: Wording,
) -> tuple[FindingResult, ...]:
    """Return the findings of every rule set, with caveats.

    Parameters
    ----------
    test : BreathTest
        The test as recorded.
    table : RuleTable
        The rows.
    verdicts, raw_verdicts : Verdicts
        What the rows say of the values that count, and of raw values in their place.
    statements : dict of int to StatementResult
        The judged statements by row.
    curves : Curves
        The test, a batch of one.
    measures : dict of str to Measures
        By series.
    settings : Settings
        What the interpretation runs with.
    wording : Wording
        Words and limits.

    Returns
    -------
    tuple of FindingResult
    """
    results = []
    for place, (rule_set, question) in enumerate(table.findings):
        code = int(verdicts.finding[0, place])
        if code == NOT_ASKED:
            continue
        own = tuple(
            statement
            for row, statement in statements.items()
            if int(table.rows.finding[row]) == place
        )
        case = Case(
            test=test,
            rule_set=rule_set,
            question=question,
            finding=FINDING_WORDS[code],
            raw_finding=FINDING_WORDS[int(raw_verdicts.finding[0, place])],
            statements=own,
            curves=curves,
            measures=measures,
            minute_tolerance=settings.minute_tolerance,
        )
        failed = _failed_validity(rule_set, table, verdicts)
        results.append(
            FindingResult(
                rule_set=rule_set.id,
                question=question,
                finding=case.finding,
                because=failed if case.finding == "invalid" else _why(case),
                caveats=caveats_of(case, wording),
            )
        )
    return tuple(results)


def _failed_validity(rule_set: RuleSet, table: RuleTable, verdicts: Verdicts) -> str:
    first = table.rows.first_validity
    said = [
        row.says
        for place, (owner, row) in enumerate(table.validity, start=first)
        if owner is rule_set and verdicts.result[0, place] == MET
    ]
    return "; ".join(said)


def _why(case: Case) -> str:
    """Return the arithmetic of the statements that decided a finding."""
    if case.finding == "positive":
        deciding = [s for s in case.statements if s.result == "met"]
    elif case.finding == "indeterminate":
        deciding = [s for s in case.statements if s.result == "cannot be judged" or s.undecided]
    else:
        deciding = list(case.statements)
    return ". ".join(statement.because for statement in deciding)


def disagreements(
    findings: tuple[FindingResult, ...], rule_sets: tuple[RuleSet, ...], wording: Wording
) -> tuple[str, ...]:
    """Return a sentence for each question on which rule sets differ.

    Parameters
    ----------
    findings : tuple of FindingResult
        All findings.
    rule_sets : tuple of RuleSet
        The rule sets they come from.
    wording : Wording
        Names of the questions.

    Returns
    -------
    tuple of str
    """
    titles = {rule_set.id: rule_set.title for rule_set in rule_sets}
    sentences = []
    for question in dict.fromkeys(finding.question for finding in findings):
        by_finding: dict[str, list[str]] = {}
        for finding in findings:
            if finding.question == question:
                by_finding.setdefault(finding.finding, []).append(titles[finding.rule_set])
        if len(by_finding) > 1:
            parts = [f"{word} by {', '.join(names)}" for word, names in by_finding.items()]
            name = wording.questions[question]
            sentences.append(f"{name[0].upper()}{name[1:]}: {'; '.join(parts)}.")
    return tuple(sentences)
