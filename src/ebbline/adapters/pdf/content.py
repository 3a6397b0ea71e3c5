"""Everything that a report says, as plain data for the page template."""

from typing import Any

from ebbline.adapters.chart.describe import describe_chart
from ebbline.adapters.chart.wording import adopted, number
from ebbline.adapters.pdf.facts import identity
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

TITLE = "Hydrogen and methane breath test"
STATUS = "draft, not signed"

# Rows from memory are marked one by one in the table, so the sentence that lists them is left out.
_MARKED_IN_THE_TABLE = "Not checked against the paper"


def report_content(interpretation: Interpretation) -> dict[str, Any]:
    """Return the content of a report, all of it strings, numbers, lists and tables.

    Parameters
    ----------
    interpretation : Interpretation
        The test.

    Returns
    -------
    dict
        What data/report.typ lays out; it holds no markup.
    """
    facts = interpretation.test.facts
    return {
        "title": TITLE,
        "description": tested_line(interpretation),
        "status": STATUS,
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
        "identity": identity(interpretation),
        "chart_alt": describe_chart(interpretation),
        "adopted_title": " and ".join(used.title for used in adopted(interpretation)),
        "adopted": adopted_rows(interpretation),
        "comparisons": comparisons(interpretation),
        "disagreements": list(interpretation.disagreements),
        "caveats": _caveats(interpretation),
        "symptoms": symptom_lines(interpretation),
        "transit": _transit(interpretation),
        "samples": sample_table(interpretation),
        "measures": measure_table(interpretation),
        "methods": methods_paragraph(interpretation),
        "cautions": list(interpretation.cautions),
        "signatures": [
            {"role": "Author", "name": facts.get("author", "")},
            {"role": "Reviewer", "name": facts.get("reviewer", "")},
        ],
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
