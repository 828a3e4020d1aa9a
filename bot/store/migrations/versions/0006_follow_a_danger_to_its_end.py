"""Follow a danger to its end: episodes, alerts, cover, whom to wake and other places of each site."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from bot.store import types

revision = "0006"
down_revision = "0005"

_STATES = "'told', 'delivered', 'on_the_way', 'cannot', 'doubts', 'arrived', 'closed'"


def upgrade() -> None:
    op.add_column("site", sa.Column("cover", types.Json, server_default="[]", nullable=False))
    op.add_column("site", sa.Column("on_call", sa.LargeBinary(), nullable=True))
    op.add_column("site", sa.Column("places", sa.LargeBinary(), nullable=True))
    _offered()
    _episodes()
    _alerts()


def _offered() -> None:
    """Said as both engines understand it: to alter a table that others refer to, SQLite would rebuild it."""
    kind = "UUID" if op.get_bind().dialect.name == "postgresql" else "CHAR(32)"
    op.execute(
        f"ALTER TABLE escalation ADD COLUMN offered_to {kind}"
        " CONSTRAINT fk_escalation_offered_to REFERENCES staff (id)"
    )


def _episodes() -> None:
    op.create_table(
        "episode",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.SmallInteger(), nullable=False),
        sa.Column("escalation", sa.Uuid(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("opened_at", types.Instant(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("grounds", types.WordSet(), nullable=False),
        sa.Column("told_key", sa.Text(), nullable=False),
        sa.Column("told_at", types.Instant(), nullable=True),
        sa.Column("delivered_at", types.Instant(), nullable=True),
        sa.Column("answered_at", types.Instant(), nullable=True),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("arrived_at", types.Instant(), nullable=True),
        sa.Column("checks", sa.SmallInteger(), nullable=False),
        sa.Column("look_at", types.Instant(), nullable=True),
        sa.Column("closed_at", types.Instant(), nullable=True),
        sa.Column("outcome", sa.Text(), nullable=False),
        sa.Column("closed_by", sa.Uuid(), nullable=True),
        sa.CheckConstraint(f"state IN ({_STATES})", name=op.f("ck_episode_state_known")),
        sa.CheckConstraint(
            "(state = 'closed') = (closed_at IS NOT NULL)", name=op.f("ck_episode_closed_has_time")
        ),
        sa.CheckConstraint(
            "(state = 'closed') = (outcome <> '')", name=op.f("ck_episode_closed_has_outcome")
        ),
        sa.CheckConstraint(
            "(state = 'closed') = (closed_by IS NOT NULL)", name=op.f("ck_episode_closed_by_a_person")
        ),
        sa.CheckConstraint(
            "(state = 'closed') = (look_at IS NULL)", name=op.f("ck_episode_looked_at_until_closed")
        ),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_episode_enrolment")),
        sa.ForeignKeyConstraint(["escalation"], ["escalation.id"], name=op.f("fk_episode_escalation")),
        sa.ForeignKeyConstraint(["closed_by"], ["staff.id"], name=op.f("fk_episode_closed_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_episode")),
    )
    op.create_index("ix_episode_enrolment", "episode", ["enrolment"])
    op.create_index(
        "uq_episode_open",
        "episode",
        ["enrolment"],
        unique=True,
        postgresql_where=sa.text("state != 'closed'"),
        sqlite_where=sa.text("state != 'closed'"),
    )


def _alerts() -> None:
    op.create_table(
        "alert",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("escalation", sa.Uuid(), nullable=False),
        sa.Column("step", sa.SmallInteger(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("who", sa.LargeBinary(), nullable=False),
        sa.Column("message", sa.Uuid(), nullable=False),
        sa.Column("made_at", types.Instant(), nullable=False),
        sa.Column("heeded_at", types.Instant(), nullable=True),
        sa.Column("heeded_how", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["escalation"], ["escalation.id"], name=op.f("fk_alert_escalation")),
        sa.ForeignKeyConstraint(["message"], ["message.id"], name=op.f("fk_alert_message")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alert")),
    )
    op.create_index("ix_alert_message", "alert", ["message"])
    op.create_index("ix_alert_escalation", "alert", ["escalation"])
