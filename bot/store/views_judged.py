"""Every stored judgement of a period, by pair and time, with what was known then. No personal data: facts are
counts, signs and ages."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, select

from bot.core.pair import Site
from bot.store.pairs import load_sites
from bot.store.tables import enrolment, site, triage_run
from bot.store.views_report import windows_of

_AT_ONCE = 2000


@dataclass(frozen=True, slots=True)
class StoredRun:
    pair: UUID
    site: str
    day: date
    facts: Mapping[str, Any]


def judgements(conn: Connection, first: date, last: date, now: datetime) -> Iterator[StoredRun]:
    """Give them at every site from the local day `first` to `last`, both included; few are held at once."""
    sites = load_sites(conn, conn.scalars(select(site.c.id)).all())
    for window in windows_of(list(sites.values()), first, last, now):
        query = (
            select(triage_run.c.enrolment, enrolment.c.site, triage_run.c.at, triage_run.c.facts)
            .join(enrolment, enrolment.c.id == triage_run.c.enrolment)
            .where(window.here, window.holds(triage_run.c.at))
            .order_by(triage_run.c.enrolment, triage_run.c.at, triage_run.c.id)
            .execution_options(yield_per=_AT_ONCE)
        )
        for row in conn.execute(query):
            at: Site = sites[row.site]
            yield StoredRun(row.enrolment, at.code, row.at.astimezone(at.tz).date(), row.facts)
