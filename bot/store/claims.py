"""Which queued texts are due, and in whose hands they are.

One statement claims a batch: state `sending`, a claim token, a lease by the database's clock. What is still
claimed when its lease is over is queued again. Times named `now` are programme time.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import MappingProxyType
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Row, bindparam, func, literal, literal_column, or_, select, update

from bot.core.outbox import Priority
from bot.core.routing import EVERYWHERE
from bot.core.segments import Segments
from bot.core.states import MessageState
from bot.store.database_time import database_time
from bot.store.engine import sealer_of
from bot.store.rows import from_json
from bot.store.tables import enrolment, fixed, message, mother
from bot.store.types import Instant

TO, TEXT, VALUES = "message.to", "message.text", "message.text_values"

_QUEUED = message.c.state == fixed(MessageState.queued)
_SENDING = message.c.state == fixed(MessageState.sending)
_STILL_TO_GO = (MessageState.queued, MessageState.sending)


@dataclass(frozen=True, slots=True)
class Claimed:
    """A message in the hands of one sender. `text` is None until it has been rendered, `segments` until it
    was made sendable and counted. `sent_at` is when it may first have left, this attempt included."""

    id: UUID
    to: str
    text: str | None
    segments: int | None
    text_key: str
    values: Mapping[str, Any]
    language: str
    shared_phone: bool
    priority: Priority
    expires_at: datetime
    attempts: int
    sent_at: datetime


def claim(
    conn: Connection,
    gateway: str,
    *,
    token: UUID,
    now: datetime,
    lease: timedelta,
    limit: int,
    priorities: Iterable[Priority] = tuple(Priority),
    routes: Mapping[str, int] = MappingProxyType({EVERYWHERE: 0}),
) -> list[Claimed]:
    """Take up to `limit` due messages for one sender, the most urgent first, then the longest due.

    routes  names of the routes to take from, each with how often a message must have been tried before
    """
    rows: list[Row[Any]] = []
    ways = [(priority, route) for priority in priorities for route in routes]
    for priority, route in ways:  # each is one range of the index of queued messages
        if len(rows) < limit:
            most = limit - len(rows)
            statement = _claim(gateway, priority, route, routes[route], token, now, lease, most)
            rows += conn.execute(statement).all()
    shared = _shared_phones(conn, [row.enrolment for row in rows if row.text is None and row.enrolment])
    claimed = [_opened(conn, row, row.enrolment in shared) for row in rows]
    due = {row.id: (row.priority, row.send_after, row.id) for row in rows}
    return sorted(claimed, key=lambda each: due[each.id])


def _claim(
    gateway: str,
    priority: Priority,
    route: str,
    tried: int,
    token: UUID,
    now: datetime,
    lease: timedelta,
    limit: int,
) -> Any:
    before = message.alias("before")
    # The state is asked for, not whether such a row exists: PostgreSQL answers an EXISTS after an OR by
    # reading every message there is into a hash table, as long as that fits into memory.
    state_before = select(before.c.state).where(before.c.id == message.c.after_id).scalar_subquery()
    due = (
        select(message.c.id)
        .where(
            _QUEUED,
            message.c.priority == priority,
            message.c.route == route,
            message.c.attempts >= literal_column(str(int(tried))),  # as the partial index says it
            message.c.send_after <= now,
            message.c.expires_at > now,
            or_(message.c.after_id.is_(None), state_before.not_in(_STILL_TO_GO)),
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
            gateway=gateway,
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
        segments=row.segments if rendered else None,
        text_key=row.text_key,
        values={} if rendered else from_json(sealer.open(row.text_values, row.id, VALUES)),
        language=row.language,
        shared_phone=shared_phone,
        priority=Priority(row.priority),
        expires_at=row.expires_at,
        attempts=row.attempts,
        sent_at=row.sent_at,
    )


def keep_texts(conn: Connection, texts: Mapping[UUID, tuple[str, Segments]]) -> None:
    """Store the words of messages made ready just now, with what they cost. They never change again."""
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


def put_back(conn: Connection, token: UUID, untried: Sequence[Claimed], now: datetime) -> None:
    """Queue again what this claim took, at `now`, and never posted, as if it had not been claimed."""
    if untried:
        conn.execute(
            update(message)
            .where(message.c.claim == token, message.c.id.in_([each.id for each in untried]))
            .values(
                state=MessageState.queued,
                claim=None,
                lease_until=None,
                attempts=message.c.attempts - 1,
                sent_at=func.nullif(message.c.sent_at, literal(now, Instant)),
            )
        )


def adopt_strays(conn: Connection, routes: Iterable[str]) -> int:
    """Send by the common route what waits for one that the configuration has no longer; give how many."""
    stray = update(message).where(_QUEUED, message.c.route.not_in(list(routes))).values(route=EVERYWHERE)
    return conn.execute(stray).rowcount


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
    return len(conn.execute(freed.returning(message.c.id)).all())  # no row count of a CTE on SQLite
