"""The tables and their constraints. A promise that a constraint can express stands here as one."""

from __future__ import annotations

from bot.store.tables._base import fixed, metadata
from bot.store.tables.append_only import keep_rows
from bot.store.tables.care import (
    adverse_event,
    alert,
    answer,
    attempt,
    catch_up,
    chase,
    check_in,
    contact,
    episode,
    escalation,
    event_log,
    finding,
    legal_hold,
    question,
    review,
    triage_run,
)
from bot.store.tables.people import (
    assessment,
    baby,
    closed_day,
    enrolment,
    mother,
    name_token,
    other_phone,
    site,
)
from bot.store.tables.service import (
    api_token,
    api_token_site,
    edition,
    login_attempt,
    pulse,
    report_day,
    setting,
    staff,
    staff_site,
)
from bot.store.tables.texts import gateway_state, inbound, message, reading, receipt, send_attempt

keep_rows(event_log, edition)

__all__ = [
    "adverse_event",
    "legal_hold",
    "catch_up",
    "pulse",
    "metadata",
    "fixed",
    "site",
    "closed_day",
    "mother",
    "other_phone",
    "enrolment",
    "name_token",
    "baby",
    "assessment",
    "contact",
    "check_in",
    "question",
    "answer",
    "triage_run",
    "escalation",
    "finding",
    "episode",
    "alert",
    "chase",
    "attempt",
    "review",
    "event_log",
    "inbound",
    "reading",
    "message",
    "send_attempt",
    "receipt",
    "gateway_state",
    "staff",
    "staff_site",
    "login_attempt",
    "api_token",
    "api_token_site",
    "edition",
    "setting",
    "report_day",
]
