"""Speak with any gateway: routes, costs, parts of replies; deaths of mothers, moves between sites."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from bot.store import types

revision = "0002"
down_revision = "0001"

_NEW: tuple[tuple[str, sa.Column[Any]], ...] = (
    ("inbound", sa.Column("part_ref", sa.Text(), nullable=True)),
    ("inbound", sa.Column("part_number", sa.SmallInteger(), nullable=True)),
    ("inbound", sa.Column("part_total", sa.SmallInteger(), nullable=True)),
    ("message", sa.Column("route", sa.Text(), server_default="", nullable=False)),
    ("send_attempt", sa.Column("cost", sa.BigInteger(), nullable=True)),
    ("send_attempt", sa.Column("currency", sa.Text(), nullable=True)),
    ("receipt", sa.Column("failure", sa.SmallInteger(), server_default="0", nullable=False)),
    ("gateway_state", sa.Column("denied", sa.Text(), nullable=True)),
    ("gateway_state", sa.Column("denied_at", types.Instant(), nullable=True)),
)


def upgrade() -> None:
    for table, column in _NEW:
        op.add_column(table, column)
    _due_by_route()
    _failed_elsewhere()
    _mothers()
    _offers()
    _other_phones()


def _due_by_route() -> None:
    op.drop_index("ix_message_due", table_name="message")
    op.create_index(
        "ix_message_due",
        "message",
        ["priority", "route", "send_after", "id"],
        postgresql_where=sa.text("state = 'queued'"),
        sqlite_where=sa.text("state = 'queued'"),
    )


def _failed_elsewhere() -> None:
    op.create_index(
        "ix_message_failed",
        "message",
        ["priority", "route", "send_after", "id"],
        postgresql_where=sa.text("state = 'queued' AND attempts >= 2"),
        sqlite_where=sa.text("state = 'queued' AND attempts >= 2"),
    )


def _mothers() -> None:
    """Said as both engines understand it: to alter a table that others refer to, SQLite would rebuild it."""
    op.execute(
        "ALTER TABLE mother ADD COLUMN state TEXT DEFAULT 'living' NOT NULL"
        " CONSTRAINT ck_mother_state_known CHECK (state IN ('living', 'died'))"
        " CONSTRAINT ck_mother_no_texts_after_death CHECK (state = 'living' OR texting = 'none')"
    )


def _offers() -> None:
    kind = "UUID" if op.get_bind().dialect.name == "postgresql" else "CHAR(32)"
    op.execute(
        f"ALTER TABLE enrolment ADD COLUMN offered_to {kind}"
        " CONSTRAINT fk_enrolment_offered_to REFERENCES site (id)"
    )
    op.create_index(
        "ix_enrolment_offered_to",
        "enrolment",
        ["offered_to"],
        postgresql_where=sa.text("offered_to IS NOT NULL"),
        sqlite_where=sa.text("offered_to IS NOT NULL"),
    )


def _other_phones() -> None:
    """A number is sealed for its table and column, so those of before can't be carried over. They only told
    which number a mother had earlier; the audit still says when it changed."""
    op.create_table(
        "other_phone",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("mother", sa.Uuid(), nullable=False),
        sa.Column("phone", sa.LargeBinary(), nullable=False),
        sa.Column("phone_key", sa.LargeBinary(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("since", types.Instant(), nullable=False),
        sa.CheckConstraint("kind IN ('earlier', 'second_contact')", name=op.f("ck_other_phone_kind_known")),
        sa.ForeignKeyConstraint(["mother"], ["mother.id"], name=op.f("fk_other_phone_mother")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_other_phone")),
    )
    op.create_index("ix_other_phone_phone_key", "other_phone", ["phone_key"])
    op.drop_table("phone_history")
