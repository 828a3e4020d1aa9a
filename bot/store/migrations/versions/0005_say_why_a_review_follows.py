"""Say why a review follows: after a loss of weight, or after low weight for age."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from bot.store import types

revision = "0005"
down_revision = "0004"

_KNOWN = "ck_review_kind_known"
_KINDS = "kind IN ('first', 'feeding_problem', 'weight_loss', 'low_weight', 'follow_up')"


def upgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        op.drop_constraint(op.f(_KNOWN), "review", type_="check")
        op.create_check_constraint(op.f(_KNOWN), "review", _KINDS)
        return
    # SQLite can't change a constraint: the table is made anew and filled. No other table refers to it.
    with op.batch_alter_table("review", copy_from=_review(), recreate="always"):
        pass


def _review() -> sa.Table:
    table = sa.Table(
        "review",
        sa.MetaData(),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.SmallInteger(), nullable=False),
        sa.Column("site", sa.Uuid(), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=False),
        sa.Column("at", sa.Time(), nullable=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("booked_at", types.Instant(), nullable=False),
        sa.Column("note", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint(_KINDS, name=_KNOWN),
        sa.CheckConstraint(
            "state IN ('expected', 'attended', 'missed', 'cancelled')", name="ck_review_state_known"
        ),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name="fk_review_enrolment"),
        sa.ForeignKeyConstraint(["site"], ["site.id"], name="fk_review_site"),
        sa.PrimaryKeyConstraint("id", name="pk_review"),
    )
    sa.Index("ix_review_enrolment", table.c.enrolment)
    sa.Index("ix_review_site_on_day", table.c.site, table.c.on_day)
    sa.Index("uq_review_expected", table.c.enrolment, unique=True, sqlite_where=sa.text("state = 'expected'"))
    return table
