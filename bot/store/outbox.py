"""Queued texts: which are due, who is sending them, and what became of them.

A message is claimed by one statement (state `sending`, a claim token, a lease by the database's clock), and
what came of it is recorded only where the claim still holds. Times named `now` are programme time.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import (
    Boolean,
    ColumnElement,
    Connection,
    Row,
    and_,
    bindparam,
    exists,
    func,
    literal,
    or_,
    select,
    update,
)
from sqlalchemy.dialects import postgresql, sqlite

from bot.core.outbox import Decision, Priority
from bot.core.segments import Segments
from bot.core.states import MessageState
from bot.store.database_time import database_time
from bot.store.engine import is_postgres, sealer_of
from bot.store.tables import enrolment, message, mother, send_attempt
from bot.store.types import Instant

TO, TEXT, VALUES = "message.to", "message.text", "message.text_values"

_QUEUED = message.c.state == MessageState.queued
_SENDING = message.c.state == MessageState.sending


@dataclass(frozen=True, slots=True)
class Claimed:
    """A message in the hands of one sender. `text` is None until it has been rendered; `sent_at` is when it
    may first have left, this attempt included."""

    id: UUID
    to: str
    text: str | None
    text_key: str
    values: Mapping[str, Any]
    language: str
    shared_phone: bool
    priority: Priority
    expires_at: datetime
    attempts: int
    sent_at: datetime


@dataclass(frozen=True, slots=True)
class Recorded:
    """What came of one attempt. `sent_at` is None where the text surely never left."""

    message: UUID
    attempts: int
    decision: Decision
    sent_at: datetime | None


def claim(
    conn: Connection,
    gateway: str,
    *,
    token: UUID,
    now: datetime,
    lease: timedelta,
    limit: int,
    priorities: Iterable[Priority] = tuple(Priority),
) -> list[Claimed]:
    """Take up to `limit` due messages for one sender, the most urgent first, then the longest due."""
    rows: list[Row[Any]] = []
    for priority in priorities:  # each is one range of the index of queued messages
        if len(rows) < limit:
            statement = _claim(gateway, priority, token, now, lease, limit - len(rows))
            rows += conn.execute(statement).all()
    shared = _shared_phones(conn, [row.enrolment for row in rows if row.text is None and row.enrolment])
    claimed = [_opened(conn, row, row.enrolment in shared) for row in rows]
    due = {row.id: (row.priority, row.send_after, row.id) for row in rows}
    return sorted(claimed, key=lambda each: due[each.id])


def _claim(gateway: str, priority: Priority, token: UUID, now: datetime, lease: timedelta, limit: int) -> Any:
    before = message.alias("before")
    waits_for_another = exists().where(
        before.c.id == message.c.after_id,
        before.c.state.in_((MessageState.queued, MessageState.sending)),
    )
    due = (
        select(message.c.id)
        .where(
            _QUEUED,
            message.c.priority == priority,
            message.c.send_after <= now,
            message.c.expires_at > now,
            message.c.gateway == gateway,
            or_(message.c.after_id.is_(None), ~waits_for_another),
        )
        .order_by(message.c.send_after, message.c.id)
        .limit(limit)
        .with_for_update(skip_locked=True)
        .cte("due")  # not a plain subquery: PostgreSQL may run that more than once and pass the limit
    )
    return (
        update(message)
        .where(message.c.id.in_(select(due.c.id)))
        .values(
            state=MessageState.sending,
            claim=token,
            lease_until=database_time(lease),
            attempts=message.c.attempts + 1,
            sent_at=func.coalesce(message.c.sent_at, literal(now, Instant)),
        )
        .returning(message)
    )


def _shared_phones(conn: Connection, enrolments: Sequence[UUID]) -> frozenset[UUID]:
    if not enrolments:
        return frozenset()
    rows = conn.execute(
        select(enrolment.c.id)
        .join(mother, mother.c.id == enrolment.c.mother)
        .where(enrolment.c.id.in_(enrolments), mother.c.phone_shared)
    )
    return frozenset(rows.scalars())


def _opened(conn: Connection, row: Row[Any], shared_phone: bool) -> Claimed:
    sealer = sealer_of(conn)
    rendered = row.text is not None
    return Claimed(
        id=row.id,
        to=sealer.open(row.to, row.id, TO),
        text=sealer.open(row.text, row.id, TEXT) if rendered else None,
        text_key=row.text_key,
        values={} if rendered else json.loads(sealer.open(row.text_values, row.id, VALUES)),
        language=row.language,
        shared_phone=shared_phone,
        priority=Priority(row.priority),
        expires_at=row.expires_at,
        attempts=row.attempts,
        sent_at=row.sent_at,
    )


def keep_texts(conn: Connection, texts: Mapping[UUID, tuple[str, Segments]]) -> None:
    """Store the words of messages rendered just now, with what they cost. They never change again."""
    if not texts:
        return
    sealer = sealer_of(conn)
    conn.execute(
        update(message)
        .where(message.c.id == bindparam("of"))
        .values(text=bindparam("sealed"), encoding=bindparam("alphabet"), segments=bindparam("parts")),
        [
            {
                "of": row_id,
                "sealed": sealer.seal(words, row_id, TEXT),
                "alphabet": counted.encoding,
                "parts": counted.segments,
            }
            for row_id, (words, counted) in texts.items()
        ],
    )


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
    rows = [
        {
            "message": result.message,
            "n": result.attempts,
            "gateway": gateway,
            "gateway_ref": result.decision.ref,
            "at": now,
            "outcome": result.decision.reason or result.decision.state.value,
        }
        for result in results
    ]
    # A gateway that names two texts alike would otherwise undo the whole batch.
    conn.execute(insert(send_attempt).on_conflict_do_nothing(), rows)


def release_lapsed(conn: Connection, limit: int = 500) -> int:
    """Queue again what a sender that died or hung had claimed; the same id goes out. Give how many."""
    lapsed = (
        select(message.c.id)
        .where(_SENDING, message.c.lease_until < database_time())
        .limit(limit)
        .with_for_update(skip_locked=True)
        .cte("lapsed")
    )
    freed = (
        update(message)
        .where(message.c.id.in_(select(lapsed.c.id)))
        .values(state=MessageState.queued, claim=None, lease_until=None)
    )
    return conn.execute(freed).rowcount


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
    return conn.execute(
        update(message)
        .where(message.c.id.in_(select(ended.c.id)))
        .values(state=state, final_at=now, told=message.c.enrolment.is_(None))
    ).rowcount


def counts(conn: Connection) -> dict[MessageState, int]:
    """Give how many messages stand in each state."""
    rows = conn.execute(select(message.c.state, func.count().label("number")).group_by(message.c.state))
    return {row.state: row.number for row in rows}
