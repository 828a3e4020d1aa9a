"""What a report counts, by site, in one period: six aggregate statements for each zone, no personal data."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, Connection, and_, case, exists, func, or_, select

from bot.core.pair import Site
from bot.core.plan import DAY, at_local
from bot.core.reports import SiteCounts
from bot.core.states import (
    CheckInState,
    EnrolmentState,
    EscalationState,
    MessageState,
    QuestionState,
    ReviewState,
    Texting,
    Urgency,
)
from bot.store.pairs import load_sites
from bot.store.tables import (
    check_in,
    enrolment,
    escalation,
    event_log,
    message,
    mother,
    question,
    review,
    send_attempt,
)
from bot.store.viewer import Role, Viewer

Count = tuple[UUID, str, int]

_REVIEWS = {
    ReviewState.attended: "attended",
    ReviewState.missed: "missed",
    ReviewState.expected: "still_expected",
}
_TEXTS = {
    MessageState.delivered: "delivered",
    MessageState.undelivered: "undelivered",
    MessageState.failed: "undelivered",
    MessageState.expired: "undelivered",
    MessageState.accepted: "no_report",
    MessageState.unknown: "no_report",
}


@dataclass(frozen=True, slots=True)
class Window:
    """The sites of one zone, with the period as local days and as instants; `now` decides what is overdue."""

    sites: Sequence[UUID]
    first: date
    last: date
    start: datetime
    end: datetime
    now: datetime

    def holds(self, instant: ColumnElement[Any]) -> ColumnElement[bool]:
        return and_(instant >= self.start, instant < self.end)

    @property
    def here(self) -> ColumnElement[bool]:
        return enrolment.c.site.in_(self.sites)


def counts_of(conn: Connection, viewer: Viewer, first: date, last: date, now: datetime) -> list[SiteCounts]:
    """Count what happened at each of the viewer's sites from the local day `first` to `last`, both included.

    Enrolments count by the day they were made, check-ins by their opening, texts by their sending (or by when
    they failed), escalations by the day they were raised, reviews by their own day. What became of them is
    told as it stands now.
    """
    viewer.needs(Role.lead)
    sites = sorted(load_sites(conn, viewer.sites).values(), key=lambda site: site.name)
    counts: dict[UUID, Counter[str]] = defaultdict(Counter)
    closed: dict[UUID, Counter[str]] = defaultdict(Counter)
    for window in windows_of(sites, first, last, now):
        for site, key, n in _all(conn, window):
            counts[site][key] += n
        for site, reason, n in _closed(conn, window):
            closed[site][reason] += n
    return [SiteCounts(each.code, each.name, counts[each.id], closed[each.id]) for each in sites]


@dataclass(frozen=True, slots=True)
class Cost:
    """What one gateway carried for one site: parts of texts, and their price in millionths of a currency
    ('' where no tariff was known)."""

    site: str
    gateway: str
    currency: str
    parts: int
    millionths: int


def costs_of(conn: Connection, viewer: Viewer, first: date, last: date, now: datetime) -> list[Cost]:
    """Add up what may have left from `first` to `last`, both included, at the prices of its days."""
    viewer.needs(Role.lead)
    sites = sorted(load_sites(conn, viewer.sites).values(), key=lambda site: site.code)
    codes = {site.id: site.code for site in sites}
    found = []
    for window in windows_of(sites, first, last, now):
        a = send_attempt.c
        query = (
            select(
                enrolment.c.site,
                a.gateway,
                func.coalesce(a.currency, "").label("currency"),
                func.coalesce(func.sum(message.c.segments), 0).label("parts"),
                func.coalesce(func.sum(a.cost), 0).label("millionths"),
            )
            .join(message, message.c.id == a.message)
            .join(enrolment, enrolment.c.id == message.c.enrolment)
            .where(window.here, window.holds(a.at), or_(a.cost.is_not(None), a.gateway_ref.is_not(None)))
            .group_by(enrolment.c.site, a.gateway, "currency")
        )
        found += [
            Cost(codes[row.site], row.gateway, row.currency, int(row.parts), int(row.millionths))
            for row in conn.execute(query)
        ]
    return sorted(found, key=lambda each: (each.site, each.gateway, each.currency))


def windows_of(sites: Sequence[Site], first: date, last: date, now: datetime) -> Iterator[Window]:
    """Give the period once for each zone of the sites, with the sites in it."""
    for zone in sorted({site.zone for site in sites}):
        here = [site for site in sites if site.zone == zone]
        start, end = (at_local(day, time(0), here[0].tz) for day in (first, last + DAY))
        yield Window([site.id for site in here], first, last, start, end, now)


def _all(conn: Connection, window: Window) -> Iterator[Count]:
    for found in (_enrolled, _check_ins, _texts, _escalations, _reviews, _stopped):
        yield from found(conn, window)


def _enrolled(conn: Connection, window: Window) -> Iterator[Count]:
    by_text = and_(enrolment.c.follow_up_by == "text", mother.c.phone.is_not(None))
    # She answered from her number once, whatever became of it since.
    verified = and_(by_text, mother.c.texting.in_([Texting.on, Texting.stopped]))
    query = (
        select(enrolment.c.site, func.count(), _sum(by_text), _sum(verified))
        .join(mother, mother.c.id == enrolment.c.mother)
        .where(window.here, window.holds(enrolment.c.enrolled_at))
        .group_by(enrolment.c.site)
    )
    for site, *found in conn.execute(query):
        yield from ((site, key, n) for key, n in zip(("enrolled", "by_text", "verified"), found, strict=True))


def _check_ins(conn: Connection, window: Window) -> Iterator[Count]:
    """Check-ins that have ended; those still open and those withdrawn are nobody's answer or silence."""
    answered = exists().where(
        question.c.check_in == check_in.c.id, question.c.state == QuestionState.answered
    )
    each = (
        select(enrolment.c.site, check_in.c.state, answered.label("some"))
        .join(enrolment, enrolment.c.id == check_in.c.enrolment)
        .where(window.here, window.holds(check_in.c.opened_at))
        .where(check_in.c.state.in_([CheckInState.complete, CheckInState.expired]))
        .subquery()
    )
    query = select(each.c.site, each.c.state, each.c.some, func.count()).group_by(
        each.c.site, each.c.state, each.c.some
    )
    for site, state, some, n in conn.execute(query):
        whole = state is CheckInState.complete
        yield site, "answered" if whole else "partly" if some else "silent", n


def _texts(conn: Connection, window: Window) -> Iterator[Count]:
    moment = func.coalesce(message.c.sent_at, message.c.final_at)
    sent = (
        select(enrolment.c.site, message.c.state, func.count())
        .join(enrolment, enrolment.c.id == message.c.enrolment)
        .where(window.here, window.holds(moment), message.c.state.in_(list(_TEXTS)))
        .group_by(enrolment.c.site, message.c.state)
    )
    for site, state, n in conn.execute(sent):
        yield site, _TEXTS[state], n
    pairs = (
        select(enrolment.c.site, func.count(message.c.enrolment.distinct()))
        .join(enrolment, enrolment.c.id == message.c.enrolment)
        .where(window.here, window.holds(message.c.sent_at))
        .group_by(enrolment.c.site)
    )
    for site, n in conn.execute(pairs):
        yield site, "texted_pairs", n


def _escalations(conn: Connection, window: Window) -> Iterator[Count]:
    e = escalation.c
    outcome = case(
        (e.spoken_at <= e.due_at, "in_time"),
        (e.spoken_at.is_not(None), "late"),
        (e.state == EscalationState.closed, "closed_unspoken"),
        (e.due_at < window.now, "overdue"),
        else_="pending",
    )
    each = (
        select(e.site, e.urgency, outcome.label("outcome"))
        .where(e.site.in_(window.sites), e.enrolment.is_not(None), window.holds(e.raised_at))
        .subquery()
    )
    query = select(each.c.site, each.c.urgency, each.c.outcome, func.count()).group_by(
        each.c.site, each.c.urgency, each.c.outcome
    )
    for site, urgency, became, n in conn.execute(query):
        yield site, f"{Urgency(urgency).name}_{became}", n


def _reviews(conn: Connection, window: Window) -> Iterator[Count]:
    query = (
        select(review.c.site, review.c.state, func.count())
        .where(review.c.site.in_(window.sites), review.c.on_day.between(window.first, window.last))
        .where(review.c.state.in_(list(_REVIEWS)))
        .group_by(review.c.site, review.c.state)
    )
    for site, state, n in conn.execute(query):
        yield site, _REVIEWS[state], n


def _stopped(conn: Connection, window: Window) -> Iterator[Count]:
    query = (
        select(enrolment.c.site, func.count(event_log.c.subject.distinct()))
        .join(enrolment, enrolment.c.id == event_log.c.subject)
        .where(window.here, window.holds(event_log.c.at))
        .where(event_log.c.what == "texting", event_log.c.to_state == Texting.stopped.value)
        .group_by(enrolment.c.site)
    )
    for site, n in conn.execute(query):
        yield site, "stopped", n


def _closed(conn: Connection, window: Window) -> Iterator[Count]:
    """Pairs closed in the period and closed still, by the reason that stands."""
    query = (
        select(enrolment.c.site, enrolment.c.closed_reason, func.count(event_log.c.subject.distinct()))
        .join(enrolment, enrolment.c.id == event_log.c.subject)
        .where(window.here, window.holds(event_log.c.at))
        .where(event_log.c.what == "enrolment", event_log.c.to_state == EnrolmentState.closed.value)
        .where(enrolment.c.state == EnrolmentState.closed)
        .group_by(enrolment.c.site, enrolment.c.closed_reason)
    )
    for site, reason, n in conn.execute(query):
        yield site, reason or "", n


def _sum(condition: ColumnElement[bool]) -> ColumnElement[int]:
    return func.coalesce(func.sum(case((condition, 1), else_=0)), 0)
