"""What became of outgoing texts: outcomes of attempts come in, states and news for the pairs go out.

An outcome is recorded only where the claim it came from still holds. Times named `now` are programme time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import (
    Boolean,
    ColumnElement,
    Connection,
    and_,
    bindparam,
    func,
    or_,
    select,
    update,
)
from sqlalchemy.dialects import postgresql, sqlite

from bot.core.outbox import REPORT_WAIT, Decision, Failure, Priority
from bot.core.states import MessageState
from bot.store.engine import is_postgres
from bot.store.tables import fixed, message, send_attempt
from bot.store.types import Instant

_MILLION = 1_000_000
_QUEUED = message.c.state == fixed(MessageState.queued)


@dataclass(frozen=True, slots=True)
class Recorded:
    """What came of one attempt. `sent_at` is None where the text surely never left; `cost` what it costs if
    this attempt may have left, None where no tariff is known."""

    message: UUID
    attempts: int
    decision: Decision
    sent_at: datetime | None
    cost: tuple[Decimal, str] | None = None


@dataclass(frozen=True, slots=True)
class Final:
    """A message in a final state of which its pair has not been told."""

    message: UUID
    enrolment: UUID
    once_key: str
    state: MessageState
    failure: Failure

    @property
    def permanent(self) -> bool:
        """Whether the network refuses the number for good."""
        return self.failure is Failure.number

    @property
    def opted_out(self) -> bool:
        """Whether the network says that she wants no texts."""
        return self.failure is Failure.opted_out


def record(conn: Connection, gateway: str, token: UUID, results: Sequence[Recorded], now: datetime) -> int:
    """Store what came of attempts, for messages that this claim still holds; give how many those were."""
    held = select(message.c.id).where(
        message.c.claim == token, message.c.id.in_([result.message for result in results])
    )
    ours = frozenset(conn.execute(held.with_for_update()).scalars())
    kept = [result for result in results if result.message in ours]
    if kept:
        conn.execute(_RECORD, [_outcome(result, now) for result in kept])
        _keep_attempts(conn, gateway, kept, now)
    return len(kept)


_RECORD = (
    update(message)
    .where(message.c.id == bindparam("of"))
    .values(
        state=bindparam("after"),
        claim=None,
        lease_until=None,
        send_after=func.coalesce(bindparam("again", type_=Instant), message.c.send_after),
        sent_at=bindparam("left"),
        final_at=bindparam("final"),
        failure=bindparam("why"),
        told=or_(bindparam("quiet", type_=Boolean), message.c.enrolment.is_(None)),
    )
)
_FOR_GOOD = frozenset({MessageState.failed, MessageState.expired})


def _outcome(result: Recorded, now: datetime) -> dict[str, Any]:
    decision = result.decision
    final = decision.state in _FOR_GOOD
    return {
        "of": result.message,
        "after": decision.state,
        "again": decision.send_after,
        "left": result.sent_at,
        "final": now if final else None,
        "why": decision.failure,
        "quiet": not final,
    }


def _keep_attempts(conn: Connection, gateway: str, results: Sequence[Recorded], now: datetime) -> None:
    insert = postgresql.insert if is_postgres(conn) else sqlite.insert
    again = [result.decision.ref for result in results if result.attempts > 1 and result.decision.ref]
    # Where reports go by our own id, an attempt before this one may have that name already.
    known = frozenset(
        conn.scalars(
            select(send_attempt.c.gateway_ref).where(
                send_attempt.c.gateway == gateway, send_attempt.c.gateway_ref.in_(again)
            )
        )
        if again
        else ()
    )
    rows = [
        {
            "message": result.message,
            "n": result.attempts,
            "gateway": gateway,
            "gateway_ref": None if result.decision.ref in known else result.decision.ref,
            "cost": result.cost and int(result.cost[0] * _MILLION),
            "currency": result.cost and result.cost[1],
            "at": now,
            "outcome": result.decision.reason or result.decision.state.value,
        }
        for result in results
    ]
    # A gateway that names two texts alike would otherwise undo the whole batch.
    conn.execute(insert(send_attempt).on_conflict_do_nothing(), rows)


def expire(conn: Connection, now: datetime, limit: int = 500) -> int:
    """End queued messages whose time has run out; give how many."""
    late = and_(_QUEUED, message.c.send_after <= now, message.c.expires_at <= now)
    return sum(
        end_messages(conn, and_(late, message.c.priority == priority), MessageState.expired, now, limit)
        for priority in Priority
    )


def end_messages(
    conn: Connection, which: ColumnElement[bool], state: MessageState, now: datetime, limit: int
) -> int:
    """Move up to `limit` messages to a final state; give how many."""
    ended = select(message.c.id).where(which).limit(limit).with_for_update(skip_locked=True).cte("ended")
    rows = conn.execute(
        update(message)
        .where(message.c.id.in_(select(ended.c.id)))
        .values(state=state, final_at=now, told=message.c.enrolment.is_(None))
        .returning(message.c.id)
    )
    return len(rows.all())


def give_up_reports(conn: Connection, now: datetime, limit: int = 500) -> int:
    """Call `unknown` what the gateway took long ago and never reported on; give how many."""
    silent = and_(message.c.state == fixed(MessageState.accepted), message.c.expires_at <= now - REPORT_WAIT)
    return end_messages(conn, silent, MessageState.unknown, now, limit)


def untold(conn: Connection, limit: int) -> list[Final]:
    """Give messages in a final state of which the pair has not been told, oldest first. Lock the pair, tell
    it, then call `mark_told` in the same transaction."""
    columns = (message.c.id, message.c.enrolment, message.c.once_key, message.c.state, message.c.failure)
    rows = conn.execute(
        select(*columns)
        .where(message.c.told.is_(False))
        .order_by(message.c.final_at, message.c.id)
        .limit(limit)
    )
    return [Final(row.id, row.enrolment, row.once_key, row.state, Failure(row.failure)) for row in rows]


def mark_told(conn: Connection, told: Sequence[Final]) -> None:
    """Note that the pairs know these states. A message whose state changed meanwhile stays untold."""
    if told:
        conn.execute(
            update(message)
            .where(message.c.id == bindparam("of"), message.c.state == bindparam("known"))
            .values(told=True),
            [{"of": each.message, "known": each.state} for each in told],
        )


def counts(conn: Connection) -> dict[MessageState, int]:
    """Give how many messages stand in each state."""
    rows = conn.execute(select(message.c.state, func.count().label("number")).group_by(message.c.state))
    return {row.state: row.number for row in rows}
