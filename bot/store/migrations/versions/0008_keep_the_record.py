"""Keep the record: adverse events, legal holds, whom to catch up with, and the pulse of the service."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from bot.store import types

revision = "0008"
down_revision = "0006"


def upgrade() -> None:
    _adverse()
    op.create_table(
        "legal_hold",
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("since", types.Instant(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("released_at", types.Instant(), nullable=True),
        sa.Column("released_why", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_legal_hold_enrolment")),
        sa.PrimaryKeyConstraint("enrolment", name=op.f("pk_legal_hold")),
    )
    op.create_table(
        "catch_up",
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("since", types.Instant(), nullable=False),
        sa.Column("seen_at", types.Instant(), nullable=True),
        sa.Column("seen_by", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_catch_up_enrolment")),
        sa.ForeignKeyConstraint(["seen_by"], ["staff.id"], name=op.f("fk_catch_up_seen_by")),
        sa.PrimaryKeyConstraint("enrolment", name=op.f("pk_catch_up")),
    )
    _open("ix_catch_up_open", "catch_up", "since", "seen_at IS NULL")
    op.create_table(
        "pulse",
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("since", types.Instant(), nullable=False),
        sa.Column("until", types.Instant(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("part", "since", name=op.f("pk_pulse")),
    )


def _adverse() -> None:
    op.create_table(
        "adverse_event",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("baby", sa.SmallInteger(), nullable=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("opened_at", types.Instant(), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=True),
        sa.Column("place", sa.LargeBinary(), nullable=True),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("note", sa.LargeBinary(), nullable=True),
        sa.Column("completed_at", types.Instant(), nullable=True),
        sa.Column("completed_by", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_adverse_event_enrolment")),
        sa.ForeignKeyConstraint(["completed_by"], ["staff.id"], name=op.f("fk_adverse_event_completed_by")),
        sa.ForeignKeyConstraint(
            ["enrolment", "baby"],
            ["baby.enrolment", "baby.ordinal"],
            name=op.f("fk_adverse_event_enrolment_baby"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_adverse_event")),
    )
    op.create_index("ix_adverse_event_enrolment", "adverse_event", ["enrolment"])
    _open("ix_adverse_event_open", "adverse_event", "opened_at", "completed_at IS NULL")


def _open(name: str, table: str, column: str, where: str) -> None:
    op.create_index(name, table, [column], postgresql_where=sa.text(where), sqlite_where=sa.text(where))
