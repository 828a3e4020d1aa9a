"""What stands in the record about pairs of the viewer's sites: adverse events, and whom to catch up with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from sqlalchemy import Connection, select, update

from bot.core.errors import Conflict
from bot.store import rows
from bot.store import tables as t
from bot.store.engine import sealer_of
from bot.store.viewer import Viewer

# Who says that it happened.
SOURCES: Mapping[str, str] = {
    "mother": "The mother",
    "family": "The family",
    "place": "The place that treated them",
    "register": "A register or discharge letter",
    "visit": "Seen at a visit",
}


@dataclass(frozen=True, slots=True)
class Entry:
    """One adverse event; open until `completed_at`."""

    id: UUID
    enrolment: UUID
    baby: int | None
    kind: str
    opened_at: datetime
    on_day: date | None
    place: str
    source: str
    note: str
    completed_at: datetime | None
    completed_by: UUID | None


def entries_of(conn: Connection, viewer: Viewer, enrolment: UUID) -> list[Entry]:
    """Give the entries of one pair of the viewer's sites, oldest first."""
    found = conn.execute(
        select(t.adverse_event)
        .join(t.enrolment, t.enrolment.c.id == t.adverse_event.c.enrolment)
        .where(t.adverse_event.c.enrolment == enrolment, t.enrolment.c.site.in_(viewer.sites))
        .order_by(t.adverse_event.c.opened_at, t.adverse_event.c.id)
    )
    return [
        rows.part(
            Entry, {k: v if v is not None or k not in ("place", "note") else "" for k, v in clear.items()}
        )
        for row in found
        for clear in [rows.opened(sealer_of(conn), t.adverse_event, row._asdict())]
    ]


def complete_entry(
    conn: Connection,
    viewer: Viewer,
    entry: UUID,
    enrolment: UUID,
    on_day: date,
    place: str,
    source: str,
    note: str,
    now: datetime,
) -> None:
    """Complete an entry of a pair that the viewer may see. Raises Conflict when somebody has already."""
    a = t.adverse_event
    row = rows.sealed(
        sealer_of(conn),
        a,
        {
            "id": entry,
            "on_day": on_day,
            "place": place,
            "source": source,
            "note": note or None,
            "completed_at": now,
            "completed_by": viewer.person_id,
        },
    )
    del row["id"]
    here = a.c.id == entry, a.c.enrolment == enrolment, a.c.completed_at.is_(None)
    if not conn.execute(update(a).where(*here).values(row)).rowcount:
        raise Conflict("Somebody else has completed this entry. Look at the page again.")


@dataclass(frozen=True, slots=True)
class Missed:
    """A pair on the list: who, whose phone, since when."""

    enrolment: UUID
    mother: str
    phone: str
    site: str
    zone: str
    since: datetime


def missed(conn: Connection, viewer: Viewer, limit: int = 500) -> list[Missed]:
    """Give those whom nobody has looked at yet, at the viewer's sites, longest first."""
    found = conn.execute(
        select(t.catch_up.c.enrolment, t.catch_up.c.since, t.mother, t.site.c.name.label("at"), t.site.c.zone)
        .join(t.enrolment, t.enrolment.c.id == t.catch_up.c.enrolment)
        .join(t.mother, t.mother.c.id == t.enrolment.c.mother)
        .join(t.site, t.site.c.id == t.enrolment.c.site)
        .where(t.catch_up.c.seen_at.is_(None), t.enrolment.c.site.in_(viewer.sites))
        .order_by(t.catch_up.c.since, t.catch_up.c.enrolment)
        .limit(limit)
    )
    seal = sealer_of(conn)
    return [
        Missed(
            row.enrolment,
            seal.open(row.name, row.id, "mother.name"),
            seal.open(row.phone, row.id, "mother.phone") if row.phone else "",
            row.at,
            row.zone,
            row.since,
        )
        for row in found
    ]


def seen(conn: Connection, viewer: Viewer, enrolment: UUID, now: datetime) -> None:
    """Take a pair off the list: somebody has looked."""
    here = select(t.enrolment.c.id).where(t.enrolment.c.site.in_(viewer.sites))
    conn.execute(
        update(t.catch_up)
        .where(t.catch_up.c.enrolment == enrolment, t.catch_up.c.enrolment.in_(here))
        .values(seen_at=now, seen_by=viewer.person_id)
    )
