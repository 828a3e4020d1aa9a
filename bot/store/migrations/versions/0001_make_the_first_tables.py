"""Make the first tables."""
# ruff: noqa: E501

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from bot.store import types

revision = "0001"
down_revision = None

WRITTEN_ONCE = ("event", "edition")  # tables whose rows are never changed or deleted


def upgrade() -> None:
    op.create_table(
        "api_token",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("hash", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("created_at", types.Instant(), nullable=False),
        sa.Column("revoked_at", types.Instant(), nullable=True),
        sa.CheckConstraint(
            "role IN ('counsellor', 'lead', 'manager', 'admin')", name=op.f("ck_api_token_role_known")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_token")),
        sa.UniqueConstraint("hash", name=op.f("uq_api_token_hash")),
    )
    op.create_table(
        "event",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("at", types.Instant(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("subject", sa.Uuid(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("from_state", sa.Text(), nullable=False),
        sa.Column("to_state", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("data", types.Json, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event")),
    )
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.create_index("ix_event_subject", ["subject", "id"], unique=False)

    op.create_table(
        "gateway_state",
        sa.Column("gateway", sa.Text(), nullable=False),
        sa.Column("next_free_at", types.Instant(), nullable=False),
        sa.Column("open_until", types.Instant(), nullable=True),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("gateway", name=op.f("pk_gateway_state")),
    )
    op.create_table(
        "login_attempt",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("login", sa.Text(), nullable=False),
        sa.Column("at", types.Instant(), nullable=False),
        sa.Column("succeeded", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_login_attempt")),
    )
    with op.batch_alter_table("login_attempt", schema=None) as batch_op:
        batch_op.create_index("ix_login_attempt_login", ["login", "at"], unique=False)

    op.create_table(
        "mother",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.LargeBinary(), nullable=False),
        sa.Column("phone", sa.LargeBinary(), nullable=True),
        sa.Column("phone_key", sa.LargeBinary(), nullable=True),
        sa.Column("language", sa.Text(), nullable=False),
        sa.Column("phone_shared", sa.Boolean(), nullable=False),
        sa.Column("texting", sa.Text(), nullable=False),
        sa.Column("age", sa.SmallInteger(), nullable=True),
        sa.Column("parity", sa.SmallInteger(), nullable=True),
        sa.Column("birth_mode", sa.Text(), nullable=False),
        sa.Column("risks", types.Json, nullable=False),
        sa.CheckConstraint(
            "phone IS NOT NULL OR texting NOT IN ('unverified', 'on')",
            name=op.f("ck_mother_texted_has_phone"),
        ),
        sa.CheckConstraint(
            "texting IN ('unverified', 'on', 'stopped', 'unreachable', 'none')",
            name=op.f("ck_mother_texting_known"),
        ),
        sa.CheckConstraint("(phone IS NULL) = (phone_key IS NULL)", name=op.f("ck_mother_phone_has_key")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mother")),
    )
    with op.batch_alter_table("mother", schema=None) as batch_op:
        batch_op.create_index("ix_mother_phone_key", ["phone_key"], unique=False)

    op.create_table(
        "setting",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("value", types.Json, nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_setting")),
    )
    op.create_table(
        "site",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("region", sa.Text(), nullable=False),
        sa.Column("open_days", types.Json, nullable=False),
        sa.Column("opens", sa.Time(), nullable=False),
        sa.Column("closes", sa.Time(), nullable=False),
        sa.Column("numbers", sa.LargeBinary(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site")),
        sa.UniqueConstraint("code", name=op.f("uq_site_code")),
    )
    op.create_table(
        "staff",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("login", sa.Text(), nullable=False),
        sa.Column("name", sa.LargeBinary(), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("language", sa.Text(), nullable=False),
        sa.Column("session_epoch", sa.Integer(), nullable=False),
        sa.Column("created_at", types.Instant(), nullable=False),
        sa.CheckConstraint(
            "role IN ('counsellor', 'lead', 'manager', 'admin')", name=op.f("ck_staff_role_known")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_staff")),
        sa.UniqueConstraint("login", name=op.f("uq_staff_login")),
    )
    op.create_table(
        "api_token_site",
        sa.Column("token", sa.Uuid(), nullable=False),
        sa.Column("site", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["site"], ["site.id"], name=op.f("fk_api_token_site_site")),
        sa.ForeignKeyConstraint(["token"], ["api_token.id"], name=op.f("fk_api_token_site_token")),
        sa.PrimaryKeyConstraint("token", "site", name=op.f("pk_api_token_site")),
    )
    op.create_table(
        "closed_day",
        sa.Column("site", sa.Uuid(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(["site"], ["site.id"], name=op.f("fk_closed_day_site")),
        sa.PrimaryKeyConstraint("site", "day", name=op.f("pk_closed_day")),
    )
    op.create_table(
        "edition",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("body", types.Json, nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("origin", sa.Text(), nullable=False),
        sa.Column("based_on", sa.Uuid(), nullable=True),
        sa.Column("effective_from", types.Instant(), nullable=False),
        sa.Column("by", sa.Uuid(), nullable=True),
        sa.Column("at", types.Instant(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["based_on"], ["edition.id"], name=op.f("fk_edition_based_on")),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_edition_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_edition")),
        sa.UniqueConstraint("kind", "name", "number", name=op.f("uq_edition_kind_name_number")),
    )
    op.create_table(
        "enrolment",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("mother", sa.Uuid(), nullable=False),
        sa.Column("site", sa.Uuid(), nullable=False),
        sa.Column("external_id", sa.Text(), nullable=False),
        sa.Column("discharged_at", types.Instant(), nullable=False),
        sa.Column("enrolled_at", types.Instant(), nullable=False),
        sa.Column("consent", types.Json, nullable=False),
        sa.Column("consent_taken_by", sa.LargeBinary(), nullable=False),
        sa.Column("preferred_hour", sa.SmallInteger(), nullable=True),
        sa.Column("follow_up_by", sa.Text(), nullable=False),
        sa.Column("schedule", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("closed_reason", sa.Text(), nullable=True),
        sa.Column("wake_at", types.Instant(), nullable=True),
        sa.Column("look_at", types.Instant(), nullable=True),
        sa.Column("plan_stamp", sa.Text(), nullable=False),
        sa.Column("extra", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint(
            "(state = 'closed') = (closed_reason IS NOT NULL)", name=op.f("ck_enrolment_closed_has_reason")
        ),
        sa.CheckConstraint(
            "(state = 'closed') = (wake_at IS NULL)", name=op.f("ck_enrolment_wakes_until_closed")
        ),
        sa.CheckConstraint(
            "follow_up_by IN ('text', 'call', 'visit')", name=op.f("ck_enrolment_follow_up_by_known")
        ),
        sa.CheckConstraint(
            "state IN ('following', 'away', 'held', 'closed')", name=op.f("ck_enrolment_state_known")
        ),
        sa.CheckConstraint(
            "preferred_hour BETWEEN 0 AND 23", name=op.f("ck_enrolment_preferred_hour_of_day")
        ),
        sa.ForeignKeyConstraint(["mother"], ["mother.id"], name=op.f("fk_enrolment_mother")),
        sa.ForeignKeyConstraint(["site"], ["site.id"], name=op.f("fk_enrolment_site")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_enrolment")),
        sa.UniqueConstraint("site", "external_id", name=op.f("uq_enrolment_site_external_id")),
    )
    with op.batch_alter_table("enrolment", schema=None) as batch_op:
        batch_op.create_index("ix_enrolment_mother", ["mother"], unique=False)
        batch_op.create_index(
            "ix_enrolment_plan_stamp",
            ["plan_stamp"],
            unique=False,
            postgresql_where=sa.text("state != 'closed'"),
            sqlite_where=sa.text("state != 'closed'"),
        )
        batch_op.create_index(
            "ix_enrolment_wake",
            ["wake_at"],
            unique=False,
            postgresql_where=sa.text("state != 'closed'"),
            sqlite_where=sa.text("state != 'closed'"),
        )
        batch_op.create_index(
            "uq_enrolment_open_mother",
            ["mother"],
            unique=True,
            postgresql_where=sa.text("state != 'closed'"),
            sqlite_where=sa.text("state != 'closed'"),
        )

    op.create_table(
        "phone_history",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("mother", sa.Uuid(), nullable=False),
        sa.Column("phone", sa.LargeBinary(), nullable=False),
        sa.Column("phone_key", sa.LargeBinary(), nullable=False),
        sa.Column("replaced_at", types.Instant(), nullable=False),
        sa.ForeignKeyConstraint(["mother"], ["mother.id"], name=op.f("fk_phone_history_mother")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_phone_history")),
    )
    with op.batch_alter_table("phone_history", schema=None) as batch_op:
        batch_op.create_index("ix_phone_history_phone_key", ["phone_key"], unique=False)

    op.create_table(
        "report_day",
        sa.Column("site", sa.Uuid(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("language", sa.Text(), nullable=False),
        sa.Column("measure", sa.Text(), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["site"], ["site.id"], name=op.f("fk_report_day_site")),
        sa.PrimaryKeyConstraint("site", "day", "language", "measure", name=op.f("pk_report_day")),
    )
    op.create_table(
        "staff_site",
        sa.Column("staff", sa.Uuid(), nullable=False),
        sa.Column("site", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["site"], ["site.id"], name=op.f("fk_staff_site_site")),
        sa.ForeignKeyConstraint(["staff"], ["staff.id"], name=op.f("fk_staff_site_staff")),
        sa.PrimaryKeyConstraint("staff", "site", name=op.f("pk_staff_site")),
    )
    op.create_table(
        "baby",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("ordinal", sa.SmallInteger(), nullable=False),
        sa.Column("name", sa.LargeBinary(), nullable=False),
        sa.Column("born_on", sa.Date(), nullable=False),
        sa.Column("born_at", types.Instant(), nullable=True),
        sa.Column("sex", sa.Text(), nullable=True),
        sa.Column("birth_weight_g", sa.SmallInteger(), nullable=True),
        sa.Column("gestation_weeks", sa.Float(precision=53), nullable=True),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("feeding_plan", sa.LargeBinary(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.CheckConstraint("state IN ('living', 'died')", name=op.f("ck_baby_state_known")),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_baby_enrolment")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_baby")),
        sa.UniqueConstraint("enrolment", "ordinal", name=op.f("uq_baby_enrolment_ordinal")),
    )
    op.create_table(
        "check_in",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.SmallInteger(), nullable=False),
        sa.Column("contact_key", sa.Text(), nullable=False),
        sa.Column("occurrence", sa.SmallInteger(), nullable=False),
        sa.Column("opened_at", types.Instant(), nullable=False),
        sa.Column("expires_at", types.Instant(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.CheckConstraint(
            "state IN ('open', 'complete', 'expired', 'dropped')", name=op.f("ck_check_in_state_known")
        ),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_check_in_enrolment")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_check_in")),
    )
    with op.batch_alter_table("check_in", schema=None) as batch_op:
        batch_op.create_index("ix_check_in_enrolment", ["enrolment"], unique=False)
        batch_op.create_index(
            "uq_check_in_open",
            ["enrolment"],
            unique=True,
            postgresql_where=sa.text("state = 'open'"),
            sqlite_where=sa.text("state = 'open'"),
        )

    op.create_table(
        "contact",
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("contact_key", sa.Text(), nullable=False),
        sa.Column("occurrence", sa.SmallInteger(), nullable=False),
        sa.Column("seq", sa.SmallInteger(), nullable=False),
        sa.Column("edition", sa.Integer(), nullable=False),
        sa.Column("due_at", types.Instant(), nullable=False),
        sa.Column("outcome", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.CheckConstraint("outcome IN ('texted', 'call', 'skipped')", name=op.f("ck_contact_outcome_known")),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_contact_enrolment")),
        sa.PrimaryKeyConstraint("enrolment", "contact_key", "occurrence", name=op.f("pk_contact")),
    )
    op.create_table(
        "escalation",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=True),
        sa.Column("seq", sa.SmallInteger(), nullable=False),
        sa.Column("phone_key", sa.LargeBinary(), nullable=True),
        sa.Column("site", sa.Uuid(), nullable=True),
        sa.Column("urgency", sa.SmallInteger(), nullable=False),
        sa.Column("raised_at", types.Instant(), nullable=False),
        sa.Column("due_at", types.Instant(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("taken_by", sa.Uuid(), nullable=True),
        sa.Column("taken_at", types.Instant(), nullable=True),
        sa.Column("spoken_at", types.Instant(), nullable=True),
        sa.Column("not_before", types.Instant(), nullable=True),
        sa.Column("closed_at", types.Instant(), nullable=True),
        sa.Column("disposition", sa.Text(), nullable=False),
        sa.Column("note", sa.LargeBinary(), nullable=True),
        sa.CheckConstraint(
            "(state = 'closed') = (closed_at IS NOT NULL)", name=op.f("ck_escalation_closed_has_time")
        ),
        sa.CheckConstraint(
            "state <> 'closed' OR disposition <> ''", name=op.f("ck_escalation_closed_has_disposition")
        ),
        sa.CheckConstraint(
            "state <> 'taken' OR taken_by IS NOT NULL", name=op.f("ck_escalation_taken_by_somebody")
        ),
        sa.CheckConstraint("state IN ('waiting', 'taken', 'closed')", name=op.f("ck_escalation_state_known")),
        sa.CheckConstraint(
            "enrolment IS NOT NULL OR phone_key IS NOT NULL", name=op.f("ck_escalation_about_somebody")
        ),
        sa.CheckConstraint("enrolment IS NULL OR site IS NOT NULL", name=op.f("ck_escalation_pair_has_site")),
        sa.CheckConstraint("urgency BETWEEN 0 AND 3", name=op.f("ck_escalation_urgency_known")),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_escalation_enrolment")),
        sa.ForeignKeyConstraint(["site"], ["site.id"], name=op.f("fk_escalation_site")),
        sa.ForeignKeyConstraint(["taken_by"], ["staff.id"], name=op.f("fk_escalation_taken_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_escalation")),
    )
    with op.batch_alter_table("escalation", schema=None) as batch_op:
        batch_op.create_index("ix_escalation_enrolment", ["enrolment"], unique=False)
        batch_op.create_index(
            "ix_escalation_inbox",
            ["site", "urgency", "due_at"],
            unique=False,
            postgresql_where=sa.text("state != 'closed'"),
            sqlite_where=sa.text("state != 'closed'"),
        )
        batch_op.create_index(
            "uq_escalation_open",
            ["enrolment"],
            unique=True,
            postgresql_where=sa.text("state != 'closed'"),
            sqlite_where=sa.text("state != 'closed'"),
        )
        batch_op.create_index(
            "uq_escalation_open_phone",
            ["phone_key"],
            unique=True,
            postgresql_where=sa.text("state != 'closed' AND enrolment IS NULL"),
            sqlite_where=sa.text("state != 'closed' AND enrolment IS NULL"),
        )

    op.create_table(
        "inbound",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("gateway", sa.Text(), nullable=False),
        sa.Column("external_key", sa.Text(), nullable=True),
        sa.Column("phone_key", sa.LargeBinary(), nullable=True),
        sa.Column("sender", sa.LargeBinary(), nullable=True),
        sa.Column("text", sa.LargeBinary(), nullable=True),
        sa.Column("raw", sa.LargeBinary(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("received_at", types.Instant(), nullable=False),
        sa.Column("stored_at", types.Instant(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=True),
        sa.CheckConstraint("state IN ('stored', 'read', 'set_aside')", name=op.f("ck_inbound_state_known")),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_inbound_enrolment")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inbound")),
        sa.UniqueConstraint("gateway", "external_key", name=op.f("uq_inbound_gateway_external_key")),
    )
    with op.batch_alter_table("inbound", schema=None) as batch_op:
        batch_op.create_index("ix_inbound_enrolment", ["enrolment"], unique=False)
        batch_op.create_index(
            "ix_inbound_unread",
            ["phone_key", "id"],
            unique=False,
            postgresql_where=sa.text("state = 'stored'"),
            sqlite_where=sa.text("state = 'stored'"),
        )

    op.create_table(
        "message",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=True),
        sa.Column("phone_key", sa.LargeBinary(), nullable=False),
        sa.Column("to", sa.LargeBinary(), nullable=False),
        sa.Column("text", sa.LargeBinary(), nullable=True),
        sa.Column("text_key", sa.Text(), nullable=False),
        sa.Column("text_values", sa.LargeBinary(), nullable=False),
        sa.Column("language", sa.Text(), nullable=False),
        sa.Column("priority", sa.SmallInteger(), nullable=False),
        sa.Column("created_at", types.Instant(), nullable=False),
        sa.Column("send_after", types.Instant(), nullable=False),
        sa.Column("expires_at", types.Instant(), nullable=False),
        sa.Column("after_id", sa.Uuid(), nullable=True),
        sa.Column("once_key", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("attempts", sa.SmallInteger(), nullable=False),
        sa.Column("claim", sa.Uuid(), nullable=True),
        sa.Column("lease_until", types.Instant(), nullable=True),
        sa.Column("sent_at", types.Instant(), nullable=True),
        sa.Column("final_at", types.Instant(), nullable=True),
        sa.Column("failure", sa.SmallInteger(), server_default="0", nullable=False),
        sa.Column("told", sa.Boolean(), server_default=sa.true(), nullable=False),
        sa.Column("gateway", sa.Text(), nullable=True),
        sa.Column("encoding", sa.Text(), nullable=True),
        sa.Column("segments", sa.SmallInteger(), nullable=True),
        sa.CheckConstraint(
            "(state = 'sending') = (claim IS NOT NULL)", name=op.f("ck_message_sending_is_claimed")
        ),
        sa.CheckConstraint(
            "state IN ('queued', 'sending', 'accepted', 'delivered', 'undelivered', 'unknown', 'failed', 'expired', 'cancelled')",
            name=op.f("ck_message_state_known"),
        ),
        sa.CheckConstraint(
            "(claim IS NULL) = (lease_until IS NULL)", name=op.f("ck_message_claim_has_lease")
        ),
        sa.CheckConstraint("priority BETWEEN 0 AND 3", name=op.f("ck_message_priority_known")),
        sa.ForeignKeyConstraint(["after_id"], ["message.id"], name=op.f("fk_message_after_id")),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_message_enrolment")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_message")),
        sa.UniqueConstraint("enrolment", "once_key", name=op.f("uq_message_enrolment_once_key")),
    )
    with op.batch_alter_table("message", schema=None) as batch_op:
        batch_op.create_index("ix_message_after_id", ["after_id"], unique=False)
        batch_op.create_index(
            "ix_message_due",
            ["priority", "send_after", "id"],
            unique=False,
            postgresql_where=sa.text("state = 'queued'"),
            sqlite_where=sa.text("state = 'queued'"),
        )
        batch_op.create_index(
            "ix_message_lease",
            ["lease_until"],
            unique=False,
            postgresql_where=sa.text("state = 'sending'"),
            sqlite_where=sa.text("state = 'sending'"),
        )
        batch_op.create_index("ix_message_phone_key", ["phone_key"], unique=False)
        batch_op.create_index(
            "ix_message_unreported",
            ["expires_at"],
            unique=False,
            postgresql_where=sa.text("state = 'accepted'"),
            sqlite_where=sa.text("state = 'accepted'"),
        )
        batch_op.create_index(
            "ix_message_untold",
            ["final_at", "id"],
            unique=False,
            postgresql_where=sa.text("told IS false"),
            sqlite_where=sa.text("told IS 0"),
        )
        batch_op.create_index(
            "uq_message_once_phone",
            ["phone_key", "once_key"],
            unique=True,
            postgresql_where=sa.text("enrolment IS NULL"),
            sqlite_where=sa.text("enrolment IS NULL"),
        )

    op.create_table(
        "name_token",
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("token", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_name_token_enrolment")),
        sa.PrimaryKeyConstraint("enrolment", "token", name=op.f("pk_name_token")),
    )
    with op.batch_alter_table("name_token", schema=None) as batch_op:
        batch_op.create_index("ix_name_token_token", ["token"], unique=False)

    op.create_table(
        "review",
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
        sa.CheckConstraint(
            "kind IN ('first', 'feeding_problem', 'follow_up')", name=op.f("ck_review_kind_known")
        ),
        sa.CheckConstraint(
            "state IN ('expected', 'attended', 'missed', 'cancelled')", name=op.f("ck_review_state_known")
        ),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_review_enrolment")),
        sa.ForeignKeyConstraint(["site"], ["site.id"], name=op.f("fk_review_site")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_review")),
    )
    with op.batch_alter_table("review", schema=None) as batch_op:
        batch_op.create_index("ix_review_enrolment", ["enrolment"], unique=False)
        batch_op.create_index("ix_review_site_on_day", ["site", "on_day"], unique=False)
        batch_op.create_index(
            "uq_review_expected",
            ["enrolment"],
            unique=True,
            postgresql_where=sa.text("state = 'expected'"),
            sqlite_where=sa.text("state = 'expected'"),
        )

    op.create_table(
        "assessment",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.SmallInteger(), nullable=False),
        sa.Column("baby", sa.SmallInteger(), nullable=False),
        sa.Column("at", types.Instant(), nullable=False),
        sa.Column("by", sa.LargeBinary(), nullable=False),
        sa.Column("occasion", sa.Text(), nullable=False),
        sa.Column("signs", types.Json, nullable=False),
        sa.Column("weight_g", sa.SmallInteger(), nullable=True),
        sa.ForeignKeyConstraint(
            ["enrolment", "baby"],
            ["baby.enrolment", "baby.ordinal"],
            name=op.f("fk_assessment_enrolment_baby"),
        ),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_assessment_enrolment")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_assessment")),
    )
    with op.batch_alter_table("assessment", schema=None) as batch_op:
        batch_op.create_index("ix_assessment_enrolment", ["enrolment"], unique=False)

    op.create_table(
        "finding",
        sa.Column("escalation", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.SmallInteger(), nullable=False),
        sa.Column("rule", sa.Text(), nullable=False),
        sa.Column("baby", sa.SmallInteger(), nullable=True),
        sa.Column("urgency", sa.SmallInteger(), nullable=False),
        sa.Column("first_at", types.Instant(), nullable=False),
        sa.Column("last_at", types.Instant(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("inbound", sa.Uuid(), nullable=True),
        sa.Column("detail", sa.LargeBinary(), nullable=False),
        sa.Column("withdrawn_by", sa.Uuid(), nullable=True),
        sa.CheckConstraint("urgency BETWEEN 0 AND 3", name=op.f("ck_finding_urgency_known")),
        sa.ForeignKeyConstraint(["escalation"], ["escalation.id"], name=op.f("fk_finding_escalation")),
        sa.ForeignKeyConstraint(["inbound"], ["inbound.id"], name=op.f("fk_finding_inbound")),
        sa.ForeignKeyConstraint(["withdrawn_by"], ["staff.id"], name=op.f("fk_finding_withdrawn_by")),
        sa.PrimaryKeyConstraint("escalation", "seq", name=op.f("pk_finding")),
    )
    op.create_table(
        "question",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("check_in", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.SmallInteger(), nullable=False),
        sa.Column("position", sa.SmallInteger(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("baby", sa.SmallInteger(), nullable=True),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("asked_at", types.Instant(), nullable=True),
        sa.Column("asked_again_at", types.Instant(), nullable=True),
        sa.Column("phone_key", sa.LargeBinary(), nullable=True),
        sa.Column("message", sa.Uuid(), nullable=True),
        sa.CheckConstraint(
            "state IN ('waiting', 'asked', 'asked_again', 'answered', 'to_person', 'expired', 'dropped')",
            name=op.f("ck_question_state_known"),
        ),
        sa.ForeignKeyConstraint(["check_in"], ["check_in.id"], name=op.f("fk_question_check_in")),
        sa.ForeignKeyConstraint(
            ["enrolment", "baby"], ["baby.enrolment", "baby.ordinal"], name=op.f("fk_question_enrolment_baby")
        ),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_question_enrolment")),
        sa.ForeignKeyConstraint(["message"], ["message.id"], name=op.f("fk_question_message")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_question")),
    )
    with op.batch_alter_table("question", schema=None) as batch_op:
        batch_op.create_index("ix_question_enrolment", ["enrolment"], unique=False)
        batch_op.create_index("ix_question_message", ["message"], unique=False)
        batch_op.create_index(
            "uq_question_asked",
            ["phone_key"],
            unique=True,
            postgresql_where=sa.text("state IN ('asked', 'asked_again')"),
            sqlite_where=sa.text("state IN ('asked', 'asked_again')"),
        )

    op.create_table(
        "reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("inbound", sa.Uuid(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("at", types.Instant(), nullable=False),
        sa.Column("edition", sa.Integer(), nullable=False),
        sa.Column("intent", sa.Text(), nullable=False),
        sa.Column("result", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["inbound"], ["inbound.id"], name=op.f("fk_reading_inbound")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
    )
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.create_index("ix_reading_inbound", ["inbound"], unique=False)

    op.create_table(
        "receipt",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("gateway", sa.Text(), nullable=False),
        sa.Column("dedupe_key", sa.Text(), nullable=False),
        sa.Column("ref", sa.Text(), nullable=False),
        sa.Column("reported", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("raw", sa.LargeBinary(), nullable=False),
        sa.Column("stored_at", types.Instant(), nullable=False),
        sa.Column("message", sa.Uuid(), nullable=True),
        sa.CheckConstraint("state IN ('stored', 'read', 'set_aside')", name=op.f("ck_receipt_state_known")),
        sa.ForeignKeyConstraint(["message"], ["message.id"], name=op.f("fk_receipt_message")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_receipt")),
        sa.UniqueConstraint("gateway", "dedupe_key", name=op.f("uq_receipt_gateway_dedupe_key")),
    )
    with op.batch_alter_table("receipt", schema=None) as batch_op:
        batch_op.create_index("ix_receipt_message", ["message"], unique=False)
        batch_op.create_index(
            "ix_receipt_unmatched",
            ["id"],
            unique=False,
            postgresql_where=sa.text("state = 'stored'"),
            sqlite_where=sa.text("state = 'stored'"),
        )

    op.create_table(
        "send_attempt",
        sa.Column("message", sa.Uuid(), nullable=False),
        sa.Column("n", sa.SmallInteger(), nullable=False),
        sa.Column("gateway", sa.Text(), nullable=False),
        sa.Column("gateway_ref", sa.Text(), nullable=True),
        sa.Column("at", types.Instant(), nullable=False),
        sa.Column("outcome", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["message"], ["message.id"], name=op.f("fk_send_attempt_message")),
        sa.PrimaryKeyConstraint("message", "n", name=op.f("pk_send_attempt")),
        sa.UniqueConstraint("gateway", "gateway_ref", name=op.f("uq_send_attempt_gateway_gateway_ref")),
    )
    op.create_table(
        "triage_run",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("baby", sa.SmallInteger(), nullable=True),
        sa.Column("at", types.Instant(), nullable=False),
        sa.Column("facts", types.Json, nullable=False),
        sa.Column("rules_edition", sa.Integer(), nullable=False),
        sa.Column("program", sa.Text(), nullable=False),
        sa.Column("fired", types.Json, nullable=False),
        sa.Column("just_inside", types.Json, nullable=False),
        sa.Column("urgency", sa.SmallInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["enrolment", "baby"],
            ["baby.enrolment", "baby.ordinal"],
            name=op.f("fk_triage_run_enrolment_baby"),
        ),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_triage_run_enrolment")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_triage_run")),
    )
    with op.batch_alter_table("triage_run", schema=None) as batch_op:
        batch_op.create_index("ix_triage_run_enrolment", ["enrolment"], unique=False)

    op.create_table(
        "answer",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("enrolment", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.SmallInteger(), nullable=False),
        sa.Column("question", sa.Uuid(), nullable=True),
        sa.Column("baby", sa.SmallInteger(), nullable=True),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("low", sa.Float(precision=53), nullable=True),
        sa.Column("high", sa.Float(precision=53), nullable=True),
        sa.Column("at", types.Instant(), nullable=False),
        sa.Column("inbound", sa.Uuid(), nullable=True),
        sa.Column("by", sa.Uuid(), nullable=True),
        sa.Column("superseded_by", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["by"], ["staff.id"], name=op.f("fk_answer_by")),
        sa.ForeignKeyConstraint(
            ["enrolment", "baby"], ["baby.enrolment", "baby.ordinal"], name=op.f("fk_answer_enrolment_baby")
        ),
        sa.ForeignKeyConstraint(["enrolment"], ["enrolment.id"], name=op.f("fk_answer_enrolment")),
        sa.ForeignKeyConstraint(["inbound"], ["inbound.id"], name=op.f("fk_answer_inbound")),
        sa.ForeignKeyConstraint(["question"], ["question.id"], name=op.f("fk_answer_question")),
        sa.ForeignKeyConstraint(
            ["superseded_by"],
            ["answer.id"],
            name=op.f("fk_answer_superseded_by"),
            initially="DEFERRED",
            deferrable=True,
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_answer")),
    )
    with op.batch_alter_table("answer", schema=None) as batch_op:
        batch_op.create_index("ix_answer_enrolment", ["enrolment"], unique=False)
    for table in WRITTEN_ONCE:
        _refuse_changes(table)


def _refuse_changes(table: str) -> None:
    if op.get_context().dialect.name == "postgresql":
        op.execute(
            """
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN
  RAISE EXCEPTION 'rows of % are written once', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$
"""
        )
        op.execute(
            f"""
CREATE TRIGGER tr_{table}_written_once BEFORE UPDATE OR DELETE ON {table}
FOR EACH ROW EXECUTE FUNCTION refuse_change()
"""
        )
        return
    for change in ("UPDATE", "DELETE"):
        op.execute(
            f"""
CREATE TRIGGER tr_{table}_no_{change} BEFORE {change} ON {table}
BEGIN SELECT RAISE(ABORT, 'rows of {table} are written once'); END
"""
        )
