"""Counts of what waits, for those who run the service. Numbers only."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import func, select

from bot.core.states import EnrolmentState, EscalationState, InboundState, MessageState, Urgency
from bot.store.engine import Store
from bot.store.tables import enrolment, escalation, inbound, message


def work_waiting(store: Store, now: datetime) -> dict[str, int]:
    """Count, at `now`: open escalations by urgency and those overdue, texts queued and sending, replies
    unread, pairs due to be looked at."""
    is_open = escalation.c.state != EscalationState.closed
    with store.read() as conn:
        by_urgency = dict(
            conn.execute(
                select(escalation.c.urgency, func.count()).where(is_open).group_by(escalation.c.urgency)
            ).all()
        )
        counts = {f"escalation_{level.name}": by_urgency.get(level, 0) for level in Urgency if level}
        overdue = is_open & escalation.c.spoken_at.is_(None) & (escalation.c.due_at < now)
        wanted = {
            "escalation_overdue": (escalation, overdue),
            "message_queued": (message, message.c.state == MessageState.queued),
            "message_sending": (message, message.c.state == MessageState.sending),
            "reply_unread": (inbound, inbound.c.state == InboundState.stored),
            "pair_due": (
                enrolment,
                (enrolment.c.state != EnrolmentState.closed) & (enrolment.c.wake_at <= now),
            ),
        }
        for name, (table, where) in wanted.items():
            counts[name] = conn.scalar(select(func.count()).select_from(table).where(where)) or 0
    return counts
