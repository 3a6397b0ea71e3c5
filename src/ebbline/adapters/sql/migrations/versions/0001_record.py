"""The first schema of the record.

Revision ID: 0001
"""

from collections.abc import Callable
from typing import Any

import sqlalchemy as sa
from alembic import op

from ebbline.adapters.sql import guards

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

TYPES: dict[str, Callable[[], Any]] = {
    "text": sa.Text,
    "int": sa.Integer,
    "real": lambda: sa.Float(53),
    "bool": sa.Boolean,
    "day": lambda: sa.String(10),
    "moment": lambda: sa.String(27),
    "id": lambda: sa.String(40),
    "blob": sa.LargeBinary,
}
# Kinds of entry as they were released first. ``apart`` columns may be emptied, ``optional`` ones
# may be missing, ``id`` columns hold the id of an entry.
KINDS = {
    "user": {
        "login": "text indexed",
        "name": "text",
        "roles": "text",
        "active": "bool",
    },
    "competence_proof": {
        "user_id": "id indexed",
        "task": "text",
        "from_day": "day",
        "until_day": "day",
        "words": "text",
    },
    "setting": {
        "name": "text indexed",
        "value": "text",
    },
    "adoption": {
        "what": "text",
        "name": "text",
        "release": "text",
        "text": "text",
        "digest": "text",
        "adopted_by": "text",
        "in_force": "bool",
    },
    "analyser": {
        "name": "text",
        "serial": "text",
        "method": "text",
        "profile": "text",
        "in_use": "bool",
    },
    "analyser_check": {
        "analyser_id": "id indexed",
        "what": "text",
        "at": "moment",
        "passed": "bool",
        "gas": "text",
        "words": "text",
    },
    "patient": {
        "sex": "text",
        "language": "text",
        "invented": "bool",
    },
    "identity": {
        "patient_id": "id indexed",
        "family_name": "text apart indexed",
        "given_name": "text apart",
        "born": "day apart",
        "record_no": "text apart indexed",
        "national_no": "text apart",
        "contact": "text apart",
        "search": "text apart",
    },
    "referral": {
        "patient_id": "id indexed",
        "requested_on": "day",
        "referrer": "text apart",
        "copy_to": "text apart",
        "indication": "text apart",
        "alarm_features": "text",
        "alarm_answered": "bool",
        "medicines": "text apart",
        "surgery": "text",
        "surgery_words": "text apart",
        "earlier_tests": "text apart",
    },
    "test": {
        "number": "int indexed",
        "patient_id": "id indexed",
        "referral_id": "id indexed",
        "substrate": "text",
        "mix": "text",
        "protocol_id": "id",
        "criterion_id": "id",
        "state": "text indexed",
        "state_why": "text apart",
        "t0": "moment optional",
        "t0_defined_as": "text",
        "age_years": "real optional",
        "weight_kg": "real optional",
        "site": "text",
        "invented": "bool",
    },
    "booking": {
        "test_id": "id indexed",
        "patient_id": "id indexed",
        "slot": "moment indexed",
        "chair": "text",
        "analyser_id": "id optional indexed",
        "sheet_release": "text",
        "needs": "text",
    },
    "arrival": {
        "test_id": "id indexed",
        "checked": "text",
        "consent": "text",
        "carer": "text apart",
    },
    "preparation": {
        "test_id": "id indexed",
        "guidance": "text",
        "answers": "text",
        "decisions": "text",
        "reasons": "text apart",
    },
    "screening": {
        "test_id": "id indexed",
        "answers": "text",
    },
    "clearance": {
        "test_id": "id indexed",
        "bar": "text",
        "substrate": "text",
        "answer": "text",
        "go_ahead": "bool",
        "by_name": "text",
        "by_kind": "text",
        "reason": "text apart",
    },
    "dose": {
        "test_id": "id indexed",
        "rule": "text",
        "substrate": "text",
        "mix": "text",
        "dose_g": "real",
        "g_per_kg": "real optional",
        "cap_g": "real optional",
        "cap_used": "bool",
        "prepared_g": "real",
        "volume_ml": "real",
        "lot": "text",
        "expiry": "day",
        "arithmetic": "text",
        "prepared_by": "id indexed",
        "needs_second_check": "bool",
        "checked_by": "id optional indexed",
        "drunk": "text",
    },
    "sample_try": {
        "test_id": "id indexed",
        "planned_minute": "real optional",
        "label": "text",
        "at": "moment",
        "status": "text",
        "way": "text",
        "h2_ppm": "real optional",
        "ch4_ppm": "real optional",
        "o2_pct": "real optional",
        "co2_pct": "real optional",
        "h2_normalised_ppm": "real optional",
        "ch4_normalised_ppm": "real optional",
        "h2_u_ppm": "real optional",
        "ch4_u_ppm": "real optional",
        "alveolar_fraction": "real optional",
        "quality": "text",
        "reasons": "text",
        "trace_digest": "text optional indexed",
        "trace_summary": "text",
        "analyser_id": "id optional indexed",
        "calibration_id": "id optional",
        "operator": "id indexed",
        "checked": "text",
        "note": "text apart",
        "moved_from": "id optional",
        "moved_to": "id optional",
    },
    "symptoms": {
        "test_id": "id indexed",
        "planned_minute": "real optional",
        "at": "moment",
        "scale": "text",
        "scores": "text",
        "note": "text apart",
    },
    "test_event": {
        "test_id": "id indexed",
        "at": "moment",
        "what": "text",
        "lost_fraction": "real optional",
        "note": "text apart",
    },
    "baseline_decision": {
        "test_id": "id indexed",
        "choice": "text",
        "rule": "text",
        "uses": "text",
        "over_limit": "text",
        "why": "text apart",
        "by": "id indexed",
    },
    "snapshot": {
        "test_id": "id indexed",
        "interpretation": "text",
        "engine": "text",
        "criterion_id": "id",
        "findings": "text",
        "document": "blob apart",
    },
    "report": {
        "test_id": "id indexed",
        "number": "int",
        "status": "text",
        "snapshot_id": "id",
        "author": "id indexed",
        "digest": "text",
        "head_seq": "int",
        "head_hash": "text",
        "comment": "text apart",
        "reason": "text apart",
        "pages": "blob apart",
    },
    "signature": {
        "report_id": "id indexed",
        "test_id": "id indexed",
        "user_id": "id indexed",
        "name": "text",
        "role": "text",
        "digest": "text",
    },
    "second_read": {
        "test_id": "id indexed",
        "user_id": "id indexed",
        "findings": "text",
    },
    "clock_step": {
        "at": "moment",
        "step_s": "real",
        "kind": "text",
        "decision": "text",
    },
    "erasure": {
        "patient_id": "id indexed",
        "ground": "text",
        "ordered_by": "text",
        "rows": "int",
    },
}


KEYS = {
    "history": [["seq"], ["token"]],
    "history_why": [["seq"]],
    "entry": [["id"]],
    "record_meta": [["name"]],
}


def upgrade() -> None:
    """Make the tables and their guards."""
    op.create_table(
        "history",
        sa.Column("seq", sa.Integer, autoincrement=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("by", sa.String(40), nullable=False),
        sa.Column("act", sa.String(40), nullable=False),
        sa.Column("token", sa.String(80)),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_history"),
    )
    op.create_index("ix_history_token", "history", ["token"], unique=True)
    op.create_table(
        "history_why",
        sa.Column("seq", sa.Integer, autoincrement=False),
        sa.Column("words", sa.Text),
        sa.Column("salt", sa.String(32)),
        sa.PrimaryKeyConstraint("seq", name="pk_history_why"),
        sa.ForeignKeyConstraint(["seq"], ["history.seq"], name="fk_history_why_seq"),
    )
    op.create_table(
        "entry",
        sa.Column("id", sa.String(40)),
        sa.Column("kind", sa.String(30), nullable=False),
        sa.Column("seq", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_entry"),
        sa.ForeignKeyConstraint(["seq"], ["history.seq"], name="fk_entry_seq"),
    )
    op.create_table(
        "record_meta",
        sa.Column("name", sa.String(40)),
        sa.Column("value", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_record_meta"),
    )
    dialect = op.get_bind().dialect.name
    statements = guards.function(dialect)
    for table in ("history", "entry", "record_meta"):
        statements += guards.forbid_all(table, dialect)
    statements += guards.allow_erasing("history_why", ["seq"], ["words", "salt"], dialect)
    for table, keys in KEYS.items():
        statements += guards.forbid_replacing(table, keys, dialect)
    for name, columns in KINDS.items():
        statements += _make(name, columns, dialect)
    for statement in statements:
        op.execute(statement)


def _make(name: str, columns: dict[str, str], dialect: str) -> list[str]:
    """Make the table of a kind of entry and return the statements that guard it."""
    codes = {column: code.split() for column, code in columns.items()}
    apart = [column for column, code in codes.items() if "apart" in code]
    made: list[sa.Column[Any]] = [
        sa.Column("id", sa.String(40)),
        sa.Column("version", sa.Integer, autoincrement=False),
    ]
    made.append(sa.Column("seq", sa.Integer, nullable=False))
    made += [
        sa.Column(column, TYPES[code[0]](), nullable="apart" in code or "optional" in code)
        for column, code in codes.items()
    ]
    if apart:
        made += [
            sa.Column("salt", sa.String(32)),
            sa.Column("apart_digest", sa.String(64), nullable=False),
        ]
    references = {"seq": "history.seq", "id": "entry.id"}
    references |= {column: "entry.id" for column, code in codes.items() if code[0] == "id"}
    op.create_table(
        name,
        *made,
        sa.PrimaryKeyConstraint("id", "version", name=f"pk_{name}"),
        sa.CheckConstraint("version >= 1", name=f"ck_{name}_version"),
        *(
            sa.ForeignKeyConstraint([column], [target], name=f"fk_{name}_{column}")
            for column, target in references.items()
        ),
    )
    for column in ["seq", *(column for column, code in codes.items() if "indexed" in code)]:
        op.create_index(f"ix_{name}_{column}", name, [column])
    statements = guards.forbid_replacing(name, [["id", "version"]], dialect)
    if not apart:
        return statements + guards.forbid_all(name, dialect)
    kept = [one.name for one in made if one.name not in (*apart, "salt")]
    return statements + guards.allow_erasing(name, kept, [*apart, "salt"], dialect)
