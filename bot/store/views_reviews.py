"""A site's reviews of a day, and what a review found: ids and a `Viewer` come in, plain values go out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, func, select

from bot.core.pair import Site
from bot.core.states import BabyState, EscalationState, ReviewState, Urgency
from bot.store.engine import sealer_of
from bot.store.pairs import load_sites
from bot.store.rows import opened
from bot.store.tables import baby, enrolment, escalation, fixed, mother, review, triage_run
from bot.store.viewer import Viewer


@dataclass(frozen=True, slots=True)
class Expected:
    """A baby of a visit, as far as its age and name need it."""

    ordinal: int
    name: str
    born_on: date
    born_at: datetime | None


@dataclass(frozen=True, slots=True)
class Visit:
    """One review of the day's list. `urgency` is that of the pair's open item in the inbox, none without."""

    id: UUID
    enrolment: UUID
    state: ReviewState
    kind: str
    at: time | None
    mother: str
    phone: str | None
    language: str
    urgency: Urgency
    babies: tuple[Expected, ...]


@dataclass(frozen=True, slots=True)
class Judged:
    """What triage found of one baby at a moment: rule ids, gravest first, with urgencies by name."""

    baby: int | None
    urgency: Urgency
    fired: tuple[Mapping[str, Any], ...]


def sites_seen(conn: Connection, viewer: Viewer) -> list[Site]:
    """Give the viewer's sites whole, by name."""
    return sorted(load_sites(conn, viewer.sites).values(), key=lambda site: site.name)


def visits_on(conn: Connection, viewer: Viewer, site: UUID, on_day: date) -> list[Visit]:
    """Give the reviews of a site on a day in order of hour, without those that were moved away."""
    query = (
        select(
            review.c.id,
            review.c.enrolment,
            review.c.state,
            review.c.kind,
            review.c.at,
            mother.c.id.label("mother_id"),
            mother.c.name,
            mother.c.phone,
            mother.c.language,
            escalation.c.urgency,
        )
        .join(enrolment, enrolment.c.id == review.c.enrolment)
        .join(mother, mother.c.id == enrolment.c.mother)
        .outerjoin(
            escalation,
            (escalation.c.enrolment == enrolment.c.id)
            & (escalation.c.state != fixed(EscalationState.closed)),
        )
        .where(review.c.site == site, review.c.site.in_(viewer.sites), review.c.on_day == on_day)
        .where(review.c.state != fixed(ReviewState.cancelled), enrolment.c.erased_at.is_(None))
        .order_by(review.c.at, review.c.id)
    )
    rows = conn.execute(query).all()
    babies = _babies(conn, [row.enrolment for row in rows])
    seal = sealer_of(conn)
    visits = [
        Visit(
            id=row.id,
            enrolment=row.enrolment,
            state=row.state,
            kind=row.kind,
            at=row.at,
            mother=seal.open(row.name, row.mother_id, "mother.name"),
            phone=seal.open(row.phone, row.mother_id, "mother.phone") if row.phone else None,
            language=row.language,
            urgency=Urgency.none if row.urgency is None else row.urgency,
            babies=tuple(babies[row.enrolment]),
        )
        for row in rows
    ]
    return sorted(visits, key=lambda visit: (visit.at or time.min, visit.mother))


def expected_by_day(
    conn: Connection, viewer: Viewer, site: UUID, first: date, last: date
) -> Mapping[date, int]:
    """Count the reviews still expected on each day from `first` to `last`; days without any are left out."""
    query = (
        select(review.c.on_day, func.count())
        .where(review.c.site == site, review.c.site.in_(viewer.sites))
        .where(review.c.on_day >= first, review.c.on_day <= last)
        .where(review.c.state == fixed(ReviewState.expected))
        .group_by(review.c.on_day)
    )
    return {row.on_day: row[1] for row in conn.execute(query)}


def judged_at(conn: Connection, viewer: Viewer, enrolment_id: UUID, at: datetime) -> list[Judged]:
    """Give what triage found of each baby of a pair at exactly that moment."""
    query = (
        select(triage_run)
        .join(enrolment, enrolment.c.id == triage_run.c.enrolment)
        .where(enrolment.c.id == enrolment_id, enrolment.c.site.in_(viewer.sites))
        .where(triage_run.c.at == at)
        .order_by(triage_run.c.baby)
    )
    return [Judged(row.baby, row.urgency, tuple(row.fired)) for row in conn.execute(query)]


def _babies(conn: Connection, enrolments: Iterable[UUID]) -> Mapping[UUID, list[Expected]]:
    query = (
        select(baby)
        .where(baby.c.enrolment.in_(list(enrolments)), baby.c.state == fixed(BabyState.living))
        .order_by(baby.c.ordinal)
    )
    seal = sealer_of(conn)
    found: dict[UUID, list[Expected]] = defaultdict(list)
    for row in conn.execute(query):
        clear = opened(seal, baby, row._asdict())
        found[row.enrolment].append(
            Expected(clear["ordinal"], clear["name"], clear["born_on"], clear["born_at"])
        )
    return found
