"""What a version of a report says of itself: who answers for it, what came before, where it stands.

The interpretation says what was measured and what each rule set makes of it; an issue is the paper
that it goes out on.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from ebbline.core.clinic.record.result import ReportStatus
from ebbline.core.rules.interpretation import Interpretation


@dataclass(frozen=True, slots=True)
class EarlierVersion:
    """A version that this one takes the place of; it stays readable in the record.

    ``at`` is in the clinic's zone, ``digest`` the SHA-256 of its pages; ``reason`` is empty where
    it was no amendment.
    """

    version: int
    status: ReportStatus
    at: datetime
    signer: str
    reason: str
    digest: str


@dataclass(frozen=True, slots=True)
class Issue:
    """One version of a report.

    Parameters
    ----------
    test_number : int
        Number of the test in the record: with ``version`` it names the report on every page.
    version : int
        From 1, counting what was signed: a draft bears the number that its signing will give it.
    status : {"draft", "signed", "amended"}
        A draft says on every page that it is not signed.
    reason : str
        Why it was amended; empty unless ``status`` is ``amended``.
    comment : str
        Words of the reviewer, printed as theirs; may be empty.
    stopped : str
        Why the test was stopped before its end; empty where it was not.
    author : str
        Name of the person who drafted it.
    signer, role : str
        Name and role of the person who signed; empty for a draft.
    at : datetime
        When it was drafted or signed, in the clinic's zone.
    head_seq, head_hash : int, str
        Last row of the record's history when the pages were drawn, and its hash: whoever holds the
        paper can show whether the record was changed behind it.
    earlier : tuple of EarlierVersion
        Signed versions before this one, the oldest first.
    contact : tuple of str
        Lines that say whom to ask; from the settings of the service.
    """

    test_number: int
    version: int
    status: ReportStatus
    reason: str
    comment: str
    stopped: str
    author: str
    signer: str
    role: str
    at: datetime
    head_seq: int
    head_hash: str
    earlier: tuple[EarlierVersion, ...]
    contact: tuple[str, ...]

    @property
    def name(self) -> str:
        """Return the report's name as every page shows it, such as ``42-1``."""
        return f"{self.test_number}-{self.version}"


class DrawReport(Protocol):
    """Draws the pages of a report."""

    def __call__(self, interpretation: Interpretation, issue: Issue) -> bytes:
        """Return a PDF: the same bytes for the same arguments."""
        ...
