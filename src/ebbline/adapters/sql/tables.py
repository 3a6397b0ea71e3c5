"""The tables, made from the kinds of entry; the migrations make the same ones step by step.

Each kind of entry has a table of versions with the key (id, version). A row is never changed, but
for one thing: its fields held apart, with their salt, may be emptied. ``entry`` holds every id
once, so that foreign keys have something to point at.
"""

import zlib
from typing import Any

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator, TypeEngine

from ebbline.core.clinic.record import entry as declared
from ebbline.core.clinic.record.kinds import KINDS


class Packed(TypeDecorator[bytes]):
    """Bytes that are kept compressed: the pages of a report take less than half the room so.

    Digests are of the bytes themselves, so how they are packed may change.
    """

    impl = LargeBinary
    cache_ok = True

    def process_bind_param(self, value: bytes | None, dialect: Dialect) -> bytes | None:  # noqa: ARG002
        """Return the bytes as they are stored."""
        return None if value is None else zlib.compress(value, level=6)

    def process_result_value(self, value: bytes | None, dialect: Dialect) -> bytes | None:  # noqa: ARG002
        """Return the bytes as they were given; damaged ones as they are, for verifying to find."""
        if value is None:
            return None
        stream = zlib.decompressobj()
        try:
            found = stream.decompress(value)
        except zlib.error:
            return value
        # What was put behind the stream is damage as well.
        return found if stream.eof and not stream.unused_data else value


METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
    }
)

HISTORY = Table(
    "history",
    METADATA,
    Column(
        "seq", Integer, primary_key=True, autoincrement=False, info={"says": "number of the act"}
    ),
    Column("at", String(27), nullable=False, info={"says": "when, in UTC"}),
    Column("by", String(40), nullable=False, info={"says": "id of the user; empty for the system"}),
    Column("act", String(40), nullable=False, info={"says": "what was done"}),
    Column("token", String(80), info={"says": "what the sender called it"}),
    Column(
        "body", Text, nullable=False, info={"says": "canonical JSON of the act, as it is hashed"}
    ),
    Column(
        "hash", String(64), nullable=False, info={"says": "SHA-256 of the hash before and the body"}
    ),
    Index("ix_history_token", "token", unique=True),
    info={"says": "Every act: who, when, what, and the digest of each entry that it wrote."},
)
HISTORY_WHY = Table(
    "history_why",
    METADATA,
    Column("seq", Integer, ForeignKey("history.seq"), primary_key=True, autoincrement=False),
    Column("words", Text, info={"says": "why, in the person's words; empty once erased"}),
    Column("salt", String(32), info={"says": "random text in its digest; empty once erased"}),
    info={
        "says": "Why an act was done. Held apart from the history, since words may name somebody."
    },
)
ENTRY = Table(
    "entry",
    METADATA,
    Column("id", String(40), primary_key=True, info={"says": "unique id"}),
    Column("kind", String(30), nullable=False, info={"says": "the table that holds its versions"}),
    Column("seq", Integer, ForeignKey("history.seq"), nullable=False, info={"says": "the act"}),
    info={"says": "Every id of the record, once."},
)
META = Table(
    "record_meta",
    METADATA,
    Column("name", String(40), primary_key=True, info={"says": "what it says"}),
    Column("value", Text, nullable=False, info={"says": "the value"}),
    info={"says": "Which record this is."},
)
CREDENTIAL = Table(
    "credential",
    METADATA,
    Column("user_id", String(40), ForeignKey("entry.id"), primary_key=True),
    Column("hash", Text, nullable=False, info={"says": "argon2id hash of the password"}),
    Column("one_time", Boolean, nullable=False, info={"says": "must be changed at the next login"}),
    Column("changed_at", String(27), nullable=False, info={"says": "when it was set, in UTC"}),
    info={"says": "Passwords, as hashes. Not part of the chain, of an export or of the history."},
)
SESSION = Table(
    "session",
    METADATA,
    Column(
        "token_hash", String(64), primary_key=True, info={"says": "SHA-256 of the session's token"}
    ),
    Column("user_id", String(40), ForeignKey("entry.id"), nullable=False),
    Column("begun_at", String(27), nullable=False),
    Column("seen_at", String(27), nullable=False),
    Column("ended_at", String(27)),
    Column("place", Text, nullable=False, info={"says": "what the device said of itself"}),
    info={"says": "Who is logged in where. Not part of the chain."},
)
ATTEMPT = Table(
    "attempt",
    METADATA,
    Column("login", String(80), primary_key=True),
    Column("failures", Integer, nullable=False, info={"says": "wrong passwords in a row"}),
    Column("last_at", String(27), nullable=False),
    info={"says": "Wrong passwords, to slow down guessing. Not part of the chain."},
)
ANCHOR = Table(
    "clock_anchor",
    METADATA,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("boot_id", Text, nullable=False, info={"says": "which start of the computer"}),
    Column("steady_s", Float, nullable=False, info={"says": "its steady clock, s"}),
    Column("utc", String(27), nullable=False, info={"says": "its wall clock in UTC"}),
    info={"says": "Where both clocks stood when last looked at. Not part of the chain."},
)

_TYPES: dict[declared.Form, TypeEngine[Any]] = {
    "text": Text(),
    "whole": Integer(),
    "number": Float(53),
    "yes-no": Boolean(),
    "day": String(10),
    "moment": String(27),
    "list": Text(),
    "map": Text(),
    "bytes": Packed(),
}
# What tables are searched by, apart from the id and the act.
_SEARCHED = {
    "user": ("login",),
    "setting": ("name",),
    "identity": ("record_no", "family_name"),
    "test": ("state", "number"),
    "booking": ("slot",),
    "sample_try": ("trace_digest",),
}


def _table(name: str, kind: type[declared.Entry]) -> Table:
    """Return the table of a kind of entry."""
    columns: list[Column[Any]] = []
    for one in declared.columns_of(kind):
        target = ForeignKey("entry.id") if one.refers or one.name == "id" else None
        text = String(40) if target is not None else _TYPES[one.form]
        columns.append(
            Column(
                one.name,
                text,
                *([] if target is None else [target]),
                primary_key=one.name == "id",
                nullable=one.optional or one.apart,
                info={"says": one.says},
            )
        )
    columns.insert(
        1,
        Column(
            "version",
            Integer,
            primary_key=True,
            autoincrement=False,
            info={"says": "version, from 1"},
        ),
    )
    seq = Column(
        "seq", Integer, ForeignKey("history.seq"), nullable=False, info={"says": "the act"}
    )
    columns.insert(2, seq)
    if any(one.apart for one in declared.columns_of(kind)):
        columns += [
            Column("salt", String(32), info={"says": "salt of the fields held apart"}),
            Column(
                "apart_digest", String(64), nullable=False, info={"says": "their salted digest"}
            ),
        ]
    indexed = [one.name for one in declared.columns_of(kind) if one.refers in _OWNERS]
    indexes = [
        Index(f"ix_{name}_{column}", column)
        for column in ["seq", *indexed, *_SEARCHED.get(name, ())]
    ]
    words = (kind.__doc__ or "").strip().split("\n")[0]
    return Table(
        name,
        METADATA,
        *columns,
        CheckConstraint("version >= 1", "version"),
        *indexes,
        info={"says": words},
    )


_OWNERS = ("patient", "test", "report", "user", "analyser", "referral")

TABLES: dict[str, Table] = {name: _table(name, kind) for name, kind in KINDS.items()}
"""Table by kind of entry."""
