"""Pairs from the database and back: loaded whole in a fixed number of statements, saved as what differs.

For steps and workers, which act on whoever is due; no person sees what these functions give but through the
queries that ask for a `Viewer`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, Connection, Select, Table, select

from bot.core.pair import (
    Answer,
    Assessment,
    Attempt,
    Baby,
    Chase,
    CheckIn,
    Contact,
    Episode,
    Escalation,
    Finding,
    Mother,
    Pair,
    Question,
    Review,
    Site,
)
from bot.core.states import EnrolmentState
from bot.store import rows
from bot.store import tables as t
from bot.store.engine import sealer_of
from bot.store.rows import Row, part

Grouped = dict[UUID, list[Row]]


def load_pairs(conn: Connection, ids: Iterable[UUID], *, lock: bool) -> list[Pair]:
    """Load pairs whole, in the order of their ids. `lock` holds their enrolment and mother rows until the
    transaction ends (on SQLite the write door has locked the database already). Those that were erased
    are not there any more."""
    wanted = sorted(set(ids))
    if not wanted:
        return []
    heads = _heads(conn, wanted, lock)
    sites = load_sites(conn, {head["site"] for head, _ in heads})
    parts = _Parts(conn, [head["id"] for head, _ in heads])
    return [_pair(head, mother, sites[head["site"]], parts) for head, mother in heads]


def wake_due(conn: Connection, now: datetime, limit: int) -> list[UUID]:
    """Lock and give the enrolments whose time has come, longest overdue first; rows that another worker holds
    are left to it."""
    due = (
        select(t.enrolment.c.id)
        .where(t.enrolment.c.state != t.fixed(EnrolmentState.closed), t.enrolment.c.wake_at <= now)
        .order_by(t.enrolment.c.wake_at)
        .limit(limit)
        .with_for_update(skip_locked=True)
    )
    return list(conn.scalars(due))


def load_sites(conn: Connection, ids: Iterable[UUID]) -> dict[UUID, Site]:
    """Load sites by id, in two statements."""
    wanted = list(ids)
    days: dict[UUID, list[date]] = defaultdict(list)
    for site, day in conn.execute(select(t.closed_day).where(t.closed_day.c.site.in_(wanted))):
        days[site].append(day)
    found = _opened(conn, t.site, select(t.site).where(t.site.c.id.in_(wanted)))
    return {row["id"]: rows.site_of(row, days[row["id"]]) for row in found}


def _heads(conn: Connection, ids: Sequence[UUID], lock: bool) -> list[tuple[Row, Row]]:
    """The rows of enrolment and mother, in one statement."""
    query = (
        select(t.enrolment, *(column.label(f"mother_{column.name}") for column in t.mother.c))
        .join(t.mother, t.mother.c.id == t.enrolment.c.mother)
        .where(t.enrolment.c.id.in_(ids), t.enrolment.c.erased_at.is_(None))
        .order_by(t.enrolment.c.id)
    )
    if lock:
        query = query.with_for_update()
    sealer = sealer_of(conn)
    heads = []
    for found in conn.execute(query).mappings():
        mother = {column.name: found[f"mother_{column.name}"] for column in t.mother.c}
        head = {column.name: found[column.name] for column in t.enrolment.c}
        heads.append((rows.opened(sealer, t.enrolment, head), rows.opened(sealer, t.mother, mother)))
    return heads


def _opened(conn: Connection, table: Table, query: Select[Any]) -> list[Row]:
    sealer = sealer_of(conn)
    return [rows.opened(sealer, table, row._asdict()) for row in conn.execute(query)]


class _Parts:
    """Everything that hangs on some enrolments, by its owner: one statement a table."""

    def __init__(self, conn: Connection, ids: Sequence[UUID]) -> None:
        def owned(table: Table, order: str = "seq") -> Grouped:
            query = select(table).where(table.c.enrolment.in_(ids)).order_by(table.c[order])
            return _by(_opened(conn, table, query), "enrolment")

        self.babies = owned(t.baby, "ordinal")
        self.assessments = owned(t.assessment)
        self.contacts = owned(t.contact)
        self.check_ins = owned(t.check_in)
        self.questions = _by(
            _opened(conn, t.question, _questions(t.question.c.enrolment.in_(ids))), "check_in"
        )
        self.answers = owned(t.answer)
        self.escalations = owned(t.escalation)
        self.findings = _by(_opened(conn, t.finding, _findings(ids)), "escalation")
        self.episodes = _by(_episodes(conn, ids), "enrolment") if self.escalations else {}
        self.chases = owned(t.chase)
        self.attempts = owned(t.attempt)
        self.reviews = owned(t.review)


def _questions(where: ColumnElement[bool]) -> Select[Any]:
    """Questions with what the network said of the text that carried each last."""
    return (
        select(t.question, t.message.c.sent_at, t.message.c.state.label("delivery"))
        .outerjoin(t.message, t.message.c.id == t.question.c.message)
        .where(where)
        .order_by(t.question.c.seq)
    )


def _episodes(conn: Connection, ids: Sequence[UUID]) -> list[Row]:
    """Episodes with what the network said of the text that told her last."""
    carried = (t.message.c.enrolment == t.episode.c.enrolment) & (
        t.message.c.once_key == t.episode.c.told_key
    )
    query = (
        select(t.episode, t.message.c.state.label("delivery"))
        .outerjoin(t.message, carried)
        .where(t.episode.c.enrolment.in_(ids))
        .order_by(t.episode.c.seq)
    )
    return _opened(conn, t.episode, query)


def _findings(ids: Sequence[UUID]) -> Select[Any]:
    return (
        select(t.finding)
        .join(t.escalation, t.escalation.c.id == t.finding.c.escalation)
        .where(t.escalation.c.enrolment.in_(ids))
        .order_by(t.finding.c.seq)
    )


def _by(found: Iterable[Row], owner: str) -> Grouped:
    grouped: Grouped = defaultdict(list)
    for row in found:
        grouped[row[owner]].append(row)
    return grouped


def _pair(head: Row, mother: Row, site: Site, parts: _Parts) -> Pair:
    me = head["id"]
    check_ins = tuple(
        part(CheckIn, row, questions=tuple(part(Question, each) for each in parts.questions[row["id"]]))
        for row in parts.check_ins[me]
    )
    escalations = tuple(
        part(Escalation, row, findings=tuple(part(Finding, each) for each in parts.findings[row["id"]]))
        for row in parts.escalations[me]
    )
    return part(
        Pair,
        head,
        site=site,
        mother=part(Mother, mother),
        babies=tuple(part(Baby, row) for row in parts.babies[me]),
        consent=rows.consent_of(head),
        assessments=tuple(part(Assessment, row) for row in parts.assessments[me]),
        contacts=tuple(part(Contact, row, key=row["contact_key"]) for row in parts.contacts[me]),
        check_ins=check_ins,
        answers=tuple(part(Answer, row) for row in parts.answers[me]),
        escalations=escalations,
        episodes=tuple(part(Episode, row) for row in parts.episodes.get(me, ())),
        chases=tuple(part(Chase, row) for row in parts.chases[me]),
        attempts=tuple(part(Attempt, row) for row in parts.attempts[me]),
        reviews=tuple(part(Review, row) for row in parts.reviews[me]),
        extra=rows.from_json(head["extra"]),
    )
