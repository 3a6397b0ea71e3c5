"""Write the preparation sheet of one appointment as PDF, in large type on one page."""

from dataclasses import asdict
from datetime import datetime

from ebbline.adapters.pdf.typesetter import typeset
from ebbline.core.clinic.sheet import Sheet
from ebbline.services.ports import Paper


def write_sheet(sheet: Sheet, *, paper: Paper, created: datetime) -> bytes:
    """Return a preparation sheet as a tagged PDF.

    Parameters
    ----------
    sheet : Sheet
        What it says, in the order in which it is read.
    paper : {"a4", "us-letter"}
        Size of the page.
    created : datetime
        Date of the document, with its zone; a sheet knows no clock.

    Returns
    -------
    bytes
        One page, in type from 11 points up: the largest of the sizes in sheet.typ that fits. Where
        even the smallest does not, the sheet goes on to a second page. The same bytes for the same
        arguments.

    Raises
    ------
    ReportError
        If the page cannot be set.
    """
    return typeset(asdict(sheet), template="sheet.typ", chart_svg="", paper=paper, created=created)
