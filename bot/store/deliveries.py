"""What became of texts after a gateway took them: reports come in, states and news for the pairs go out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Row, and_, bindparam, select, update

from bot.core.outbox import FINAL, REPORT_WAIT, Failure, after_receipt
from bot.core.states import InboundState, MessageState
from bot.store.outbox import end_messages
from bot.store.tables import message, receipt, send_attempt

# A report that fits no text of ours by then never will (common practice, no source).
_MATCH_WAIT = timedelta(days=7)
_UNREAD = receipt.c.state == InboundState.stored


@dataclass(frozen=True, slots=True)
class Untold:
    """A message in a final state of which its pair has not been told."""

    message: UUID
    enrolment: UUID
    once_key: str
    state: MessageState
    failure: Failure


def apply_reports(conn: Connection, now: datetime, limit: int = 500) -> int:
    """Bring messages to the state that stored reports name; give how many reports were used.

    A report whose text is not known yet stays stored: it may have come before the gateway's answer to us.
    """
    rows = _matched(conn, limit)
    before = {row.message: row.message_state for row in rows}
    after = dict(before)
    for row in rows:
        after[row.message] = after_receipt(after[row.message], MessageState[row.reported])
    changed = [row_id for row_id in after if after[row_id] is not before[row_id]]
    if changed:
        conn.execute(_CHANGE, [_changed(row_id, after[row_id], now) for row_id in changed])
    if rows:
        conn.execute(_USED, [{"of": row.id, "about": row.message} for row in rows])
    return len(rows)


def _matched(conn: Connection, limit: int) -> Sequence[Row[Any]]:
    columns = (
        receipt.c.id,
        receipt.c.reported,
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
        told=message.c.enrolment.is_(None),
    )
)
_USED = (
    update(receipt)
    .where(receipt.c.id == bindparam("of"))
    .values(state=InboundState.read, message=bindparam("about"))
)


def _changed(row_id: UUID, state: MessageState, now: datetime) -> dict[str, Any]:
    assert state in FINAL  # a report moves an accepted text nowhere else
    return {"of": row_id, "after": state, "final": now}


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
    return conn.execute(aside).rowcount


def give_up_reports(conn: Connection, now: datetime, limit: int = 500) -> int:
    """Call `unknown` what the gateway took long ago and never reported on; give how many."""
    silent = and_(message.c.state == MessageState.accepted, message.c.expires_at <= now - REPORT_WAIT)
    return end_messages(conn, silent, MessageState.unknown, now, limit)


def untold(conn: Connection, limit: int) -> list[Untold]:
    """Give messages in a final state of which the pair has not been told, oldest first. Lock the pair, tell
    it, then call `mark_told` in the same transaction."""
    columns = (message.c.id, message.c.enrolment, message.c.once_key, message.c.state, message.c.failure)
    rows = conn.execute(
        select(*columns)
        .where(message.c.told.is_(False))
        .order_by(message.c.final_at, message.c.id)
        .limit(limit)
    )
    return [Untold(row.id, row.enrolment, row.once_key, row.state, Failure(row.failure)) for row in rows]


def mark_told(conn: Connection, told: Sequence[Untold]) -> None:
    """Note that the pairs know these states. A message whose state changed meanwhile stays untold."""
    if told:
        conn.execute(
            update(message)
            .where(message.c.id == bindparam("of"), message.c.state == bindparam("known"))
            .values(told=True),
            [{"of": each.message, "known": each.state} for each in told],
        )
