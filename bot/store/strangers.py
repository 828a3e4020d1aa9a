"""Items of the inbox about numbers that belong to no pair: a danger from anybody is heard."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from uuid import UUID

from sqlalchemy import ColumnElement, Connection, insert, select, update

from bot.core.errors import NotFound
from bot.core.escalation import News, is_new_or_graver, join
from bot.core.pair import Escalation, Finding
from bot.core.states import EscalationState, Urgency
from bot.store import tables as t
from bot.store.alerts import heed
from bot.store.engine import sealer_of
from bot.store.rows import Row, field_names, opened, part, sealed


def raise_stranger(
    conn: Connection, phone_key: bytes, news: News, due: Mapping[Urgency, timedelta], now: datetime
) -> tuple[Escalation, bool]:
    """Put `news` into the open item of this number, or open one, by the same rules as for a pair. Give the
    item, and whether a person did not know this yet."""
    standing = _standing(conn, t.escalation.c.phone_key == phone_key)
    after = join(standing, [news], phone_key.hex(), now, due)
    _save(conn, phone_key, standing, after)
    return after, is_new_or_graver(standing, news)


def change_stranger(
    conn: Connection, item_id: UUID, by: UUID, change: Callable[[Escalation], Escalation], now: datetime
) -> Escalation:
    """Let a person's act change an open item, locked and with its line in the audit. Raises NotFound."""
    before = _standing(conn, t.escalation.c.id == item_id)
    if before is None:
        raise NotFound("This is not open any more. Somebody has closed it.")
    after = change(before)
    phone_key = conn.scalar(select(t.escalation.c.phone_key).where(t.escalation.c.id == item_id))
    assert phone_key is not None  # escalation_about_somebody
    _save(conn, phone_key, before, after)
    if after.state is not EscalationState.waiting or after.spoken_at:
        heed(conn, [item_id], "spoken" if after.spoken_at else "taken", now)
    spoken = " spoken" if after.spoken_at and not before.spoken_at else ""
    line = {
        "at": now,
        "actor": str(by),
        "subject": item_id,
        "what": "escalation",
        "from_state": before.state.value,
        "to_state": after.state.value + spoken,
        "why": after.disposition,
        "data": {},
    }
    conn.execute(insert(t.event_log).values(line))
    return after


def _standing(conn: Connection, which: ColumnElement[bool]) -> Escalation | None:
    e, f, sealer = t.escalation, t.finding, sealer_of(conn)
    row = conn.execute(
        select(e)
        .where(which, e.c.enrolment.is_(None))
        .where(e.c.state != t.fixed(EscalationState.closed))
        .with_for_update()
    ).one_or_none()
    if row is None:
        return None
    found = conn.execute(select(f).where(f.c.escalation == row.id).order_by(f.c.seq))
    findings = tuple(part(Finding, opened(sealer, f, each._asdict())) for each in found)
    return part(Escalation, opened(sealer, e, row._asdict()), findings=findings)


def _save(conn: Connection, phone_key: bytes, before: Escalation | None, after: Escalation) -> None:
    e, f, sealer = t.escalation, t.finding, sealer_of(conn)
    mine = {"enrolment": None, "seq": 0, "phone_key": phone_key, "site": None}
    item = sealed(sealer, e, _columns(after, "findings") | mine)
    if before is None:
        conn.execute(insert(e).values(item))
    else:
        conn.execute(update(e).where(e.c.id == after.id).values(item))
    known = before.findings if before else ()
    for seq, finding in enumerate(after.findings):
        row = sealed(sealer, f, _columns(finding) | {"escalation": after.id, "seq": seq})
        if seq >= len(known):
            conn.execute(insert(f).values(row))
        elif finding != known[seq]:
            conn.execute(update(f).where(f.c.escalation == after.id, f.c.seq == seq).values(row))


def _columns(value: Escalation | Finding, *without: str) -> Row:
    return {name: getattr(value, name) for name in field_names(type(value)) if name not in without}
