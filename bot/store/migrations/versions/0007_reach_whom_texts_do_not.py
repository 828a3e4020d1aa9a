"""Reach whom texts do not: who is looked for and why, each try, and since when nothing is delivered."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from bot.store import types

revision = "0007"
down_revision = "0003"

_STATES = "'trying', 'given_up', 'reached', 'unresolved', 'dropped'"


def upgrade() -> None:
    op.add_column("enrolment", sa.Column("undelivered_since", types.Instant(), nullable=True))
    _chases()
    _attempts()


def _chases() -> None:
    op.create_table(
        "chase",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.SmallInteger(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("ground", sa.Text(), nullable=False),
        sa.Column("opened_at", types.Instant(), nullable=False),
        sa.Column("look_at", types.Instant(), nullable=True),
        sa.Column("given_up_by", sa.Uuid(), nullable=True),
        sa.Column("given_up_at", types.Instant(), nullable=True),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("closed_at", types.Instant(), nullable=True),
        sa.Column("closed_by", sa.Uuid(), nullable=True),
        sa.CheckConstraint(f"state IN ({_STATES})", name=op.f("ck_chase_state_known")),
        sa.CheckConstraint(
            "(state IN ('trying', 'given_up')) = (closed_at IS NULL)", name=op.f("ck_chase_closed_has_time")
        ),
        sa.CheckConstraint(
            "(state IN ('trying', 'given_up')) = (look_at IS NOT NULL)",
            name=op.f("ck_chase_looked_at_until_closed"),
        ),
        sa.CheckConstraint(
            "state NOT IN ('given_up', 'unresolved') OR (given_up_by IS NOT NULL AND why <> '')",
            name=op.f("ck_chase_given_up_by_a_person"),
        ),
        sa.CheckConstraint(
            "state <> 'unresolved' OR (closed_by IS NOT NULL AND closed_by <> given_up_by)",
            name=op.f("ck_chase_unresolved_by_two_people"),
        ),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_chase_enrolment")),
        sa.ForeignKeyConstraint(["given_up_by"], ["staff.id"], name=op.f("fk_chase_given_up_by")),
        sa.ForeignKeyConstraint(["closed_by"], ["staff.id"], name=op.f("fk_chase_closed_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_chase")),
    )
    op.create_index("ix_chase_enrolment", "chase", ["enrolment"])
    _one("uq_chase_open", "chase", "state IN ('trying', 'given_up')")


def _attempts() -> None:
    op.create_table(
        "attempt",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.SmallInteger(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("result", sa.Text(), nullable=False),
        sa.Column("at", types.Instant(), nullable=False),
        sa.Column("by", sa.Uuid(), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=True),
        sa.Column("who", sa.LargeBinary(), nullable=False),
        sa.Column("done_at", types.Instant(), nullable=True),
        sa.CheckConstraint("kind IN ('call', 'second_contact', 'visit')", name=op.f("ck_attempt_kind_known")),
        sa.CheckConstraint("kind = 'visit' OR result <> ''", name=op.f("ck_attempt_call_has_result")),
        sa.CheckConstraint("(kind = 'visit') = (on_day IS NOT NULL)", name=op.f("ck_attempt_visit_has_day")),
        sa.CheckConstraint(
            "kind <> 'visit' OR (result = '') = (done_at IS NULL)",
            name=op.f("ck_attempt_visit_done_has_result"),
        ),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_attempt_enrolment")),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_attempt_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_attempt")),
    )
    op.create_index("ix_attempt_enrolment", "attempt", ["enrolment"])
    _one("uq_attempt_planned", "attempt", "result = ''")


def _one(name: str, table: str, where: str) -> None:
    text = sa.text(where)
    op.create_index(name, table, ["enrolment"], unique=True, postgresql_where=text, sqlite_where=text)
