"""Erase old records: when a follow-up ended, and that no word of a pair is left."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from bot.store import types

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    op.add_column("enrolment", sa.Column("closed_at", types.Instant(), nullable=True))
    op.add_column("enrolment", sa.Column("erased_at", types.Instant(), nullable=True))
    _when_it_ended()
    _index("ix_enrolment_kept", "enrolment", "closed_at", "state = 'closed' AND erased_at IS NULL")
    _index("ix_escalation_stranger", "escalation", "phone_key", "enrolment IS NULL")
    _index("ix_inbound_stranger", "inbound", "id", "enrolment IS NULL AND sender IS NOT NULL")


def _when_it_ended() -> None:
    """As the audit says; where it does not, from its last line about the pair on."""
    enrolment = sa.table(
        "enrolment",
        sa.column("id", sa.Uuid()),
        sa.column("state"),
        sa.column("enrolled_at", types.Instant()),
        sa.column("closed_at", types.Instant()),
    )
    event = sa.table(
        "event",
        sa.column("at", types.Instant()),
        sa.column("subject", sa.Uuid()),
        sa.column("what"),
        sa.column("to_state"),
    )
    last = sa.select(sa.func.max(event.c.at)).where(event.c.subject == enrolment.c.id)
    ended = last.where(event.c.what == "enrolment", event.c.to_state == "closed")
    known = sa.func.coalesce(ended.scalar_subquery(), last.scalar_subquery(), enrolment.c.enrolled_at)
    op.execute(sa.update(enrolment).where(enrolment.c.state == "closed").values(closed_at=known))


def _index(name: str, table: str, column: str, where: str) -> None:
    text = sa.text(where)
    op.create_index(name, table, [column], postgresql_where=text, sqlite_where=text)
