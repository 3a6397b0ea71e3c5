"""Write an invented record as a released schema held it: python write.py REVISION.

Made once for each revision, when it is released, and kept as REVISION.sql. The tables are made by
the migrations up to that revision; every row is put in by plain statements, and what the chain
needs is computed here, so that nothing depends on how a later release writes. Before a revision is
released its file may be made again after a change.
"""

import hashlib
import importlib
import json
import sqlite3
import sys
import zlib
from pathlib import Path
from typing import Any

from sqlalchemy import create_engine

from ebbline.adapters.sql.migrate import bring_up

_VALUES: dict[str, Any] = {
    "text": "invented",
    "int": 3,
    "real": 12.5,
    "bool": True,
    "day": "2026-11-27",
    "moment": "2026-11-27T08:30:00.000000Z",
    "blob": b"invented",
}
# Columns of text that hold JSON.
_JSON = {
    "user.roles": '["bench"]',
    "setting.value": '{"value":5}',
    "referral.alarm_features": '["weight loss"]',
    "booking.needs": "[]",
    "arrival.checked": '["name","date of birth"]',
    "preparation.answers": '{"fasted":"yes"}',
    "preparation.decisions": "{}",
    "preparation.reasons": "{}",
    "screening.answers": '{"fructose_intolerance":"no"}',
    "sample_try.reasons": "[]",
    "sample_try.trace_summary": '{"ended_s":12.5}',
    "sample_try.checked": "[]",
    "symptoms.scores": '{"pain":2}',
    "baseline_decision.uses": "[]",
    "baseline_decision.over_limit": "[]",
    "snapshot.findings": '[["north-american-2017","malabsorption","positive"]]',
    "second_read.findings": '{"malabsorption":"positive"}',
}
_PATIENT = "invented00000patient"
_USER = "invented00000000user"
_SALT = "00112233445566778899aabbccddeeff"
_AT = "2026-11-27T08:00:00.000000Z"


def main(revision: str) -> None:
    """Write the file of a revision."""
    target = Path(__file__).with_name(f"{revision}.sql")
    engine = create_engine("sqlite://")
    with engine.connect() as connection:
        bring_up(connection, to=revision)
        connection.commit()
        driver = connection.connection.driver_connection
        assert isinstance(driver, sqlite3.Connection)
        _fill(driver, revision)
        lines = list(driver.iterdump())
    target.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _fill(connection: sqlite3.Connection, revision: str) -> None:
    """Three acts: one entry of every kind, a second version of one, an erasure."""
    first = importlib.import_module("ebbline.adapters.sql.migrations.versions.0001_record")
    kinds: dict[str, dict[str, str]] = first.KINDS
    for name, value in (("id", "invented"), ("service", "Harbour Clinic"), ("invented", "true")):
        _insert(connection, "record_meta", {"name": name, "value": value})
    names = ["patient", *(name for name in kinds if name not in ("patient", "erasure"))]
    rows = [(name, _row(name, kinds[name], 1, 1)) for name in names]
    _act(connection, kinds, 1, "first", rows)
    again = _row("patient", kinds["patient"], 2, 2)
    _act(connection, kinds, 2, "second", [("patient", {**again, "language": "cy"})])
    _act(connection, kinds, 3, "third", [("erasure", _row("erasure", kinds["erasure"], 1, 3))])
    # As erased: the words and their salt are gone, their digest stays.
    guard = "SELECT sql FROM sqlite_master WHERE name = 'guard_identity_update'"
    ((statement,),) = connection.execute(guard).fetchall()
    apart = [name for name, code in kinds["identity"].items() if "apart" in code]
    connection.execute("DROP TRIGGER guard_identity_update")
    connection.execute(f"UPDATE identity SET {', '.join(f'{n} = NULL' for n in [*apart, 'salt'])}")
    connection.execute(statement)
    if revision >= "0002":
        values = {
            "user_id": _USER,
            "hash": "x",
            "one_time": True,
            "changed_at": _AT,
        }
        _insert(connection, "credential", values)
        anchor = {"id": 1, "boot_id": "x", "steady_s": 12.5, "utc": _AT}
        _insert(connection, "clock_anchor", anchor)
    connection.commit()


def _row(name: str, columns: dict[str, str], version: int, seq: int) -> dict[str, Any]:
    row: dict[str, Any] = {"id": f"invented{name[:12]:0>12}", "version": version, "seq": seq}
    for column, code in columns.items():
        kind = code.split()[0]
        value = _PATIENT if kind == "id" else _VALUES[kind]
        row[column] = _JSON.get(f"{name}.{column}", value)
    return row


def _act(
    connection: sqlite3.Connection,
    kinds: dict[str, dict[str, str]],
    seq: int,
    token: str,
    rows: list[tuple[str, dict[str, Any]]],
) -> None:
    why = f"invented reason {seq}"
    changes = []
    for name, row in rows:
        codes = {"id": "text", **kinds[name]}
        apart = {c: _hashable(row[c]) for c, code in codes.items() if "apart" in code}
        plain = {c: _hashable(row[c]) for c, code in codes.items() if "apart" not in code}
        digest = _sha256(_canonical({"apart": apart, "salt": _SALT})) if apart else None
        if apart:
            row |= {"salt": _SALT, "apart_digest": digest}
        whole = _sha256(_canonical({"apart": digest, "plain": plain}))
        changes.append([name, row["id"], row["version"], whole])
    body = _canonical(
        {
            "act": "invented act",
            "at": _AT,
            "by": "",
            "changes": changes,
            "seq": seq,
            "token": token,
            "warned": [],
            "why": _sha256(_canonical([_SALT, why])),
            "zone": "Europe/London",
        }
    )
    before = connection.execute("SELECT hash FROM history WHERE seq = ?", [seq - 1]).fetchone()
    previous = bytes.fromhex(before[0]) if before else bytes(32)
    history = {"seq": seq, "at": _AT, "by": "", "act": "invented act", "token": token, "body": body}
    _insert(
        connection,
        "history",
        {**history, "hash": hashlib.sha256(previous + body.encode()).hexdigest()},
    )
    _insert(connection, "history_why", {"seq": seq, "words": why, "salt": _SALT})
    for name, row in rows:
        if row["version"] == 1:
            _insert(connection, "entry", {"id": row["id"], "kind": name, "seq": seq})
    for name, row in rows:
        _insert(connection, name, row)


def _insert(connection: sqlite3.Connection, table: str, row: dict[str, Any]) -> None:
    names = ", ".join(f'"{name}"' for name in row)
    marks = ", ".join("?" for _ in row)
    # Bytes are kept compressed; digests are of the bytes themselves.
    values = [zlib.compress(one) if isinstance(one, bytes) else one for one in row.values()]
    connection.execute(f'INSERT INTO "{table}" ({names}) VALUES ({marks})', values)


def _canonical(value: Any) -> str:
    """RFC 8785 for what is written here: no whole float and no character that it escapes."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _hashable(value: Any) -> Any:
    return hashlib.sha256(value).hexdigest() if isinstance(value, bytes) else value


if __name__ == "__main__":
    main(sys.argv[1])
