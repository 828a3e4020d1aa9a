"""How replies were read, kept beside them. For workers only."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from sqlalchemy import Connection, insert

from bot.core.ids import derived_id
from bot.core.reader import Reading
from bot.core.reader.report import to_json
from bot.store import tables as t
from bot.store.engine import sealer_of

PROGRAM = "program"  # the reader of what no person read


def keep_readings(conn: Connection, readings: Mapping[UUID, tuple[Reading, int]], now: datetime) -> None:
    """Store how replies (by id) were read, each with the edition of the words that were approved here (0:
    none); what she said in them is sealed."""
    if not readings:
        return
    sealer = sealer_of(conn)
    rows = []
    for inbound, (reading, edition) in readings.items():
        made = derived_id(now, inbound, PROGRAM)
        result = json.dumps(to_json(reading), ensure_ascii=False)
        rows.append(
            {
                "id": made,
                "inbound": inbound,
                "by": PROGRAM,
                "at": now,
                "edition": edition,
                "intent": reading.intent.value,
                "result": sealer.seal(result, made, "reading.result"),
            }
        )
    conn.execute(insert(t.reading), rows)
