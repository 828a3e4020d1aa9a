"""Everything that is stored about one pair, in the order in which it happened: for the record of an incident.

It gives what people wrote and said, so it is for whoever must give an account, and asks who looks.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, select

from bot.store import rows
from bot.store import tables as t
from bot.store.engine import sealer_of
from bot.store.viewer import Role, Viewer


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing at one time: `kind` says from which part, `what` in a few words, `detail` the rest."""

    at: datetime
    kind: str
    what: str
    detail: Mapping[str, Any] = field(default_factory=dict)


def happenings(conn: Connection, viewer: Viewer, enrolment: UUID) -> list[Happening]:
    """Give everything about a pair of the viewer's sites, oldest first. Only leads and above may see it."""
    viewer.needs(Role.lead)
    held = select(t.enrolment.c.id).where(t.enrolment.c.id == enrolment, t.enrolment.c.site.in_(viewer.sites))
    if conn.scalar(held) is None:
        return []
    parts = (_messages, _attempts, _reports, _replies, _readings, _decisions, _alerts, _audit, _adverse)
    found = [each for part in parts for each in part(conn, enrolment)]
    return sorted(found, key=lambda each: (each.at, each.kind))


def _messages(conn: Connection, enrolment: UUID) -> Iterator[Happening]:
    seal, m = sealer_of(conn), t.message.c
    for row in conn.execute(select(t.message).where(m.enrolment == enrolment)):
        text = seal.open(row.text, row.id, "message.text") if row.text else None
        about = {"id": str(row.id), "text_key": row.text_key, "language": row.language}
        due = {"send_after": row.send_after, "expires_at": row.expires_at}
        yield Happening(row.created_at, "message", f"made: {row.text_key}", about | due | {"text": text})
        if row.final_at is not None:
            yield Happening(row.final_at, "message", f"{row.state.value}: {row.text_key}", about)


def _attempts(conn: Connection, enrolment: UUID) -> Iterator[Happening]:
    a = t.send_attempt.c
    query = select(t.send_attempt, t.message.c.text_key).join(t.message, t.message.c.id == a.message)
    for row in conn.execute(query.where(t.message.c.enrolment == enrolment)):
        detail = {
            "message": str(row.message),
            "attempt": row.n,
            "gateway": row.gateway,
            "ref": row.gateway_ref,
        }
        yield Happening(row.at, "sent", f"{row.outcome}: {row.text_key} through {row.gateway}", detail)


def _reports(conn: Connection, enrolment: UUID) -> Iterator[Happening]:
    query = select(t.receipt, t.message.c.text_key).join(t.message, t.message.c.id == t.receipt.c.message)
    for row in conn.execute(query.where(t.message.c.enrolment == enrolment)):
        detail = {"message": str(row.message), "gateway": row.gateway, "ref": row.ref}
        yield Happening(row.stored_at, "report", f"{row.reported}: {row.text_key}", detail)


def _replies(conn: Connection, enrolment: UUID) -> Iterator[Happening]:
    seal = sealer_of(conn)
    for row in conn.execute(select(t.inbound).where(t.inbound.c.enrolment == enrolment)):
        text = seal.open(row.text, row.id, "inbound.text") if row.text else ""
        detail = {"id": str(row.id), "gateway": row.gateway, "kind": row.kind, "text": text}
        times = {"received_at": row.received_at, "stored_at": row.stored_at}
        yield Happening(row.received_at, "reply", "she wrote", detail | times)


def _readings(conn: Connection, enrolment: UUID) -> Iterator[Happening]:
    seal = sealer_of(conn)
    query = select(t.reading).join(t.inbound, t.inbound.c.id == t.reading.c.inbound)
    for row in conn.execute(query.where(t.inbound.c.enrolment == enrolment)):
        result = json.loads(seal.open(row.result, row.id, "reading.result"))
        detail = {"reply": str(row.inbound), "by": row.by, "edition": row.edition, "result": result}
        yield Happening(row.at, "read", f"read as {row.intent}", detail)


def _decisions(conn: Connection, enrolment: UUID) -> Iterator[Happening]:
    query = select(t.triage_run).where(t.triage_run.c.enrolment == enrolment)
    for row in conn.execute(query):
        detail = {
            "baby": row.baby,
            "facts": row.facts,
            "rules_edition": row.rules_edition,
            "overlay": row.overlay,
            "program": row.program,
            "urgency": row.urgency.name,
            "fired": row.fired,
            "just_inside": row.just_inside,
        }
        yield Happening(row.at, "triage", row.urgency.name, detail)


def _alerts(conn: Connection, enrolment: UUID) -> Iterator[Happening]:
    sealer = sealer_of(conn)
    query = (
        select(t.alert, t.message.c.send_after, t.message.c.sent_at, t.message.c.state)
        .join(t.message, t.message.c.id == t.alert.c.message)
        .join(t.escalation, t.escalation.c.id == t.alert.c.escalation)
        .where(t.escalation.c.enrolment == enrolment)
    )
    for row in conn.execute(query):
        clear = rows.opened(sealer, t.alert, row._asdict())
        detail = {
            "who": clear["who"],
            "step": row.step,
            "send_after": row.send_after,
            "state": row.state.value,
        }
        yield Happening(row.sent_at or row.made_at, "alert", f"{row.reason}: {clear['who']}", detail)
        if row.heeded_at is not None:
            yield Happening(row.heeded_at, "alert", f"heeded by {row.heeded_how}: {clear['who']}", {})


def _audit(conn: Connection, enrolment: UUID) -> Iterator[Happening]:
    names = _names(conn)
    e = t.event_log.c
    for row in conn.execute(select(t.event_log).where(e.subject == enrolment).order_by(e.at, e.id)):
        who = names.get(row.actor, row.actor)
        kind = "opened" if row.what == "opened" else "audit"
        moved = f"{row.from_state or '-'} to {row.to_state or '-'}"
        what = f"{who} opened the case" if kind == "opened" else f"{row.what}: {moved}"
        yield Happening(row.at, kind, what, {"by": who, "why": row.why})


def _adverse(conn: Connection, enrolment: UUID) -> Iterator[Happening]:
    sealer = sealer_of(conn)
    query = select(t.adverse_event).where(t.adverse_event.c.enrolment == enrolment)
    for row in conn.execute(query):
        clear = rows.opened(sealer, t.adverse_event, row._asdict())
        detail = {name: clear[name] for name in ("baby", "on_day", "place", "source", "note")}
        yield Happening(row.opened_at, "adverse event", f"opened: {row.kind}", {"id": str(row.id)})
        if row.completed_at is not None:
            yield Happening(row.completed_at, "adverse event", f"completed: {row.kind}", detail)


def _names(conn: Connection) -> Mapping[str, str]:
    seal = sealer_of(conn)
    found = conn.execute(select(t.staff.c.id, t.staff.c.name))
    return {str(row.id): seal.open(row.name, row.id, "staff.name") for row in found}
