"""Whether a record is whole, asked anew of every row that is stored."""

import hashlib
import json
from typing import Any

from sqlalchemy import func, select

from ebbline.adapters.sql.record import SqlRecord
from ebbline.adapters.sql.tables import ENTRY, HISTORY, TABLES
from ebbline.core.clinic.record.kinds import KINDS
from ebbline.core.clinic.record.written import digest_apart, digest_row


def acts_of_whole(record: SqlRecord) -> list[dict[str, Any]]:
    """The body of every act, once each has been found to follow and every entry to be as digested.

    Nothing may be stored that no act lists, and nothing may be listed that is not stored. What is
    held apart may have been erased.
    """
    with record.look() as look:
        rows = look.connection.execute(select(HISTORY).order_by(HISTORY.c.seq)).mappings().all()
        bodies = [json.loads(row["body"]) for row in rows]
        previous = "0" * 64
        listed: dict[str, int] = dict.fromkeys(KINDS, 0)
        for due, (row, body) in enumerate(zip(rows, bodies, strict=True), start=1):
            linked = hashlib.sha256(bytes.fromhex(previous) + row["body"].encode()).hexdigest()
            assert (row["seq"], row["hash"]) == (due, linked)
            assert [row[name] for name in ("seq", "at", "by", "act", "token")] == [
                body[name] for name in ("seq", "at", "by", "act", "token")
            ]
            previous = row["hash"]
            for name, entry_id, version, digest in body["changes"]:
                table = TABLES[name]
                found = select(table).where(table.c.id == entry_id, table.c.version == version)
                stored = dict(look.connection.execute(found).mappings().one())
                listed[name] += 1
                assert stored["seq"] == due
                if stored.get("salt") is not None:
                    apart = digest_apart(KINDS[name], stored, stored["salt"])
                    assert stored["apart_digest"] == apart
                assert digest_row(KINDS[name], stored, stored.get("apart_digest")) == digest
        counted = {name: _count(look.connection, table) for name, table in TABLES.items()}
        assert counted == listed
        firsts = sum(version == 1 for body in bodies for _, _, version, _ in body["changes"])
        assert _count(look.connection, ENTRY) == firsts
    return bodies


def _count(connection: Any, table: Any) -> int:
    return int(connection.scalar(select(func.count()).select_from(table)))
