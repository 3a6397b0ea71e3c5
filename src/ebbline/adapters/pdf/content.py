"""Everything that a report says, as plain data for the page template."""

from typing import Any

from ebbline.adapters.chart.describe import describe_chart
from ebbline.adapters.chart.wording import adopted, number, words
from ebbline.adapters.pdf.conduct import (
    baseline_rows,
    conduct_lines,
    preparation_rows,
)
from ebbline.adapters.pdf.facts import identity, record_identity
from ebbline.adapters.pdf.issued import (
    NOT_SIGNED,
    chain_line,
    name_of,
    signatures,
    status_line,
    version_lines,
)
from ebbline.adapters.pdf.methods import methods_paragraph
from ebbline.adapters.pdf.summary import (
    adopted_findings,
    finding_lines,
    symptom_lines,
    tested_line,
    validity_line,
)
from ebbline.adapters.pdf.tables import (
    adopted_rows,
    comparisons,
    measure_table,
    sample_table,
)
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.clinic.report.issue import Issue

TITLE = "Hydrogen and methane breath test"

# Rows from memory are marked one by one in the table, so the sentence that lists them is left out.
_MARKED_IN_THE_TABLE = "Not checked against the paper"


def report_content(interpretation: Interpretation, *, issue: Issue | None) -> dict[str, Any]:
    """Return the content of a report, all of it strings, numbers, lists and tables.

    Parameters
    ----------
    interpretation : Interpretation
        The test.
    issue : Issue or None
        The version of the report, for a test of the record; None for a test from a file.

    Returns
    -------
    dict
        What data/report.typ lays out; it holds no markup.
    """
    facts = interpretation.test.facts
    return {
        "title": TITLE,
        "description": tested_line(interpretation),
        "status": NOT_SIGNED if issue is None else status_line(issue),
        "record": None if issue is None else _record(interpretation, issue),
        "name": interpretation.id if issue is None else f"report {name_of(issue)}",
        "id": interpretation.id,
        "engine": interpretation.engine,
        "invented": interpretation.test.invented,
        "service": facts.get("service", ""),
        "patient": ", ".join(
            facts[key] for key in ("patient", "born", "record_no") if facts.get(key)
        ),
        "tested": tested_line(interpretation),
        "findings": finding_lines(interpretation),
        "validity": validity_line(interpretation),
        "identity": identity(interpretation) if issue is None else record_identity(interpretation),
        "chart_alt": describe_chart(interpretation),
        "adopted_title": " and ".join(used.title for used in adopted(interpretation)),
        "adopted": adopted_rows(interpretation),
        "comparisons": comparisons(interpretation),
        "disagreements": list(interpretation.disagreements),
        "caveats": _caveats(interpretation),
        "symptoms": symptom_lines(interpretation),
        "transit": _transit(interpretation),
        "samples": sample_table(interpretation, clock=issue is not None),
        "measures": measure_table(interpretation),
        "methods": methods_paragraph(interpretation),
        "cautions": list(interpretation.cautions),
        "signatures": [
            {"role": "Author", "name": facts.get("author", "")},
            {"role": "Reviewer", "name": facts.get("reviewer", "")},
        ],
    }


def _record(interpretation: Interpretation, issue: Issue) -> dict[str, Any]:
    """Return what only a report of the record says."""
    contact = ", ".join(issue.contact)
    return {
        "name": name_of(issue),
        "comment": issue.comment,
        "prepared": preparation_rows(interpretation),
        "baselines": baseline_rows(interpretation),
        "conduct": conduct_lines(interpretation, stopped=issue.stopped),
        "contact": words()["record"]["contact"].format(contact=contact) if contact else "",
        "chain": chain_line(issue),
        "versions": version_lines(issue),
        "signatures": signatures(issue),
    }


def _caveats(interpretation: Interpretation) -> list[str]:
    """Return the caveats of the adopted set first, then others once, with the sets they concern."""
    lines = list(
        dict.fromkeys(
            caveat for found in adopted_findings(interpretation) for caveat in found.caveats
        )
    )
    others: dict[str, dict[str, None]] = {}
    for used in interpretation.rule_sets:
        for found in interpretation.findings:
            if found.rule_set != used.id or used.adopted:
                continue
            for caveat in found.caveats:
                if caveat not in lines and not caveat.startswith(_MARKED_IN_THE_TABLE):
                    others.setdefault(caveat, {})[used.title] = None
    return lines + [f"{', '.join(titles)}: {caveat}" for caveat, titles in others.items()]


def _transit(interpretation: Interpretation) -> str:
    found = interpretation.transit
    if found is None:
        return ""
    after = number(found.after_minute)
    if found.by_minute is None:
        return f"Orocaecal transit: more than {after} min ({found.definition})."
    return (
        f"Orocaecal transit: after {after} and by {number(found.by_minute)} min "
        f"({found.definition})."
    )
