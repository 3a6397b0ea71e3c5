"""Write the report of one test as PDF."""

from datetime import UTC, datetime

from ebbline.adapters.chart.curve_chart import aspect, curve_chart
from ebbline.adapters.chart.render import to_svg
from ebbline.adapters.chart.theme import PRINT
from ebbline.adapters.pdf.content import report_content
from ebbline.adapters.pdf.issued import check_issue
from ebbline.adapters.pdf.room import layout
from ebbline.adapters.pdf.typesetter import typeset
from ebbline.core.rules.interpretation import Interpretation
from ebbline.services.clinic.report.issue import Issue
from ebbline.services.ports import Paper


def write_report(
    interpretation: Interpretation, *, paper: Paper, issue: Issue | None = None
) -> bytes:
    """Return the report of an interpretation as a tagged PDF.

    Parameters
    ----------
    interpretation : Interpretation
        The test.
    paper : {"a4", "us-letter"}
        Size of the pages.
    issue : Issue or None
        The version of the report, for a test of the record. None for a test from a file: its
        report is a draft with lines to write on.

    Returns
    -------
    bytes
        The same bytes for the same arguments: the document's date is that of the test, or
        of the signature or draft.

    Raises
    ------
    ReportError
        If the chart or the pages cannot be drawn, or the issue says what cannot be.
    """
    if issue is not None:
        check_issue(issue)
    # Without a ground of its own the chart lets the mark of invented data show through.
    chart = {**curve_chart(interpretation, theme=PRINT), "background": "transparent"}
    content = report_content(interpretation, issue=issue)
    return typeset(
        {**content, **layout(content, aspect=aspect(chart), paper=paper)},
        template="report.typ",
        chart_svg=to_svg(chart),
        paper=paper,
        created=_date_of(interpretation) if issue is None else issue.at,
    )


def _date_of(interpretation: Interpretation) -> datetime:
    """Return the date of the document: the day of the test, or 2000-01-01 where it is not known.

    The clock would make two reports of the same test differ.
    """
    try:
        day = datetime.fromisoformat(interpretation.test.facts.get("date", ""))
    except ValueError:
        return datetime(2000, 1, 1, tzinfo=UTC)
    return day.replace(tzinfo=UTC)
