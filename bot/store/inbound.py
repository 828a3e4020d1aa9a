"""Replies that wait to be read: by phone, in the order in which the gateway received them."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Row, bindparam, select, update

from bot.core.states import InboundState
from bot.seal import SealBroken, Sealer
from bot.store.engine import sealer_of
from bot.store.tables import fixed, inbound

log = logging.getLogger(__name__)

_STORED = inbound.c.state == fixed(InboundState.stored)


@dataclass(frozen=True, slots=True)
class Unread:
    """A reply nobody has read. `sender` is E.164, or what the gateway gave if that is no number. `text` is
    None if it can't be opened: a person must look."""

    id: UUID
    gateway: str
    phone_key: bytes
    sender: str | None
    text: str | None
    received_at: datetime
    stored_at: datetime


def unread(conn: Connection, limit: int) -> dict[bytes, list[Unread]]:
    """Lock and give up to `limit` unread replies by phone, the longest waiting phone first, each phone's in
    the order received. Phones of which another worker holds an earlier reply are left to that one."""
    in_order = inbound.c.received_at, inbound.c.id
    rows = conn.execute(
        select(inbound).where(_STORED).order_by(*in_order).limit(limit).with_for_update(skip_locked=True)
    ).all()
    ours = {row.id for row in rows}
    by_phone: dict[bytes, list[Unread]] = {}
    for row in rows:
        by_phone.setdefault(row.phone_key, []).append(_opened(sealer_of(conn), row))
    waiting = conn.execute(
        select(inbound.c.phone_key, inbound.c.id)
        .where(_STORED, inbound.c.phone_key.in_(by_phone))
        .order_by(*in_order)
    )
    seen: set[bytes] = set()
    for phone_key, row_id in waiting:
        assert phone_key is not None  # `IN` above
        if phone_key not in seen and row_id not in ours:
            by_phone.pop(phone_key)
        seen.add(phone_key)
    return by_phone


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
    return Unread(row.id, row.gateway, row.phone_key, sender, text, row.received_at, row.stored_at)
