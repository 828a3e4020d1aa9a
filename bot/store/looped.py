"""What hooks brought of a text that we sent to ourselves."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import Connection, select

from bot.seal import SealBroken
from bot.store.engine import sealer_of
from bot.store.tables import inbound, receipt

_NEWEST = 20


def reported(conn: Connection, gateway: str, ref: str) -> list[str]:
    """Give the states that this gateway reported of the text it calls `ref`."""
    query = select(receipt.c.reported).where(receipt.c.gateway == gateway, receipt.c.ref == ref)
    return list(conn.scalars(query.order_by(receipt.c.id)))


def came_back(conn: Connection, gateway: str, number: str, row_id: UUID) -> list[str]:
    """Give the texts from our own number that hold the mark of the text `row_id`, the newest first."""
    sealer, found = sealer_of(conn), []
    rows = conn.execute(
        select(inbound.c.id, inbound.c.text)
        .where(inbound.c.phone_key == sealer.phone_key(number), inbound.c.gateway == gateway)
        .order_by(inbound.c.id.desc())
        .limit(_NEWEST)
    )
    for row in rows:
        try:
            text = sealer.open(row.text, row.id, "inbound.text") if row.text else ""
        except SealBroken:
            continue
        if str(row_id)[-6:] in text:
            found.append(text)
    return found
