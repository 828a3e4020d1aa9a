"""The pulse of the service: stretches of machine time in which each part was seen in one state.

A part that is seen again in the same state within a few minutes makes its stretch longer; so a quiet year is
a few rows, and a gap between two stretches of the worker is a time in which nobody was at work.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from sqlalchemy import Connection, func, insert, select, update

from bot.store.tables import pulse

WORKER = "worker"
GAP = timedelta(minutes=5)  # between two beats; longer means that it was not at work


@dataclass(frozen=True, slots=True)
class Stretch:
    part: str
    since: datetime
    until: datetime
    state: str


def beat(conn: Connection, part: str, state: str, now: datetime) -> None:
    """Note that a part was seen in a state at `now`, machine time."""
    last = _last(conn, part)
    if last is not None and last.state == state and now - last.until <= GAP:
        here = pulse.c.part == part, pulse.c.since == last.since
        conn.execute(update(pulse).where(*here, pulse.c.until < now).values(until=now))
    elif last is None or last.since < now:
        conn.execute(insert(pulse).values(part=part, since=now, until=now, state=state))


def standing(conn: Connection) -> list[Stretch]:
    """Give the newest stretch of each part."""
    newest = select(pulse.c.part, func.max(pulse.c.since).label("since")).group_by(pulse.c.part).subquery()
    found = conn.execute(
        select(pulse)
        .join(newest, (newest.c.part == pulse.c.part) & (newest.c.since == pulse.c.since))
        .order_by(pulse.c.part)
    )
    return [Stretch(*row) for row in found]


def between(conn: Connection, first: datetime, last: datetime) -> list[Stretch]:
    """Give the stretches that touch a time, by part and time."""
    found = conn.execute(
        select(pulse)
        .where(pulse.c.since <= last, pulse.c.until >= first)
        .order_by(pulse.c.part, pulse.c.since)
    )
    return [Stretch(*row) for row in found]


def outages(
    conn: Connection, since: datetime, longer_than: timedelta
) -> tuple[tuple[datetime, datetime], ...]:
    """Give the gaps of the worker since then, that lasted longer than that."""
    found = conn.execute(
        select(pulse.c.since, pulse.c.until)
        .where(pulse.c.part == WORKER, pulse.c.until >= since)
        .order_by(pulse.c.since)
    ).all()
    return tuple(
        (before.until, after.since)
        for before, after in pairwise(found)
        if after.since - before.until > longer_than
    )


def _last(conn: Connection, part: str) -> Stretch | None:
    query = select(pulse).where(pulse.c.part == part).order_by(pulse.c.since.desc()).limit(1)
    row = conn.execute(query).one_or_none()
    return Stretch(*row) if row else None
