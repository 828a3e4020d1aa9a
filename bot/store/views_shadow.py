"""What rules that are only tried out would have done, in one period; counts, no personal data."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from sqlalchemy import Connection, Text, literal_column, select

from bot.core.states import Urgency
from bot.store.pairs import load_sites
from bot.store.tables import enrolment, triage_run
from bot.store.viewer import Role, Viewer
from bot.store.views_report import windows_of


@dataclass(frozen=True, slots=True)
class Tried:
    """One rule in the shadow: in how many judgements and for how many pairs it would have held, and how often
    by the urgency that the judgement had without it."""

    rule: str
    held: int
    pairs: int
    beside: dict[Urgency, int]


def tried_rules(conn: Connection, viewer: Viewer, first: date, last: date, now: datetime) -> list[Tried]:
    """Count at the viewer's sites from the local day `first` to `last`, both included, by rule."""
    viewer.needs(Role.lead)
    sites = sorted(load_sites(conn, viewer.sites).values(), key=lambda site: site.code)
    beside: dict[str, Counter[Urgency]] = defaultdict(Counter)
    pairs: dict[str, set[UUID]] = defaultdict(set)
    for window in windows_of(sites, first, last, now):
        query = (
            select(triage_run.c.shadow, triage_run.c.urgency, triage_run.c.enrolment)
            .join(enrolment, enrolment.c.id == triage_run.c.enrolment)
            .where(window.here, window.holds(triage_run.c.at))
            .where(triage_run.c.shadow != literal_column("''", Text()))
        )
        for shadow, urgency, pair in conn.execute(query):
            for rule in shadow.split():
                beside[rule][Urgency(urgency)] += 1
                pairs[rule].add(pair)
    return [
        Tried(rule, beside[rule].total(), len(pairs[rule]), dict(beside[rule])) for rule in sorted(beside)
    ]
