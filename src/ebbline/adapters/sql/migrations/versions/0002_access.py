"""Who may log in, and the clock that minutes are counted by.

Revision ID: 0002
Revises: 0001
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables; what they hold is no part of the chain."""
    op.create_table(
        "credential",
        sa.Column("user_id", sa.String(40)),
        sa.Column("hash", sa.Text, nullable=False),
        sa.Column("one_time", sa.Boolean, nullable=False),
        sa.Column("changed_at", sa.String(27), nullable=False),
        sa.PrimaryKeyConstraint("user_id", name="pk_credential"),
        sa.ForeignKeyConstraint(["user_id"], ["entry.id"], name="fk_credential_user_id"),
    )
    op.create_table(
        "session",
        sa.Column("token_hash", sa.String(64)),
        sa.Column("user_id", sa.String(40), nullable=False),
        sa.Column("begun_at", sa.String(27), nullable=False),
        sa.Column("seen_at", sa.String(27), nullable=False),
        sa.Column("ended_at", sa.String(27)),
        sa.Column("place", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("token_hash", name="pk_session"),
        sa.ForeignKeyConstraint(["user_id"], ["entry.id"], name="fk_session_user_id"),
    )
    op.create_table(
        "attempt",
        sa.Column("login", sa.String(80)),
        sa.Column("failures", sa.Integer, nullable=False),
        sa.Column("last_at", sa.String(27), nullable=False),
        sa.PrimaryKeyConstraint("login", name="pk_attempt"),
    )
    op.create_table(
        "clock_anchor",
        sa.Column("id", sa.Integer, autoincrement=False),
        sa.Column("boot_id", sa.Text, nullable=False),
        sa.Column("steady_s", sa.Float(53), nullable=False),
        sa.Column("utc", sa.String(27), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_clock_anchor"),
    )
