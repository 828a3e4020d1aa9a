"""Items of the inbox about numbers that belong to no pair: a danger from anybody is heard."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from uuid import UUID

from sqlalchemy import Connection, insert, select, update

from bot.core.ids import derived_id
from bot.core.states import EscalationState, Urgency
from bot.store import tables as t
from bot.store.engine import sealer_of


def raise_stranger(
    conn: Connection,
    phone_key: bytes,
    rule: str,
    urgency: Urgency,
    due: Mapping[Urgency, timedelta],
    inbound: UUID,
    now: datetime,
) -> None:
    """Open an item for this number, or count the reply to the one that is open."""
    e, f = t.escalation, t.finding
    standing = conn.scalar(
        select(e.c.id)
        .where(e.c.phone_key == phone_key, e.c.enrolment.is_(None))
        .where(e.c.state != t.fixed(EscalationState.closed))
        .with_for_update()
    )
    if standing is not None:
        conn.execute(
            update(f)
            .where(f.c.escalation == standing, f.c.rule == rule)
            .values(last_at=now, count=f.c.count + 1, inbound=inbound)
        )
        return
    made = derived_id(now, phone_key.hex(), "escalation")
    sealer = sealer_of(conn)
    conn.execute(
        insert(e).values(
            id=made,
            enrolment=None,
            seq=0,
            phone_key=phone_key,
            site=None,
            urgency=urgency,
            raised_at=now,
            due_at=now + due[urgency],
            state=EscalationState.waiting,
            disposition="",
        )
    )
    conn.execute(
        insert(f).values(
            escalation=made,
            seq=0,
            rule=rule,
            baby=None,
            urgency=urgency,
            first_at=now,
            last_at=now,
            count=1,
            inbound=inbound,
            detail=sealer.seal("", made, "finding.detail"),
        )
    )
