"""One reply's walk through the program, from the hook to what it brought about, as lines of ids and words of
the program. For operators: nothing that a mother said is shown."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from uuid import UUID

from sqlalchemy import Connection, select

from bot.core.errors import NotFound
from bot.store import tables as t


def trace(conn: Connection, reply: UUID) -> Iterator[str]:
    """Give the walk of one reply, line by line. Raises NotFound."""
    found = conn.execute(select(t.inbound).where(t.inbound.c.id == reply)).one_or_none()
    if found is None:
        raise NotFound(f"There is no reply {reply}.")
    yield f"{_at(found.received_at)}  gateway {found.gateway} received it, key {found.external_key or '-'}"
    yield f"{_at(found.stored_at)}  hook: on disk, then acknowledged; now {found.state.value}"
    yield from _read(conn, reply)
    yield f"{'':20}  pair: {found.enrolment or 'none, or not clear which'}"
    yield from _kept(conn, reply)
    if found.enrolment is not None:
        yield from _followed(conn, found.enrolment, reply)


def _read(conn: Connection, reply: UUID) -> Iterator[str]:
    r = t.reading.c
    for row in conn.execute(select(r.at, r.by, r.intent, r.edition).where(r.inbound == reply).order_by(r.at)):
        words = f", with edition {row.edition} of the words approved here" if row.edition else ""
        yield f"{_at(row.at)}  reader: intent {row.intent}, read by {row.by}{words}"


def _kept(conn: Connection, reply: UUID) -> Iterator[str]:
    a = t.answer.c
    for row in conn.execute(select(a.key, a.at, a.superseded_by).where(a.inbound == reply).order_by(a.key)):
        yield f"{_at(row.at)}  check-in: {row.key}{' (corrected later)' if row.superseded_by else ''}"
    f = t.finding.c
    found = conn.execute(select(f.rule, f.urgency, f.last_at, f.escalation).where(f.inbound == reply))
    for rule, urgency, at, item in found:
        yield f"{_at(at)}  triage: {rule}, {urgency.name}, in item {item}"


def _followed(conn: Connection, enrolment: UUID, reply: UUID) -> Iterator[str]:
    m = t.message.c
    made = select(m.text_key, m.created_at, m.state, m.id).where(
        m.enrolment == enrolment, m.once_key.startswith(f"reply:{reply}:")
    )
    for row in conn.execute(made.order_by(m.created_at)):
        yield f"{_at(row.created_at)}  outbox: {row.text_key} as {row.id}, now {row.state.value}"


def _at(instant: datetime) -> str:
    return instant.isoformat(sep=" ", timespec="seconds")[:19] + "Z"
