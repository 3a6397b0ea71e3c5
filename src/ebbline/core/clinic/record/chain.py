"""The chain over all acts: each row of the history holds the hash of the row before it.

An act is one thing that a person did: who, when, what, why, and the digest of every entry that it
wrote. ``hash(n) = SHA-256(hash(n-1) ‖ body(n))``, where the body is canonical JSON (RFC 8785). So a
row that was edited, taken out, put in or moved shows at the first row from which the hashes do not
follow. What the chain cannot show is a record rewritten as a whole, or cut off at its end: for
that the head, the last hash, is kept somewhere else as well.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from ebbline.core.clinic.record.written import canonical, sha256

START = "0" * 64
"""What stands for the hash before the first row."""


@dataclass(frozen=True, slots=True)
class Change:
    """One entry that an act wrote: its kind, id, version and digest."""

    kind: str
    id: str
    version: int
    digest: str


@dataclass(frozen=True, slots=True)
class ActDone:
    """One act as the history keeps it.

    Parameters
    ----------
    seq : int
        Number of the row, from 1 without gaps.
    at : str
        When, in UTC to the microsecond.
    zone : str
        Time zone of the clinic, by its IANA name.
    by : str
        Id of the user; empty for what the system did itself.
    act : str
        What was done, by the names of data/roles.toml.
    why_digest : str or None
        Salted digest of the reason; the words are kept apart.
    token : str or None
        What the sender called this act, so that the same one sent twice is done once.
    warned : tuple of str
        What the person was warned of.
    changes : tuple of Change
        What it wrote, in order.
    """

    seq: int
    at: str
    zone: str
    by: str
    act: str
    why_digest: str | None
    token: str | None
    warned: tuple[str, ...]
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class Link:
    """One row of the history: its body as it was hashed, and its hash."""

    seq: int
    body: str
    hash: str


def body_of(done: ActDone) -> str:
    """Return the text of an act that is hashed.

    Parameters
    ----------
    done : ActDone
        The act.

    Returns
    -------
    str
        Canonical JSON.
    """
    document: dict[str, Any] = {
        "act": done.act,
        "at": done.at,
        "by": done.by,
        "changes": [[c.kind, c.id, c.version, c.digest] for c in done.changes],
        "seq": done.seq,
        "token": done.token,
        "warned": list(done.warned),
        "why": done.why_digest,
        "zone": done.zone,
    }
    return canonical(document)


def link(previous: str, body: str) -> str:
    """Return the hash of a row of the history.

    Parameters
    ----------
    previous : str
        Hash of the row before it, `START` for the first.
    body : str
        From `body_of`.

    Returns
    -------
    str
        SHA-256 in hexadecimal.
    """
    return sha256(bytes.fromhex(previous) + body.encode())


@dataclass(frozen=True, slots=True)
class Fault:
    """The first place where a record does not verify.

    ``seq`` is the row of the history; ``entry`` the kind and id where one entry is at fault, empty
    otherwise; ``words`` say what is wrong.
    """

    seq: int
    entry: str
    words: str


def check_links(links: Iterable[Link]) -> Iterator[Link | Fault]:
    """Yield each row that follows from the one before it, then the fault where one does not.

    Parameters
    ----------
    links : iterable of Link
        Rows in the order in which they are stored.

    Yields
    ------
    Link or Fault
        Nothing follows a fault.
    """
    previous, due = START, 1
    for row in links:
        if row.seq != due:
            if row.seq < due:
                words = f"row {row.seq} stands where row {due} is due"
            else:
                words = f"row {due} is missing; row {row.seq} follows row {due - 1}"
            yield Fault(due, "", words)
            return
        if link(previous, row.body) != row.hash:
            yield Fault(row.seq, "", f"row {row.seq} does not follow from the row before it")
            return
        yield row
        previous, due = row.hash, due + 1
