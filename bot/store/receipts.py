"""What became of texts after a gateway took them: reports come in, states and news for the pairs go out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Row, and_, bindparam, select, update

from bot.core.outbox import FINAL, after_receipt
from bot.core.states import InboundState, MessageState
from bot.store.tables import fixed, message, receipt, send_attempt

# A report that fits no text of ours by then never will (common practice, no source).
_MATCH_WAIT = timedelta(days=7)
_UNREAD = receipt.c.state == fixed(InboundState.stored)


def apply_reports(conn: Connection, now: datetime, limit: int = 500) -> int:
    """Bring messages to the state that stored reports name; give how many reports were used.

    A report whose text is not known yet stays stored: it may have come before the gateway's answer to us.
    """
    rows = _matched(conn, limit)
    before = {row.message: row.message_state for row in rows}
    after = dict(before)
    failures: dict[UUID, int] = {}
    for row in rows:
        state = after_receipt(after[row.message], MessageState[row.reported])
        if state is not after[row.message]:
            after[row.message], failures[row.message] = state, row.failure
    changed = [row_id for row_id in after if after[row_id] is not before[row_id]]
    if changed:
        conn.execute(_CHANGE, [_changed(row_id, after[row_id], failures[row_id], now) for row_id in changed])
    if rows:
        conn.execute(_USED, [{"of": row.id, "about": row.message} for row in rows])
    return len(rows)


def _matched(conn: Connection, limit: int) -> Sequence[Row[Any]]:
    columns = (
        receipt.c.id,
        receipt.c.reported,
        receipt.c.failure,
        message.c.id.label("message"),
        message.c.state.label("message_state"),
    )
    by_ref = and_(send_attempt.c.gateway == receipt.c.gateway, send_attempt.c.gateway_ref == receipt.c.ref)
    matched = (
        select(*columns)
        .select_from(receipt)
        .join(send_attempt, by_ref)
        .join(message, message.c.id == send_attempt.c.message)
        .where(_UNREAD, message.c.state.not_in((MessageState.queued, MessageState.sending)))
        .order_by(receipt.c.id)
        .limit(limit)
        .with_for_update(of=[receipt, message], skip_locked=True)
    )
    return conn.execute(matched).all()


_CHANGE = (
    update(message)
    .where(message.c.id == bindparam("of"))
    .values(
        state=bindparam("after"),
        final_at=bindparam("final"),
        failure=bindparam("why"),
        told=message.c.enrolment.is_(None),
    )
)
_USED = (
    update(receipt)
    .where(receipt.c.id == bindparam("of"))
    .values(state=InboundState.read, message=bindparam("about"))
)


def _changed(row_id: UUID, state: MessageState, failure: int, now: datetime) -> dict[str, Any]:
    assert state in FINAL  # a report moves an accepted text nowhere else
    return {"of": row_id, "after": state, "final": now, "why": failure}


def set_aside_unmatched(conn: Connection, now: datetime, limit: int = 500) -> int:
    """Give up on reports that fit no text of ours; give how many."""
    old = (
        select(receipt.c.id)
        .where(_UNREAD, receipt.c.stored_at <= now - _MATCH_WAIT)
        .limit(limit)
        .with_for_update(skip_locked=True)
        .cte("old")
    )
    aside = update(receipt).where(receipt.c.id.in_(select(old.c.id))).values(state=InboundState.set_aside)
    return len(conn.execute(aside.returning(receipt.c.id)).all())
