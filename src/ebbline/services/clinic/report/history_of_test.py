"""Everything that was done about one test: which act, who, when, why, and what changed by it."""

import json
from dataclasses import dataclass
from datetime import datetime

from ebbline.core.clinic.record.entry import Entry, Kept, columns_of, kind_name
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.clinic.record.people import Referral
from ebbline.core.clinic.record.visit import Test
from ebbline.core.clinic.record.written import read_moment
from ebbline.services.clinic.desk import Actor, Clinic
from ebbline.services.clinic.ports import ActSeen, Look
from ebbline.services.clinic.report.facts_of_test import name_of


@dataclass(frozen=True, slots=True)
class Changed:
    """One entry that an act wrote; ``fields`` are name, value before and value after.

    Before the first version every value is empty.
    """

    kind: str
    id: str
    version: int
    fields: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Happened:
    """One act: ``by`` is the name of the person, ``at`` in the clinic's zone."""

    seq: int
    at: datetime
    by: str
    act: str
    says: str
    why: str
    warned: tuple[str, ...]
    changed: tuple[Changed, ...]


def history_of_test(clinic: Clinic, who: Actor, *, test_id: str) -> tuple[Happened, ...]:
    """Return the trail of one test, the first act first.

    Parameters
    ----------
    clinic : Clinic
        Where.
    who : Actor
        Who asks.
    test_id : str
        The test.

    Returns
    -------
    tuple of Happened
        Its referral is part of it. Blobs, such as the pages of a report, are not told.

    Raises
    ------
    FieldError
        If there is no such test.
    """
    with clinic.look(who) as look:
        test = look.get(Test, test_id).entry
        changed: dict[int, list[Changed]] = {}
        for one in _entries(look, test):
            for seq, change in _versions(look, one):
                changed.setdefault(seq, []).append(change)
        acts = look.acts(sorted(changed))
        return tuple(_happened(clinic, look, act, changed[act.seq]) for act in acts)


def _entries(look: Look, test: Test) -> list[Entry]:
    """Return the test, its referral, and all that names the test."""
    found: list[Entry] = [test, look.get(Referral, test.referral_id).entry]
    for kind in KINDS.values():
        if any(column.name == "test_id" for column in columns_of(kind)):
            found += [one.entry for one in look.find(kind, {"test_id": test.id})]
    return found


def _versions(look: Look, entry: Entry) -> list[tuple[int, Changed]]:
    found = []
    before: Kept[Entry] | None = None
    for one in look.versions(type(entry), entry.id):
        fields = tuple(
            (column.name, old, new)
            for column in columns_of(type(entry))
            if column.form != "bytes"
            and (old := "" if before is None else _shown(before.entry, column.name))
            != (new := _shown(one.entry, column.name))
        )
        found.append((one.seq, Changed(kind_name(type(entry)), entry.id, one.version, fields)))
        before = one
    return found


def _shown(entry: Entry, name: str) -> str:
    value = getattr(entry, name)
    return "" if value is None else str(value)


def _happened(clinic: Clinic, look: Look, act: ActSeen, changed: list[Changed]) -> Happened:
    says = {one.id: one.says for one in clinic.rules.roles.acts}
    return Happened(
        seq=act.seq,
        at=read_moment(act.at).astimezone(clinic.zone),
        by=name_of(look, act.by),
        act=act.act,
        says=says.get(act.act, act.act),
        why=act.why,
        warned=tuple(json.loads(act.body)["warned"]),
        changed=tuple(changed),
    )
