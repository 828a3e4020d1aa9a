"""Come home again: since when a pair that was away is back, for the contacts and the review that follow."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from bot.store import types

revision = "0009"
down_revision = "0007"


def upgrade() -> None:
    op.add_column("enrolment", sa.Column("home_at", types.Instant(), nullable=True))
