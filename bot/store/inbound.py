"""Replies that wait to be read: by phone, in the order in which the gateway received them."""

from __future__ import annotations

import logging
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, Connection, Row, bindparam, func, or_, select, update

from bot.core.states import InboundState
from bot.seal import SealBroken, Sealer
from bot.store.engine import sealer_of
from bot.store.tables import fixed, inbound

log = logging.getLogger(__name__)

_STORED = inbound.c.state == fixed(InboundState.stored)


# So long the parts of a long reply are waited for; then what is there is read, for it may name a danger.
# Common practice, no source.
PARTS_WAIT = timedelta(seconds=45)


class Kind(StrEnum):
    """What a hook brought."""

    reply = "reply"
    missed_call = "missed_call"
    no_number = "no_number"  # a text from a name or a short code: nobody there can be a mother
    unreadable = "unreadable"


@dataclass(frozen=True, slots=True)
class Unread:
    """A reply nobody has read, the parts of a long one joined. `sender` is E.164, or what the gateway gave if
    that is no number. `text` is None if it can't be opened: a person must look. `others` are the rows of the
    other parts."""

    id: UUID
    kind: Kind
    gateway: str
    phone_key: bytes
    sender: str | None
    text: str | None
    received_at: datetime
    stored_at: datetime
    others: tuple[UUID, ...] = ()


def unread(conn: Connection, now: datetime, limit: int) -> dict[bytes, list[Unread]]:
    """Lock and give up to `limit` unread replies by phone, the longest waiting phone first, each phone's in
    the order received. Phones of which another worker holds an earlier reply are left to that one; so are
    parts of a long reply while others of it may still come."""
    in_order = inbound.c.received_at, inbound.c.id
    ready = or_(inbound.c.part_ref.is_(None), inbound.c.stored_at <= now - PARTS_WAIT, _all_parts_there())
    rows = conn.execute(
        select(inbound)
        .where(_STORED, ready)
        .order_by(*in_order)
        .limit(limit)
        .with_for_update(skip_locked=True)
    ).all()
    ours = {row.id for row in rows}
    by_phone: dict[bytes, list[Unread]] = {}
    for reply in _joined(sealer_of(conn), rows):
        by_phone.setdefault(reply.phone_key, []).append(reply)
    waiting = conn.execute(
        select(inbound.c.phone_key, inbound.c.id)
        .where(_STORED, ready, inbound.c.phone_key.in_(by_phone))
        .order_by(*in_order)
    )
    seen: set[bytes] = set()
    for phone_key, row_id in waiting:
        assert phone_key is not None  # `IN` above
        if phone_key not in seen and row_id not in ours:
            by_phone.pop(phone_key)
        seen.add(phone_key)
    return by_phone


def _all_parts_there() -> ColumnElement[bool]:
    other = inbound.alias("other")
    there = (
        select(func.count())
        .where(
            other.c.state == fixed(InboundState.stored),
            other.c.phone_key == inbound.c.phone_key,
            other.c.gateway == inbound.c.gateway,
            other.c.part_ref == inbound.c.part_ref,
        )
        .scalar_subquery()
    )
    return there >= inbound.c.part_total


def _joined(sealer: Sealer, rows: Sequence[Row[Any]]) -> list[Unread]:
    """Open the rows; the parts of one long reply become one, where the first of them stands."""
    groups: dict[object, list[Row[Any]]] = defaultdict(list)
    for row in rows:
        parts = (row.gateway, row.phone_key, row.part_ref) if row.part_ref is not None else row.id
        groups[parts].append(row)
    found = []
    for group in groups.values():
        in_order = sorted(group, key=lambda row: row.part_number or 0)
        parts = [_opened(sealer, row) for row in in_order]
        if len(parts) == 1:
            found += parts
            continue
        texts = [part.text for part in parts if part.text is not None]
        whole = "".join(texts) if len(texts) == len(parts) else None
        others = tuple(part.id for part in parts[1:])
        found.append(replace(parts[0], text=whole, others=others))
    return found


def mark_read(conn: Connection, read: Mapping[UUID, UUID | None]) -> None:
    """Note that replies (id -> enrolment they belong to, if one alone) were read."""
    _mark(conn, read, InboundState.read)


def set_aside(conn: Connection, aside: Mapping[UUID, UUID | None]) -> None:
    """Note that the program could not read these replies; a person must be told in the same transaction."""
    _mark(conn, aside, InboundState.set_aside)


def _mark(conn: Connection, replies: Mapping[UUID, UUID | None], state: InboundState) -> None:
    if replies:
        conn.execute(
            update(inbound)
            .where(inbound.c.id == bindparam("of"))
            .values(state=state, enrolment=bindparam("whose")),
            [{"of": row_id, "whose": whose} for row_id, whose in replies.items()],
        )


def _opened(sealer: Sealer, row: Row[Any]) -> Unread:
    sender: str | None = None
    text: str | None = None
    try:
        sender = sealer.open(row.sender, row.id, "inbound.sender")
        text = sealer.open(row.text, row.id, "inbound.text")
    except SealBroken:
        log.exception("reply %s can't be opened", row.id)
    return Unread(
        row.id, Kind(row.kind), row.gateway, row.phone_key, sender, text, row.received_at, row.stored_at
    )
