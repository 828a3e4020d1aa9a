"""The proof of the first promise on a live database: whoever has not exactly one owner, and all that is late.

For operators and tests. What comes out holds ids only, nothing about people.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, Connection, Table, and_, exists, func, select

from bot.core.states import EnrolmentState, EscalationState, InboundState, MessageState
from bot.store import tables as t

LATE_WAKE = timedelta(minutes=10)
LATE_READING = timedelta(minutes=1)
TELL_UNREADABLE = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that is not as it must be: what, which row, and since when."""

    what: str
    table: str
    id: UUID
    since: datetime | None


def audit(conn: Connection, now: datetime, machine_now: datetime) -> list[Fault]:
    """List every fault. `now` is programme time; leases are judged by `machine_now`."""
    checks = (*_owners(), *_late(now), *_stuck(now, machine_now))
    return [
        Fault(what, table.name, found, since)
        for what, table, since_column, wrong in checks
        for found, since in conn.execute(select(table.c.id, since_column).where(wrong).order_by(table.c.id))
    ]


Check = tuple[str, Table, ColumnElement[Any], ColumnElement[bool]]


def _owners() -> Iterator[Check]:
    """Each pair has one owner: an open escalation, else its end, else the schedule with a next look."""
    e, x = t.enrolment.c, t.escalation.c
    closed = e.state == t.fixed(EnrolmentState.closed)
    inbox = (
        select(func.count())
        .where(x.enrolment == e.id, x.state != t.fixed(EscalationState.closed))
        .scalar_subquery()
    )
    aside = e.state.in_([t.fixed(EnrolmentState.away), t.fixed(EnrolmentState.held)])
    yield "nobody looks at this pair again", t.enrolment, e.enrolled_at, and_(~closed, e.wake_at.is_(None))
    yield (
        "this pair was closed without a reason",
        t.enrolment,
        e.enrolled_at,
        and_(closed, e.closed_reason.is_(None)),
    )
    yield "a closed pair still has a timer", t.enrolment, e.wake_at, and_(closed, e.wake_at.is_not(None))
    yield "two escalations of this pair are open", t.enrolment, e.enrolled_at, inbox > 1
    yield (
        "away or held, with no date to look again",
        t.enrolment,
        e.enrolled_at,
        and_(aside, e.look_at.is_(None)),
    )
    no_baby = ~exists().where(t.baby.c.enrolment == e.id)
    yield "this pair has no baby", t.enrolment, e.enrolled_at, no_baby


def _late(now: datetime) -> Iterator[Check]:
    e, x, i = t.enrolment.c, t.escalation.c, t.inbound.c
    followed = e.state != t.fixed(EnrolmentState.closed)
    is_open = x.state != t.fixed(EscalationState.closed)
    overdue = and_(
        is_open, x.spoken_at.is_(None), func.coalesce(x.not_before, x.due_at) < now, x.due_at < now
    )
    unread = and_(i.state == t.fixed(InboundState.stored), i.stored_at < now - LATE_READING)
    yield (
        "nobody looked at this pair in time",
        t.enrolment,
        e.wake_at,
        and_(followed, e.wake_at < now - LATE_WAKE),
    )
    yield "nobody has spoken to this mother in time", t.escalation, x.due_at, overdue
    yield "this reply waits to be read", t.inbound, i.stored_at, unread
    # It names no number, so it can be in nobody's inbox; the operator is told for a week.
    unreadable = and_(
        i.state == t.fixed(InboundState.set_aside),
        i.phone_key.is_(None),
        i.stored_at > now - TELL_UNREADABLE,
    )
    yield "this hook could not be read", t.inbound, i.stored_at, unreadable


def _stuck(now: datetime, machine_now: datetime) -> Iterator[Check]:
    m = t.message.c
    queued = m.state == t.fixed(MessageState.queued)
    sending = m.state == t.fixed(MessageState.sending)
    yield "this text's sender has died", t.message, m.lease_until, and_(sending, m.lease_until < machine_now)
    late = and_(queued, m.expires_at < now - LATE_WAKE)
    yield "this text waits though its time is over", t.message, m.expires_at, late
