"""One pair as its counsellor sees it: the pair itself, texts both ways with their readings, triage, notes."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, select

from bot.core.errors import NotFound
from bot.core.pair import Pair
from bot.core.states import InboundState, MessageState, Urgency
from bot.store import rows
from bot.store.engine import sealer_of
from bot.store.pairs import load_pairs
from bot.store.tables import alert, enrolment, escalation, event_log, inbound, message, reading, triage_run
from bot.store.viewer import Viewer


@dataclass(frozen=True, slots=True)
class Received:
    """A reply. `result` is how it was read (see `Reading`), None while it is unread."""

    id: UUID
    at: datetime
    text: str
    state: InboundState
    intent: str
    result: Mapping[str, Any] | None
    read_by: str  # 'program' or the id of staff


@dataclass(frozen=True, slots=True)
class Sent:
    """A text to her. `text` is None until a sender has made its words."""

    id: UUID
    text_key: str
    text: str | None
    values: Mapping[str, Any]
    language: str
    state: MessageState
    created_at: datetime
    send_after: datetime
    sent_at: datetime | None
    segments: int | None


@dataclass(frozen=True, slots=True)
class Woken:
    """One step of waking somebody on call: who, why, and whether they heeded it."""

    step: int
    reason: str
    who: str
    made_at: datetime
    send_after: datetime
    sent_at: datetime | None
    state: MessageState
    heeded_at: datetime | None
    heeded_how: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """One triage of a baby: the facts as judged, what held and what was just inside its line. `overlay` is
    the edition of the site's own thresholds, 0 where the common rules held."""

    baby: int | None
    at: datetime
    urgency: Urgency
    facts: Mapping[str, Any]
    rules_edition: int
    overlay: int
    fired: tuple[Mapping[str, Any], ...]
    just_inside: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True, slots=True)
class Happening:
    """A line of the audit about this pair."""

    at: datetime
    actor: str
    what: str
    before: str
    after: str
    why: str


@dataclass(frozen=True, slots=True)
class CaseFile:
    pair: Pair
    received: tuple[Received, ...]
    sent: tuple[Sent, ...]
    judgements: tuple[Judgement, ...]
    happenings: tuple[Happening, ...]
    woken: tuple[Woken, ...]


def case_file(conn: Connection, viewer: Viewer, enrolment_id: UUID) -> CaseFile:
    """Load everything about one pair. Raise NotFound where the viewer's sites do not hold it."""
    held = conn.scalar(
        select(enrolment.c.id).where(enrolment.c.id == enrolment_id, enrolment.c.site.in_(viewer.sites))
    )
    pair = next(iter(load_pairs(conn, [held], lock=False)), None) if held else None
    if pair is None:
        raise NotFound("There is no such pair at your sites.")
    return CaseFile(
        pair=pair,
        received=_received(conn, enrolment_id),
        sent=_sent(conn, enrolment_id),
        judgements=_judgements(conn, enrolment_id),
        happenings=_happenings(conn, enrolment_id),
        woken=_woken(conn, enrolment_id),
    )


def _received(conn: Connection, enrolment_id: UUID) -> tuple[Received, ...]:
    """Replies with their newest reading each."""
    seal = sealer_of(conn)
    rows = conn.execute(
        select(
            inbound,
            reading.c.id.label("reading_id"),
            reading.c.intent,
            reading.c.result,
            reading.c.by.label("read_by"),
        )
        .outerjoin(reading, reading.c.inbound == inbound.c.id)
        .where(inbound.c.enrolment == enrolment_id)
        .order_by(inbound.c.received_at, inbound.c.id, reading.c.at)
    )
    newest: dict[UUID, Received] = {}
    for row in rows:
        result = seal.open(row.result, row.reading_id, "reading.result") if row.reading_id else ""
        newest[row.id] = Received(
            id=row.id,
            at=row.received_at,
            text=seal.open(row.text, row.id, "inbound.text") if row.text else "",
            state=row.state,
            intent=row.intent or "",
            result=json.loads(result) if result else None,
            read_by=row.read_by or "",
        )
    return tuple(newest.values())


def _sent(conn: Connection, enrolment_id: UUID) -> tuple[Sent, ...]:
    seal = sealer_of(conn)
    rows = conn.execute(
        select(message)
        .where(message.c.enrolment == enrolment_id)
        .order_by(message.c.created_at, message.c.id)
    )
    return tuple(
        Sent(
            id=row.id,
            text_key=row.text_key,
            text=seal.open(row.text, row.id, "message.text") if row.text else None,
            values=json.loads(seal.open(row.text_values, row.id, "message.text_values")),
            language=row.language,
            state=row.state,
            created_at=row.created_at,
            send_after=row.send_after,
            sent_at=row.sent_at,
            segments=row.segments,
        )
        for row in rows
    )


def _judgements(conn: Connection, enrolment_id: UUID) -> tuple[Judgement, ...]:
    """Every triage of the pair, oldest first."""
    rows = conn.execute(
        select(triage_run)
        .where(triage_run.c.enrolment == enrolment_id)
        .order_by(triage_run.c.at, triage_run.c.id)
    )
    return tuple(
        Judgement(
            baby=row.baby,
            at=row.at,
            urgency=row.urgency,
            facts=row.facts,
            rules_edition=row.rules_edition,
            overlay=row.overlay,
            fired=tuple(row.fired),
            just_inside=tuple(row.just_inside),
        )
        for row in rows
    )


def _happenings(conn: Connection, enrolment_id: UUID) -> tuple[Happening, ...]:
    rows = conn.execute(
        select(event_log).where(event_log.c.subject == enrolment_id).order_by(event_log.c.at, event_log.c.id)
    )
    return tuple(
        Happening(row.at, row.actor, row.what, row.from_state, row.to_state, row.why) for row in rows
    )


def _woken(conn: Connection, enrolment_id: UUID) -> tuple[Woken, ...]:
    """Every step of waking somebody about a pair, in the order in which they go out."""
    sealer = sealer_of(conn)
    query = (
        select(alert, message.c.send_after, message.c.sent_at, message.c.state)
        .join(message, message.c.id == alert.c.message)
        .join(escalation, escalation.c.id == alert.c.escalation)
        .where(escalation.c.enrolment == enrolment_id)
        .order_by(message.c.send_after, alert.c.id)
    )
    found = (rows.opened(sealer, alert, row._asdict()) for row in conn.execute(query))
    return tuple(rows.part(Woken, row) for row in found)
