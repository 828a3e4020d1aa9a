"""Propose words and sign texts; say whose phone shows Latin letters only."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from bot.store import types

revision = "0003"
down_revision = "0008"


def upgrade() -> None:
    op.create_table(
        "text_signature",
        sa.Column("language", sa.Text(), nullable=False),
        sa.Column("text_key", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("by", sa.Uuid(), nullable=True),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("registration", sa.Text(), nullable=False),
        sa.Column("at", types.Instant(), nullable=False),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_text_signature_by")),
        sa.PrimaryKeyConstraint("language", "text_key", "sha256", name=op.f("pk_text_signature")),
    )
    _proposals()
    op.add_column("mother", sa.Column("latin", sa.Boolean(), server_default=sa.false(), nullable=False))
    # No words were approved anywhere before: every reply was read by those of the program alone.
    op.execute(sa.text("UPDATE reading SET edition = 0"))


def _proposals() -> None:
    op.create_table(
        "word_proposal",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("inbound", sa.Uuid(), nullable=False),
        sa.Column("language", sa.Text(), nullable=False),
        sa.Column("phrase", sa.LargeBinary(), nullable=False),
        sa.Column("means", sa.Text(), nullable=False),
        sa.Column("by", sa.Uuid(), nullable=False),
        sa.Column("at", types.Instant(), nullable=False),
        sa.Column("approved", sa.Boolean(), nullable=True),
        sa.Column("decided_by", sa.Uuid(), nullable=True),
        sa.Column("decided_at", types.Instant(), nullable=True),
        sa.Column("why", sa.LargeBinary(), nullable=True),
        sa.CheckConstraint(
            "(approved IS NULL) = (decided_at IS NULL)", name=op.f("ck_word_proposal_decided_at_a_time")
        ),
        sa.CheckConstraint(
            "(approved IS NULL) = (decided_by IS NULL)", name=op.f("ck_word_proposal_decided_by_somebody")
        ),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_word_proposal_by")),
        sa.ForeignKeyConstraint(["decided_by"], ["staff.id"], name=op.f("fk_word_proposal_decided_by")),
        sa.ForeignKeyConstraint(["inbound"], ["inbound.id"], name=op.f("fk_word_proposal_inbound")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_word_proposal")),
    )
    op.create_index("ix_word_proposal_inbound", "word_proposal", ["inbound"])
    where = sa.text("approved IS NULL")
    op.create_index(
        "ix_word_proposal_open", "word_proposal", ["at"], postgresql_where=where, sqlite_where=where
    )
