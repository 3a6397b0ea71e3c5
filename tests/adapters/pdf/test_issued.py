from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest

from ebbline.adapters.pdf.issued import (
    chain_line,
    check_issue,
    moment,
    name_of,
    signatures,
    status_line,
    version_lines,
)
from ebbline.core.errors import ReportError
from tests.adapters.pdf.issues import AMENDED, DRAFT, FIRST, HASH, SIGNED


def test_the_status_tells_how_far_the_report_is() -> None:
    """Draft, signed, amended; a draft that is to replace a version says which and why."""
    assert status_line(DRAFT) == "draft, not signed"
    signed = "signed by Dr. Nell Harrow, reviewer, on 2026-11-24 15:02 UTC+01:00"
    assert status_line(SIGNED) == signed
    assert status_line(AMENDED) == (
        f"amended, version 2, replaces version 1: the referrer's name was wrong; {signed}"
    )
    again = replace(DRAFT, version=2, earlier=(FIRST,), reason="the dose was wrong")
    assert status_line(again) == "draft, not signed, is to replace version 1: the dose was wrong"
    assert status_line(replace(again, reason="")) == "draft, not signed, is to replace version 1"


def test_a_draft_is_never_what_is_replaced() -> None:
    """Version 2 was only a draft, so version 3 replaces version 1."""
    draft = replace(FIRST, version=2, status="draft", signer="")
    issue = replace(AMENDED, version=3, earlier=(FIRST, draft))
    assert status_line(issue).startswith("amended, version 3, replaces version 1: ")


@pytest.mark.parametrize(
    ("zone", "told"),
    [
        (UTC, "UTC"),
        (timezone(timedelta(hours=-3, minutes=-30)), "UTC-03:30"),
        (timezone(timedelta(hours=11)), "UTC+11:00"),
    ],
)
def test_a_moment_has_its_zone(zone: timezone, told: str) -> None:
    """By its distance from UTC, which every reader understands."""
    assert moment(datetime(2026, 3, 1, 9, 5, 59, tzinfo=zone)) == f"2026-03-01 09:05 {told}"


def test_who_answers_for_it() -> None:
    """A draft has an author and nobody who signed."""
    assert signatures(DRAFT) == [
        {"label": "Author", "value": "R. Tamsin"},
        {"label": "Reviewer", "value": "not signed"},
        {"label": "Drafted", "value": "2026-11-24 13:02 UTC+01:00"},
    ]
    assert signatures(SIGNED) == [
        {"label": "Author", "value": "R. Tamsin"},
        {"label": "Reviewer", "value": "Dr. Nell Harrow"},
        {"label": "Role", "value": "reviewer"},
        {"label": "Signed", "value": "2026-11-24 15:02 UTC+01:00"},
    ]


def test_where_the_record_stood() -> None:
    """Act and hash, what they are for, and every earlier version by its digest."""
    assert name_of(AMENDED) == "42-2, version 2"
    assert chain_line(AMENDED) == (
        f"Record, act 1042: hash {HASH}. Another hash for this act shows a later change."
    )
    draft = replace(FIRST, version=2, status="draft", signer="", reason="the dose was wrong")
    assert version_lines(replace(AMENDED, earlier=(FIRST, draft))) == [
        f"Version 1, signed by Dr. Nell Harrow, 2026-11-24 13:02 UTC; SHA-256 {FIRST.digest}",
        f"Version 2, draft, 2026-11-24 13:02 UTC: the dose was wrong; SHA-256 {FIRST.digest}",
    ]


@pytest.mark.parametrize("issue", [DRAFT, SIGNED, AMENDED])
def test_what_can_be_is_taken(issue: Any) -> None:
    """None of the three is refused."""
    check_issue(issue)


WRONG: list[tuple[Any, Mapping[str, Any], str]] = [
    (DRAFT, {"signer": "Dr. Nell Harrow"},
     "a draft that is signed; allowed: a draft without a signer; came: Dr. Nell Harrow"),
    (SIGNED, {"signer": " "},
     "signed by nobody; allowed: the signer's name and role; came: ' '"),
    (SIGNED, {"role": ""},
     "signed by nobody; allowed: the signer's name and role; came: ''"),
    (AMENDED, {"earlier": ()},
     "an amendment of nothing; allowed: a version that was signed before; came: none"),
    (AMENDED, {"reason": ""},
     "an amendment without a reason; allowed: a reason; came: ''"),
    (SIGNED, {"at": datetime(2026, 11, 24, 15, 2)},  # noqa: DTZ001
     "a moment without a zone; allowed: a moment with its zone; came: 2026-11-24T15:02:00"),
    (AMENDED, {"earlier": (replace(FIRST, at=datetime(2026, 11, 24)),)},  # noqa: DTZ001
     "a moment without a zone; allowed: a moment with its zone; came: 2026-11-24T00:00:00"),
]  # fmt: skip


@pytest.mark.parametrize(("issue", "changes", "text"), WRONG)
def test_what_cannot_be_is_not_drawn(issue: Any, changes: Mapping[str, Any], text: str) -> None:
    """Pages never say of themselves what is not so."""
    with pytest.raises(ReportError) as caught:
        check_issue(replace(issue, **changes))
    assert str(caught.value) == f"the report cannot be issued: {text}"
