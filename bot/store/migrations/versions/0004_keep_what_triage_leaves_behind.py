"""Keep what triage leaves behind: rules tried out in silence, a site's own edition, findings that went up."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from bot.store import types

revision = "0004"
down_revision = "0002"

_NEW: tuple[tuple[str, sa.Column[Any]], ...] = (
    ("finding", sa.Column("risen_at", types.Instant(), nullable=True)),
    ("triage_run", sa.Column("overlay", sa.Integer(), server_default="0", nullable=False)),
    ("triage_run", sa.Column("shadow", sa.Text(), server_default="", nullable=False)),
)


def upgrade() -> None:
    for table, column in _NEW:
        op.add_column(table, column)
    op.create_index(
        "ix_triage_run_shadow",
        "triage_run",
        ["at"],
        postgresql_where=sa.text("shadow != ''"),
        sqlite_where=sa.text("shadow != ''"),
    )
