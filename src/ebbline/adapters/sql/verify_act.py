"""Compare one act of the history with the rows that are stored as written by it."""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ebbline.adapters.sql.owned import Erasures
from ebbline.core.clinic.record.chain import Change, Fault
from ebbline.core.clinic.record.entry import columns_of
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.clinic.record.written import canonical, digest_apart, digest_row, sha256

ENTRY_NAME, WHY_NAME = "entry", "history_why"

_BODY = ("act", "at", "by", "changes", "seq", "token", "warned", "why", "zone")


@dataclass(frozen=True, slots=True)
class Stored:
    """One stored row: the table that holds it, and its columns."""

    table: str
    row: Mapping[str, Any]

    @property
    def name(self) -> str:
        """What the row is called where it is at fault."""
        if self.table == WHY_NAME:
            return "the reason"
        if self.table == ENTRY_NAME:
            return f"{self.row['kind']} {self.row['id']}"
        return f"{self.table} {self.row['id']} version {self.row['version']}"


Before = Callable[[str, str, int], int | None]
"""Kind, id and version to the act that wrote that version; None where it is not stored."""


def check_act(
    act: Mapping[str, Any], stored: Sequence[Stored], *, erasures: Erasures, before: Before
) -> int | Fault:
    """Return how many rows of an act were erased, or what is wrong with it.

    Parameters
    ----------
    act : mapping
        Its row of the history; the body is known to follow from the rows before.
    stored : sequence of Stored
        Every row that says that this act wrote it.
    erasures : Erasures
        What was erased on a legal request.
    before : callable
        Finds the act that wrote a version.

    Returns
    -------
    int or Fault
    """
    seq = act["seq"]
    body = _read_body(act["body"])
    if body is None:
        return Fault(seq, "", f"row {seq}: its body is not one of an act")
    for column in ("seq", "at", "by", "act", "token"):
        if body[column] != act[column]:
            return Fault(seq, "", f"row {seq}: {column} is not what was recorded")
    kept = [one for one in stored if one.table not in {ENTRY_NAME, WHY_NAME}]
    changes = [Change(*change) for change in body["changes"]]
    ids = [one.row for one in stored if one.table == ENTRY_NAME]
    wrong = _check_changes(seq, changes, kept, before) or _check_ids(seq, changes, ids)
    if wrong is not None:
        return wrong
    erased = 0
    for change in changes:
        one = next(row for row in kept if _key(row) == (change.kind, change.id, change.version))
        state = _state(one, change.digest)
        if state is None:
            return Fault(seq, one.name, f"{one.name} is not what row {seq} recorded")
        if state == "erased":
            if erasures.after(one.table, one.row) <= seq:
                return Fault(seq, one.name, f"{one.name} was emptied, and no erasure says so")
            erased += 1
    about = [erasures.after(one.table, one.row) for one in kept]
    about.append(erasures.after_named(act["body"]))
    reasons = [one.row for one in stored if one.table == WHY_NAME]
    found = _check_reason(seq, body["why"], reasons, erasable=max(about) > seq)
    return found if isinstance(found, Fault) else erased + found


def _read_body(text: Any) -> dict[str, Any] | None:
    """Return what a body says, None where it is not the body of an act."""
    try:
        body = json.loads(text)
    except (TypeError, ValueError):
        return None
    if not isinstance(body, dict) or sorted(body) != sorted(_BODY):
        return None
    changes = body["changes"]
    if not isinstance(changes, list) or not all(
        isinstance(one, list) and [type(part) for part in one] == [str, str, int, str]
        for one in changes
    ):
        return None
    return body


def _key(one: Stored) -> tuple[str, Any, Any]:
    return one.table, one.row["id"], one.row["version"]


def _check_changes(
    seq: int, changes: Sequence[Change], kept: Sequence[Stored], before: Before
) -> Fault | None:
    """Return the fault where what an act lists and what is stored are not the same."""
    listed = {(one.kind, one.id, one.version) for one in changes}
    there = {_key(one): one for one in kept}
    for change in changes:
        name = f"{change.kind} {change.id} version {change.version}"
        if (change.kind, change.id, change.version) not in there:
            return Fault(seq, name, f"{name}, which row {seq} recorded, is missing")
        if change.version > 1:
            earlier = before(change.kind, change.id, change.version - 1)
            if earlier is None or not earlier < seq:
                return Fault(seq, name, f"{name}: the version before it is missing")
    for key, one in there.items():
        if key not in listed:
            return Fault(seq, one.name, f"{one.name} was not recorded by row {seq}")
    if len(there) < len(kept) or len(listed) < len(changes):
        return Fault(seq, "", f"row {seq}: something stands twice that it recorded once")
    return None


def _check_ids(
    seq: int, changes: Sequence[Change], ids: Sequence[Mapping[str, Any]]
) -> Fault | None:
    """Return the fault where the list of all ids does not agree with an act."""
    new = {(one.id, one.kind) for one in changes if one.version == 1}
    there = {(row["id"], row["kind"]) for row in ids}
    for entry_id, kind in sorted(new - there):
        name = f"{kind} {entry_id}"
        return Fault(seq, name, f"{name} is missing from the list of ids")
    for entry_id, kind in sorted(there - new, key=str):
        name = f"{kind} {entry_id}"
        return Fault(seq, name, f"{name} is in the list of ids, and row {seq} did not record it")
    return None


def _state(one: Stored, digest: str) -> str | None:
    """Return "whole" or "erased" for a row that is as it was recorded, else None."""
    kind = KINDS[one.table]
    apart = [column.name for column in columns_of(kind) if column.apart]
    state, apart_digest = "whole", None
    try:
        if apart:
            apart_digest = one.row["apart_digest"]
            if one.row["salt"] is not None:
                if digest_apart(kind, one.row, one.row["salt"]) != apart_digest:
                    return None
            elif all(one.row[name] is None for name in apart):
                state = "erased"
            else:
                return None
        return state if digest_row(kind, one.row, apart_digest) == digest else None
    except (TypeError, ValueError):
        # A value that cannot even be written down, such as a NaN, was never recorded.
        return None


def _check_reason(
    seq: int, digest: Any, reasons: Sequence[Mapping[str, Any]], *, erasable: bool
) -> int | Fault:
    """Return 1 for an erased reason and 0 for one that is as it was given, or the fault."""
    if digest is None and not reasons:
        return 0
    if digest is None:
        return Fault(seq, "", f"row {seq}: a reason is stored, and none was given")
    if not reasons:
        return Fault(seq, "", f"row {seq}: its reason is missing")
    words, salt = reasons[0]["words"], reasons[0]["salt"]
    if words is None and salt is None:
        if not erasable:
            return Fault(seq, "", f"row {seq}: its reason was emptied, and no erasure says so")
        return 1
    if sha256(canonical([str(salt), str(words)])) != digest:
        return Fault(seq, "", f"row {seq}: its reason is not what was given")
    return 0
