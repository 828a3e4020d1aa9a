"""What a counsellor's inbox shows: the open escalations of the viewer's sites, in four statements."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Row, func, or_, select

from bot.core.follow.draft import BEREAVED
from bot.core.states import BabyState, EscalationState, Urgency
from bot.store.engine import sealer_of
from bot.store.rows import opened
from bot.store.tables import (
    baby,
    enrolment,
    escalation,
    finding,
    fixed,
    inbound,
    mother,
    reading,
    site,
    staff,
)
from bot.store.viewer import Viewer

_HELD = 5000  # more than one person can have taken


@dataclass(frozen=True, slots=True)
class Reason:
    """A finding of an item that nobody withdrew; `words` are what she wrote, where a reply brought it."""

    rule: str
    baby: int | None
    urgency: Urgency
    last_at: datetime
    words: str


@dataclass(frozen=True, slots=True)
class Child:
    """A living baby of a row, as far as its age needs it."""

    ordinal: int
    name: str
    born_on: date
    born_at: datetime | None


@dataclass(frozen=True, slots=True)
class Item:
    """One open escalation. `enrolment` is None where an unknown number wrote; then there is no name, and the
    site is None too. `reasons` stand gravest first."""

    id: UUID
    enrolment: UUID | None
    urgency: Urgency
    raised_at: datetime
    due_at: datetime
    spoken_at: datetime | None
    not_before: datetime | None
    taken_by: UUID | None
    taken_name: str
    taken_at: datetime | None
    offered_to: UUID | None
    mother: str
    language: str
    site: UUID | None
    site_name: str
    site_code: str
    zone: str
    babies: tuple[Child, ...]
    reasons: tuple[Reason, ...]


def open_items(conn: Connection, viewer: Viewer, *, only: UUID | None = None, limit: int = 500) -> list[Item]:
    """Give what is open at the viewer's sites, and what unknown numbers wrote: gravest and longest first.

    Those spoken to, whose clock has stopped, stand after the others. `only` gives one item by its id.
    """
    query = (
        select(
            escalation,
            enrolment.c.mother.label("mother_id"),
            mother.c.name.label("mother_name"),
            mother.c.language,
            site.c.name.label("site_name"),
            site.c.code.label("site_code"),
            site.c.zone,
            staff.c.name.label("staff_name"),
        )
        .outerjoin(enrolment, enrolment.c.id == escalation.c.enrolment)
        .outerjoin(mother, mother.c.id == enrolment.c.mother)
        .outerjoin(site, site.c.id == escalation.c.site)
        .outerjoin(staff, staff.c.id == escalation.c.taken_by)
        .where(escalation.c.state != fixed(EscalationState.closed))
        .where(or_(escalation.c.site.in_(viewer.sites), escalation.c.site.is_(None)))
        .order_by(
            escalation.c.spoken_at.is_not(None),
            escalation.c.urgency.desc(),
            escalation.c.due_at,
            escalation.c.id,
        )
        .limit(limit)
    )
    if only is not None:
        query = query.where(escalation.c.id == only)
    rows = conn.execute(query).all()
    reasons = _reasons(conn, [row.id for row in rows])
    babies = _babies(conn, [row.enrolment for row in rows if row.enrolment])
    return [_item(conn, row, reasons[row.id], babies[row.enrolment]) for row in rows]


def held_by(conn: Connection, viewer: Viewer) -> list[Item]:
    """Give what the viewer has taken and not closed."""
    return [item for item in open_items(conn, viewer, limit=_HELD) if item.taken_by == viewer.staff_id]


@dataclass(frozen=True, slots=True)
class Said:
    """A text from a number that belongs to no pair. `result` is how it was read (see `Reading`), None while
    it is unread."""

    at: datetime
    text: str
    intent: str
    result: Mapping[str, Any] | None


def words_of_stranger(conn: Connection, viewer: Viewer, item_id: UUID) -> tuple[str, list[Said]]:
    """Give the number that an item without a pair is about, and what was written from it, by time."""
    query = (
        select(
            inbound.c.id,
            inbound.c.received_at,
            inbound.c.sender,
            inbound.c.text,
            reading.c.id.label("reading"),
            reading.c.intent,
            reading.c.result,
        )
        .outerjoin(reading, reading.c.inbound == inbound.c.id)
        .join(escalation, escalation.c.phone_key == inbound.c.phone_key)
        .where(escalation.c.id == item_id, escalation.c.enrolment.is_(None), inbound.c.enrolment.is_(None))
        .where(or_(escalation.c.site.is_(None), escalation.c.site.in_(viewer.sites)))
        .order_by(inbound.c.received_at, inbound.c.id, reading.c.at)
    )
    seal, phone = sealer_of(conn), ""
    said: dict[UUID, Said] = {}  # with the newest reading of each
    for row in conn.execute(query):
        phone = seal.open(row.sender, row.id, "inbound.sender") if row.sender else phone
        text = seal.open(row.text, row.id, "inbound.text") if row.text else ""
        result = json.loads(seal.open(row.result, row.reading, "reading.result")) if row.reading else None
        said[row.id] = Said(row.received_at, text, row.intent or "", result)
    return phone, list(said.values())


def count_open(conn: Connection, viewer: Viewer) -> int:
    """Count what is open, so that a cut list can say so."""
    query = (
        select(func.count())
        .select_from(escalation)
        .where(escalation.c.state != fixed(EscalationState.closed))
        .where(or_(escalation.c.site.in_(viewer.sites), escalation.c.site.is_(None)))
    )
    return conn.scalar(query) or 0


def _item(conn: Connection, row: Row[Any], reasons: Sequence[Reason], babies: Sequence[Child]) -> Item:
    seal = sealer_of(conn)
    return Item(
        id=row.id,
        enrolment=row.enrolment,
        urgency=row.urgency,
        raised_at=row.raised_at,
        due_at=row.due_at,
        spoken_at=row.spoken_at,
        not_before=row.not_before,
        taken_by=row.taken_by,
        taken_name=seal.open(row.staff_name, row.taken_by, "staff.name") if row.taken_by else "",
        taken_at=row.taken_at,
        offered_to=row.offered_to,
        mother=seal.open(row.mother_name, row.mother_id, "mother.name") if row.mother_id else "",
        language=row.language or "",
        site=row.site,
        site_name=row.site_name or "",
        site_code=row.site_code or "",
        zone=row.zone or "UTC",
        babies=tuple(babies),
        reasons=tuple(reasons),
    )


def _reasons(conn: Connection, ids: Iterable[UUID]) -> Mapping[UUID, list[Reason]]:
    query = (
        select(finding, inbound.c.text)
        .outerjoin(inbound, inbound.c.id == finding.c.inbound)
        .where(finding.c.escalation.in_(list(ids)), finding.c.withdrawn_by.is_(None))
        .order_by(finding.c.urgency.desc(), finding.c.last_at.desc(), finding.c.seq)
    )
    seal = sealer_of(conn)
    found: dict[UUID, list[Reason]] = defaultdict(list)
    for row in conn.execute(query):
        words = seal.open(row.text, row.inbound, "inbound.text") if row.text else ""
        found[row.escalation].append(Reason(row.rule, row.baby, row.urgency, row.last_at, words))
    for reasons in found.values():  # who calls must know of a death before the first word
        reasons[1:] = sorted(reasons[1:], key=lambda reason: reason.rule != BEREAVED)
    return found


def _babies(conn: Connection, enrolments: Iterable[UUID]) -> Mapping[UUID | None, list[Child]]:
    query = (
        select(baby)
        .where(baby.c.enrolment.in_(list(enrolments)), baby.c.state == BabyState.living)
        .order_by(baby.c.ordinal)
    )
    seal = sealer_of(conn)
    found: dict[UUID | None, list[Child]] = defaultdict(list)
    for row in conn.execute(query):
        clear = opened(seal, baby, row._asdict())
        found[row.enrolment].append(
            Child(clear["ordinal"], clear["name"], clear["born_on"], clear["born_at"])
        )
    return found
