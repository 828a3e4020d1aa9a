"""Queued texts for tests, put into the tables as the program puts them there."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import Row, insert, select

from bot.core.outbox import Priority
from bot.core.states import MessageState
from bot.store.claims import TEXT, TO, VALUES
from bot.store.engine import Store
from bot.store.tables import message

MOTHER = "+447700900123"  # Ofcom's range for drama
GATEWAY = "standin"


def queue_text(
    store: Store,
    now: datetime,
    *,
    to: str = MOTHER,
    text: str | None = None,
    priority: Priority = Priority.rest,
    send_after: datetime | None = None,
    expires_at: datetime | None = None,
    enrolment: UUID | None = None,
    **columns: Any,
) -> UUID:
    """Queue one text, due now and for a day, without its words unless `text` is given; give its id."""
    row_id = uuid4()
    sealer = store.sealer
    row = {
        "id": row_id,
        "enrolment": enrolment,
        "phone_key": sealer.phone_key(to),
        "to": sealer.seal(to, row_id, TO),
        "text": None if text is None else sealer.seal(text, row_id, TEXT),
        "text_key": "welcome",
        "text_values": sealer.seal(json.dumps({"n": 8}), row_id, VALUES),
        "language": "en",
        "priority": priority,
        "created_at": now,
        "send_after": send_after or now,
        "expires_at": expires_at or now + timedelta(days=1),
        "once_key": f"test:{row_id}",
        "state": MessageState.queued,
        "attempts": 0,
    }
    with store.write() as conn:
        conn.execute(insert(message), row | columns)
    return row_id


def stored_text(store: Store, row_id: UUID) -> Row[Any]:
    """Give the row of a message as it stands."""
    with store.read() as conn:
        return conn.execute(select(message).where(message.c.id == row_id)).one()
